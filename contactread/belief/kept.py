"""Sums kept between runs: a mechanic reads the same axle on every try, and its gear sets stay the same.

Rows of numbers lie in the user's cache folder (platformdirs), or where the variable CONTACTREAD_CACHE says,
each file by the digest of all that determines it. None is ever needed: what is missing, altered, cut, not the
user's own or can't be written is computed, without a word.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

import numpy as np

from contactread.arrays import Floats
from contactread.outside import Unfit, read_bytes

VARIABLE = "CONTACTREAD_CACHE"
MOST_FILES = 64  # of about 12 kB; the oldest make room
_MOST_BYTES = 100_000
_ENDING = ".sums"
_NUMBERS = np.dtype("<f8")


def key_of(facts: str, sources: Sequence[Path]) -> str | None:
    """The digest of these facts and of the code that computes with them; None where it can't be read."""
    digest = hashlib.sha256(f"{facts} numpy {np.__version__}".encode())
    try:
        for source in sources:
            digest.update(hashlib.sha256(source.read_bytes()).digest())
    except OSError:
        return None
    return digest.hexdigest()


def kept_rows(key: str, columns: int) -> Floats | None:
    """The rows (n, columns) kept under this key; None where there are none that are whole and the user's."""
    try:
        folder = _place()
        if not _ours(folder):
            return None
        data = read_bytes(folder / (key + _ENDING), _MOST_BYTES)
    except (OSError, RuntimeError, Unfit):
        return None
    digest, numbers = data[:32], data[32:]
    if digest != _digest(key, numbers) or len(numbers) % (columns * _NUMBERS.itemsize):
        return None
    return np.frombuffer(numbers, _NUMBERS).reshape(-1, columns).astype(float)


def keep_rows(key: str, rows: Floats) -> None:
    """Keep rows (n, columns) under this key, whole or not at all."""
    numbers = rows.astype(_NUMBERS).tobytes()
    if len(numbers) + 32 > _MOST_BYTES:
        return
    import tempfile

    with suppress(OSError, RuntimeError):
        folder = _place()
        _make(folder)
        if not _ours(folder):
            return
        handle, unfinished = tempfile.mkstemp(_ENDING, "unfinished-", folder)  # readable by the user alone
        try:
            with open(handle, "wb") as file:  # noqa: PTH123 (a handle, not a path)
                file.write(_digest(key, numbers) + numbers)
            Path(unfinished).replace(folder / (key + _ENDING))
        except BaseException:
            Path(unfinished).unlink(missing_ok=True)
            raise
        # What a killed run left unfinished grows old here, too.
        files = sorted(folder.glob("*" + _ENDING), key=lambda file: file.stat().st_mtime)
        for oldest in files[:-MOST_FILES]:
            oldest.unlink(missing_ok=True)


def _place() -> Path:
    """Where the sums lie, or would lie. Raises OSError, RuntimeError where the user has no home."""
    named = os.environ.get(VARIABLE)
    if named:
        place = Path(named).expanduser()
    else:
        import platformdirs

        place = Path(platformdirs.user_cache_dir("contactread", appauthor=False))
    if not place.is_absolute():
        raise OSError(f"{place} isn't a whole path")
    return place


def _make(folder: Path) -> None:
    """Make the folder where it isn't there; an administrator makes none in another's home."""
    if folder.is_dir():
        return
    above = next(each for each in folder.parents if each.is_dir())
    if not hasattr(os, "geteuid") or above.stat().st_uid == os.geteuid() or os.geteuid() != 0:
        folder.mkdir(0o700, parents=True, exist_ok=True)


def _ours(folder: Path) -> bool:
    """Whether only the user writes into this folder."""
    if not hasattr(os, "geteuid"):
        return folder.is_dir()
    about = folder.stat()
    return about.st_uid == os.geteuid() and not about.st_mode & 0o022


def _digest(key: str, numbers: bytes) -> bytes:
    return hashlib.sha256(key.encode() + numbers).digest()
