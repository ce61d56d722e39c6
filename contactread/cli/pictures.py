"""Where marked-up pictures go: into a folder of their own, never over anything that exists."""

from __future__ import annotations

from collections.abc import Callable
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
        self._made = False

    def write(self, stem: str, jpeg: bytes) -> Path:
        """Write a picture under this name, or under the name with the first free number."""
        folder = self._make()
        number = 1
        while True:
            path = folder / (f"{stem}.jpg" if number == 1 else f"{stem}-{number}.jpg")
            try:
                put_whole(path, jpeg)
            except FileExistsError:
                number += 1
            else:
                return path

    def _make(self) -> Path:
        if self._folder is not None:
            if not self._made:
                self._folder.mkdir(parents=True, exist_ok=True)
                self._made = True
            return self._folder
        number = 1
        while True:
            folder = Path(f"contactread-marked-{number}")
            try:
                folder.mkdir()
            except FileExistsError:
                number += 1
            else:
                self._folder, self._made = folder, True
                return folder


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
