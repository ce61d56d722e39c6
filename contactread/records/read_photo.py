"""Reading one photo for the book, in this process or a worker."""

from __future__ import annotations

from typing import Any

from contactread.axle_file import parse_axle
from contactread.errors import ContactreadError
from contactread.records.measured import with_measured
from contactread.records.review import ReadTask, refused


def read_photo(task: ReadTask) -> dict[str, Any]:
    """One photo of ``read --json`` with what was measured; a refusal where it can't be read."""
    import contactread.reading as reader

    try:
        axle = None if task.axle_text is None else parse_axle(task.axle_text)
        source = task.path if task.data is None else task.data
        found = with_measured(reader.read(source, corners=task.corners, flank=task.flank, axle=axle))
    except ContactreadError as error:
        found = refused(task.path, error)
    return found | {"path": task.path.name}  # The folder says nothing about the photo, and may say too much.
