"""Reading one photo for the book, in this process or a worker."""

from __future__ import annotations

from typing import Any

from contactread.errors import PhotoError
from contactread.records.review import ReadTask


def read_photo(task: ReadTask) -> dict[str, Any]:
    """One photo of ``read --json`` with what was measured; a refusal where the photo can't be read.

    Raises what isn't the photo's fault, such as `CornersError` or `MissingExtraError`: with that put right
    it may be read.
    """
    from contactread.axle_file import parse_axle
    from contactread.photo.load import load_photo
    from contactread.reading import read
    from contactread.records.measured import with_measured

    axle = None if task.axle_text is None else parse_axle(task.axle_text, kept=True)
    try:
        photo = load_photo(task.path if task.data is None else task.data, reduce=True)
        found = with_measured(read(photo, corners=task.corners, flank=task.flank, axle=axle))
    except PhotoError as error:
        found = error.refused_photo(task.path.name)
    return found | {"path": task.path.name}  # The folder says nothing about the photo, and may say too much.
