"""Where marked-up pictures go: into a folder of their own, never over anything that exists."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from contactread.cli.output import put_whole
from contactread.errors import ContactreadError

if TYPE_CHECKING:
    from contactread.show.drawing import Drawing


class Pictures:
    """A folder for marked-up pictures, made when the first one is written.

    folder: None takes the first free contactread-marked-N in the current folder.
    Raises ContactreadError (marked-not-a-folder).
    """

    def __init__(self, folder: Path | None = None) -> None:
        if folder is not None and folder.exists() and not folder.is_dir():
            raise ContactreadError(
                "marked-not-a-folder", f"'{folder}' is a file, not a folder.", "Name a folder after --marked."
            )
        self._folder = folder

    def write(self, stem: str, jpeg: bytes) -> Path:
        """Write a picture under this name, or under the name with the first free number."""
        if self._folder is None:
            numbered = (Path(f"contactread-marked-{n}") for n in count(1))
            self._folder = _first_free(numbered, lambda folder: folder.mkdir())
        folder = self._folder
        folder.mkdir(parents=True, exist_ok=True)
        names = (folder / (f"{stem}.jpg" if n == 1 else f"{stem}-{n}.jpg") for n in count(1))
        return _first_free(names, lambda path: put_whole(path, jpeg))


def _first_free(paths: Iterator[Path], make: Callable[[Path], None]) -> Path:
    for path in paths:
        with suppress(FileExistsError):
            make(path)
            return path
    raise AssertionError("paths without end")


def drawing_writer(picture: Path) -> Callable[[Drawing], bytes]:
    """How to turn a drawing into the bytes of this kind of file."""
    kind = picture.suffix.lower()
    if kind not in (".svg", ".png"):
        raise ContactreadError(
            "picture-kind",
            f"'{picture.name}' doesn't say what kind of picture is wanted.",
            "Give a name that ends in .svg or .png.",
        )
    if kind == ".png":
        return lambda drawing: drawing.png()
    return lambda drawing: drawing.svg().encode()
