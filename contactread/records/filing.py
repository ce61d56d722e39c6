"""Which photo of a folder belongs to which job and try: by a manifest, or by the folder's own names.

By folder: ``FOLDER/<job>/<try>/photo.jpg``. <job> is a job's number ("12", "job 12"), or any other words:
those name the vehicle or unit of a job that is opened for them. <try> is a number ("2", "try 2"); without
such folders `rounds` parts the tries by time and side. An axle file in <job> is the job's.
By manifest: a CSV file with the columns ``photo`` and ``job``, ``try``, and where wanted ``flank``
(convex or concave), ``who``, ``when``, ``pinion_shim``, ``ring_side_shim``, ``opposite_side_shim``,
``backlash`` (places parted by spaces or semicolons; lengths with their unit), ``axle`` (its axle file).
Photos with neither stay unfiled.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from io import StringIO
from pathlib import Path
from typing import get_args

from contactread.axle import FlankName
from contactread.errors import BookError
from contactread.outside import Unfit, read_text
from contactread.plausible import Measured, parse_measured, parse_places
from contactread.records.photo_store import SUFFIXES

COLUMNS = (
    "photo", "job", "try", "flank", "who", "when", "pinion_shim", "ring_side_shim", "opposite_side_shim",
    "backlash", "axle",
)  # fmt: skip
_LENGTHS: dict[str, Measured] = {
    "opposite_side_shim": "side_shim", "pinion_shim": "pinion_shim", "ring_side_shim": "side_shim",
}  # fmt: skip
_LARGEST = 5_000_000


@dataclass(frozen=True)
class Filed:
    """One photo to review. job: a number of the book, words for a new job, or None. attempt: the try's
    number. build: shims in mm for a try that is started. backlash_mm: to record on it. axle: axle file of a
    job that is opened for it."""

    path: Path
    job: int | str | None = None
    attempt: int | None = None
    flank: FlankName | None = None
    who: str | None = None
    when: str | None = None
    build: dict[str, float] = field(default_factory=dict)
    backlash_mm: tuple[float, ...] = ()
    axle: Path | None = None

    @property
    def corners(self) -> Path | None:
        """Flanks marked by hand: ``drive_corners.json`` beside ``drive.jpg``, where there is such a file."""
        marks = self.path.with_name(f"{self.path.stem}_corners.json")
        return marks if marks.is_file() else None


def photos_under(folder: Path, leave_out: Path | None = None) -> list[Path]:
    """Every file with a picture's ending in a folder and those inside it, in order. Hidden ones are left
    out, and the folder `leave_out` (the book's own photos, where the book lies inside).

    Raises `BookError` review-folder for a missing or empty folder.
    """
    found = []
    if folder.is_dir():
        for path in folder.rglob("*"):
            hidden = any(part.startswith(".") for part in path.relative_to(folder).parts)
            if hidden or (leave_out is not None and path.is_relative_to(leave_out)):
                continue
            if path.suffix.lower() in SUFFIXES and path.is_file():
                found.append(path)
    if not found:
        raise BookError(
            "review-folder",
            f"There are no photos in {folder}." if folder.is_dir() else f"There is no folder {folder}.",
            "Give the folder that holds the photos (JPEG, PNG, WebP, TIFF or HEIC).",
        )
    return sorted(found)


def by_folder(folder: Path, leave_out: Path | None = None) -> list[Filed]:
    """The photos of a folder, filed by the folders they lie in. Arguments as `photos_under`."""
    filed = []
    for path in photos_under(folder, leave_out):
        parts = path.relative_to(folder).parts[:-1]
        job = _job(parts[0]) if parts else None
        attempt = next((n for n in map(_attempt, parts[1:]) if n is not None), None)
        axle = _axle_beside(folder / parts[0]) if parts else None
        filed.append(Filed(path, job, attempt, axle=axle))
    # Beside folders of tries, what lies directly in the job's folder is its first try; else `rounds` says.
    told = {item.job for item in filed if item.attempt is not None}
    return [replace(f, attempt=1) if f.job in told and f.attempt is None else f for f in filed]


def _axle_beside(folder: Path) -> Path | None:
    """The one axle file in a job's folder, or its axle.toml where there are several."""
    named = folder / "axle.toml"
    found = [named] if named.is_file() else sorted(folder.glob("*.toml"))
    return found[0] if len(found) == 1 else None


def by_manifest(folder: Path, manifest: Path) -> list[Filed]:
    """The photos that a manifest names, in its order. Names are relative to the folder.

    Raises `BookError` manifest-unreadable, manifest-column, manifest-value; each names the line.
    """
    return [_filed(folder, number, row) for number, row in _rows(manifest)]


def _rows(manifest: Path) -> Iterator[tuple[int, dict[str, str]]]:
    try:
        text = read_text(manifest, _LARGEST)
    except Unfit as error:
        raise BookError(
            "manifest-unreadable",
            f"The manifest {manifest} can't be used: {error}.",
            "Save it as CSV in UTF-8.",
        ) from error
    try:
        reader = csv.DictReader(StringIO(text, newline=""), strict=True)
        columns = [name.strip().lower() for name in reader.fieldnames or ()]
        strange = [name for name in columns if name not in COLUMNS]
        if strange or "photo" not in columns or len(set(columns)) < len(columns):
            what = f"has the unknown column '{strange[0][:40]}'" if strange else "lacks the column 'photo'"
            raise BookError(
                "manifest-column",
                f"The manifest {manifest} {what}.",
                f"Its columns are: {', '.join(COLUMNS)}.",
            )
        reader.fieldnames = columns
        for row in reader:
            if None in row:
                raise _wrong(reader.line_num, "more values than columns", "Quote values that hold a comma.")
            yield reader.line_num, {key: (value or "").strip() for key, value in row.items()}
    except csv.Error as error:
        raise BookError(
            "manifest-unreadable",
            f"The manifest {manifest} isn't sound CSV: {error}.",
            "Save it again as CSV.",
        ) from error


def _filed(folder: Path, number: int, row: dict[str, str]) -> Filed:
    path = _inside(folder, number, "photo", row["photo"])
    flank, job, attempt = row.get("flank", ""), row.get("job", ""), row.get("try", "")
    if flank and flank not in get_args(FlankName):
        raise _wrong(number, f"flank '{flank[:20]}'", "Write convex or concave, or leave it empty.")
    if attempt and _attempt(attempt) is None:
        raise _wrong(number, f"try '{attempt[:20]}' is not a number", "Count the tries 1, 2, 3, ...")
    if attempt and not job:
        raise _wrong(number, "a try without its job", "Give the job too, or leave the try empty.")
    if job and not attempt:
        raise _wrong(number, "a job without its try", "Give the try too.")
    return Filed(
        path,
        _job(job) if job else None,
        _attempt(attempt) if attempt else None,
        flank=flank or None,  # type: ignore[arg-type]
        who=row.get("who") or None,
        when=row.get("when") or None,
        build={
            f"{name}_mm": parse_measured(kind, row[name]) for name, kind in _LENGTHS.items() if row.get(name)
        },
        backlash_mm=parse_places(row.get("backlash", "")),
        axle=_inside(folder, number, "axle file", row["axle"]) if row.get("axle") else None,
    )


def _inside(folder: Path, number: int, what: str, name: str) -> Path:
    """The file that a line names. One elsewhere, also by way of a link, is refused."""
    path = folder / name
    try:
        inside = bool(name) and path.resolve().is_relative_to(folder.resolve())
        there = inside and path.is_file()
    except (OSError, ValueError, RuntimeError):  # far too long, a null character, links in a circle
        inside, there = True, False
    if not inside:
        raise _wrong(number, f"{what} '{name[:60]}' is not inside the folder", "Give names inside it.")
    if not there:
        raise _wrong(number, f"there is no {what} '{name[:60]}'", "Check the name.")
    return path


def _job(name: str) -> int | str:
    numbered = re.fullmatch(r"(?:job[ _-]*)?0*(\d{1,9})", name.strip(), re.IGNORECASE)
    return int(numbered[1]) if numbered else name.strip()


def _attempt(name: str) -> int | None:
    numbered = re.fullmatch(r"(?:try[ _-]*)?0*(\d{1,4})", name.strip(), re.IGNORECASE)
    return int(numbered[1]) if numbered and int(numbered[1]) > 0 else None


def _wrong(number: int, what: str, next_step: str) -> BookError:
    return BookError("manifest-value", f"Line {number} of the manifest: {what}. Nothing was read.", next_step)
