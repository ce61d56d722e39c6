"""README's pictures and its printed answer, made from a reading of now.

    .venv/bin/python -m calibration.readme_picture [--check]

Writes `answer.jpg` and `photos.svg` into `shared/handbook/`, and the answer's box into README.md. The answer
stands in the first's comment, so that `--check` (and a test) can say whether all of it still holds.
"""

from __future__ import annotations

import argparse
import io
import json
import re
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from textwrap import wrap

from PIL import Image, ImageDraw, ImageFont, ImageOps

from contactread.handbook.pictures import pictures
from contactread.show.answer_box import Screen, box

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
PICTURE = ROOT / "shared" / "handbook" / "answer.jpg"
PHOTOS = PICTURE.with_name("photos.svg")
SET_UP = ROOT / "sample_images" / "ash_too_shallow"
FONTS = ROOT / "contactread" / "show" / "fonts"
PAPER, INK, QUIET, LINE = "#fcfbf8", "#1c2430", "#5a6472", "#e8a33d"
_WIDTH, _HEIGHT, _PHOTO, _MARGIN = 1200, 640, 590, 34


def answer_and_photo(folder: Path) -> tuple[list[str], Image.Image]:
    """The answer on the sample, line by line, and its drive photo marked up, cut to the painted teeth."""
    command: list[str | Path] = [
        sys.executable,
        "-m",
        "contactread.cli.main",
        "read",
        SET_UP / "drive.jpg",
        SET_UP / "coast.jpg",
    ]
    command += ["--axle", SET_UP / "axle.toml", "--backlash", "0.18 mm", "--marked", folder, "--json"]
    shown = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    drive = shown["photos"][0]
    corners = [at for tooth in drive["teeth"] if tooth["painted"] for at in tooth["corners_px"].values()]
    (x0, y0), (x1, y1) = (tuple(pick(axis) for axis in zip(*corners, strict=True)) for pick in (min, max))
    with Image.open(drive["marked"]) as marked:
        photo = marked.convert("RGB").crop((0, 0, *drive["size_px"]))
    side = min(1.36 * max(x1 - x0, y1 - y0), *photo.size)
    left, top = (
        min(max((least + most - side) / 2, 0), size - side)
        for least, most, size in ((x0, x1, photo.size[0]), (y0, y1, photo.size[1]))
    )
    return list(shown["answer"]), photo.crop((round(left), round(top), round(left + side), round(top + side)))


def draw(answer: Sequence[str], photo: Image.Image) -> Image.Image:
    """Photo at the left, answer at the right, as one picture."""
    page = Image.new("RGB", (_WIDTH, _HEIGHT), PAPER)
    page.paste(ImageOps.fit(photo, (_PHOTO, _HEIGHT), Image.Resampling.LANCZOS), (0, 0))
    pen = ImageDraw.Draw(page)
    bold, plain, small = (
        ImageFont.truetype(FONTS / f"sheet-{weight}.ttf", size)
        for weight, size in (("bold", 33), ("regular", 23), ("regular", 17))
    )
    left, top = _PHOTO + _MARGIN, 40
    pen.text((left, top), "Photo in: the drive side, found and marked up", QUIET, font=small)
    pen.text((left, top + 60), "Answer", QUIET, font=small)
    top += 88
    pen.line([(left - 12, top), (left - 12, _HEIGHT - 70)], LINE, 5)
    for number, text in enumerate(answer):
        font, width, step = (bold, 30, 42) if number == 0 else (plain, 46, 31)
        for line in wrap(text, width, break_on_hyphens=False):
            pen.text((left, top), line, INK, font=font)
            top += step
        top += 14
    pen.text(
        (left, _HEIGHT - 44),
        "Rendered sample of an invented axle. Advice only: the manual decides.",
        QUIET,
        font=small,
    )
    return page


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the picture, or with --check compare it; 1 where it shows another answer."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--check", action="store_true", help="only say whether it still holds")
    check = parser.parse_args(arguments).check
    with tempfile.TemporaryDirectory() as folder:
        answer, photo = answer_and_photo(Path(folder) / "marked")
        boxed = with_answer(README.read_text(encoding="utf-8"), answer)
        if check:
            return 0 if shown_answer() == answer and README.read_text(encoding="utf-8") == boxed else 1
        out = io.BytesIO()
        draw(answer, photo).save(out, "JPEG", quality=82, optimize=True, comment="\n".join(answer))
    PICTURE.parent.mkdir(exist_ok=True)
    PICTURE.write_bytes(out.getvalue())
    PHOTOS.write_text(photos_svg(), encoding="utf-8")
    README.write_text(boxed, encoding="utf-8")
    print(f"{PICTURE.relative_to(ROOT)}: {len(out.getvalue()) / 1e3:.0f} kB")
    return 0


def with_answer(text: str, answer: Sequence[str]) -> str:
    """README with the box of this answer in place of the one that it has."""
    return re.sub("╭─ Answer.*?╯", lambda _: "\n".join(box(answer, Screen())), text, flags=re.DOTALL)


def photos_svg() -> str:
    """The drawing of photos as they shouldn't and as they should be."""
    return pictures()["photographs"].drawing().svg(alone=False)


def shown_answer() -> list[str]:
    """The answer that the kept picture shows."""
    with Image.open(PICTURE) as picture:
        comment = picture.info["comment"]
    return str(comment.decode() if isinstance(comment, bytes) else comment).splitlines()


if __name__ == "__main__":
    sys.exit(main())
