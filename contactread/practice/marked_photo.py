"""A copy of a photograph with the tooth marked that a question asks about."""

from __future__ import annotations

import tempfile
from pathlib import Path

from contactread.errors import PracticeError
from contactread.practice.question import PhotoPicture
from contactread.show.text import printable

LONGEST_SIDE = 1600


def marked_photo(picture: PhotoPicture, question_id: str, folder: Path | None = None) -> Path:
    """Where the marked copy lies: in `folder`, or in a folder of the system's own for what may go again.

    Raises PracticeError photo-missing.
    """
    from PIL import Image, ImageDraw, ImageOps, UnidentifiedImageError

    try:
        with Image.open(picture.path) as opened:
            image = ImageOps.exif_transpose(opened).convert("RGB")
    except (OSError, UnidentifiedImageError) as error:
        raise PracticeError(
            "photo-missing",
            f"The photograph {printable(picture.path)} can't be read: {error}.",
            "Put it back, or choose other questions.",
        ) from error
    scale = min(1.0, LONGEST_SIDE / max(image.size))
    image = image.resize((round(image.width * scale), round(image.height * scale)))
    points = [(x * scale, y * scale) for x, y in picture.outline_px]
    pen, thick = ImageDraw.Draw(image), max(2, round(max(image.size) / 300))
    for ink, width in (("#000000", 3 * thick), ("#ffffff", thick)):
        pen.line([*points, points[0]], fill=ink, width=width, joint="curve")
    top = min(points, key=lambda p: p[1])
    tip = (top[0], top[1] - 2 * thick)
    arrow = [tip, (tip[0] - 5 * thick, tip[1] - 12 * thick), (tip[0] + 5 * thick, tip[1] - 12 * thick)]
    pen.polygon(arrow, fill="#ffffff", outline="#000000", width=thick)
    place = folder or Path(tempfile.gettempdir()) / "contactread-practice"
    place.mkdir(parents=True, exist_ok=True)
    file = place / f"{question_id}.jpg"
    image.save(file, "JPEG", quality=90)
    return file
