"""What `contactread read` does with each photo and with all of them together."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from contactread.axle import Axle, FlankName
from contactread.cli.output import say
from contactread.cli.pictures import Pictures
from contactread.errors import ContactreadError, CornersError, MissingExtraError, PhotoError, QuantityError
from contactread.photo.intake import check_photo_bytes, read_photo_bytes
from contactread.show.refusal import refusal_text
from contactread.units import parse_length

if TYPE_CHECKING:
    from contactread.advice.answer import Advice
    from contactread.reading import Reading

Corners = Path | Mapping[str, Any]
BOTH_SIDES = "Advice needs both sides: give one photo of the drive side and one of the coast side."


@dataclass(frozen=True)
class Result:
    """One photo: its reading or the error that refused it, and where its marked-up picture is."""

    path: Path
    reading: Reading | None
    refusal: ContactreadError | None
    picture: Path | None

    def to_json(self) -> dict[str, Any]:
        """One entry of "photos" in the JSON contract."""
        if self.reading is not None:
            entry = self.reading.to_json()
        else:
            assert self.refusal is not None
            entry = {
                "path": str(self.path), "status": "refused", "refusal": self.refusal.to_json(),
                "flank": None, "side": None, "confidence": None, "flags": [], "teeth": [], "pattern": None,
            }  # fmt: skip
        return entry | {"marked": None if self.picture is None else str(self.picture)}

    def show(self, axle: Axle | None) -> None:
        """Print this photo's part of the terminal output."""
        if self.reading is not None:
            from contactread.show.terminal import console, print_reading

            print_reading(console(), str(self.path), self.reading, axle, self.picture)
        else:
            assert self.refusal is not None
            print(refusal_text(str(self.path), self.refusal))


def read_one(
    path: Path, corners: Corners | None, flank: FlankName | None, axle: Axle | None, pictures: Pictures | None
) -> Result:
    """Read one photo and write its marked-up picture; a refusal is a result, not an error."""
    try:
        data = read_photo_bytes(path)
        header = check_photo_bytes(data)
        # Only now what is slow to import: a bad file is refused without it.
        import contactread.reading as reader
        from contactread.photo.load import decode_photo

        photo = decode_photo(data, header, path, reduce=True)
        reading = reader.read(photo, corners=corners, flank=flank, axle=axle)
    except (PhotoError, CornersError, MissingExtraError) as refusal:
        return Result(path, None, refusal, None)
    picture = None
    if pictures is not None:
        from contactread.show.overlay import encode, mark_up

        try:
            picture = pictures.write(f"{path.stem}-marked", encode(mark_up(photo, reading)))
        except OSError as error:  # the reading counts more than its picture
            say(f"The marked-up picture of {path} could not be written: {error.strerror}.")
    return Result(path, reading, None, picture)


def advice_for(
    readings: Sequence[Reading], axle: Axle | None, backlash_mm: tuple[float, ...]
) -> tuple[Advice | None, str | None]:
    """The advice on the surest photo of each side, or the reason why there is none."""
    sides: dict[Literal["drive", "coast"], Reading] = {}
    for reading in sorted(readings, key=lambda each: each.confidence):
        sides[reading.side.role] = reading
    if len(sides) == 2:
        from contactread.advice.advise import advise
        from contactread.reading import pair

        return advise(pair(sides["drive"], sides["coast"], backlash_mm), axle), None
    if len(readings) > 1:
        role = readings[0].side.role
        return None, f"All photos show the {role} side. {BOTH_SIDES}"
    return None, BOTH_SIDES


def parse_backlash(text: str) -> float:
    """A measured backlash in mm. Raises QuantityError, backlash-negative below zero."""
    backlash = parse_length(text)
    if backlash < 0:
        raise QuantityError(
            "backlash-negative", f"The backlash {text!r} is below zero.", "Give it as the dial's travel."
        )
    return backlash


def corners_for(photos: Sequence[Path], files: Sequence[Path]) -> dict[Path, Corners]:
    """Which photo has which marked corners.

    files: one for each photo in turn, or a single one of the form {"photos": {"name.jpg": {"teeth": ..}}}.
    Raises CornersError: corners-count, corners-unknown-photo; a file's own faults come up when it is used.
    """
    if not files:
        return {}
    named = _named_corners(files[0]) if len(files) == 1 else None
    if named is not None:
        if not named.keys() & {path.name for path in photos}:
            raise CornersError(
                "corners-unknown-photo",
                f"'{files[0]}' has corners for other photos than the ones given.",
                "Write the photos' file names into it, without their folders.",
            )
        return {path: named[path.name] for path in photos if path.name in named}
    if len(files) != len(photos):
        raise CornersError(
            "corners-count",
            f"There are {len(photos)} photos and {len(files)} corners files.",
            "Give --corners once for each photo, in the same order.",
        )
    return dict(zip(photos, files, strict=True))


def flanks_for(photos: Sequence[Path], names: Sequence[str]) -> list[FlankName | None]:
    """The flank that each photo is said to show; None where it is to be told from the picture.

    names: one for all photos, or one for each in turn: "convex", "concave", "auto".
    Raises ContactreadError (flank-count).
    """
    if len(names) not in (0, 1, len(photos)):
        raise ContactreadError(
            "flank-count",
            f"There are {len(photos)} photos, and --flank was given {len(names)} times.",
            "Give it once for all photos, or once for each, in the same order.",
        )
    said: dict[str, FlankName | None] = {"convex": "convex", "concave": "concave", "auto": None}
    each = names if len(names) == len(photos) else [names[0] if names else "auto"] * len(photos)
    return [said[name] for name in each]


def _named_corners(file: Path) -> dict[str, Mapping[str, Any]] | None:
    """The entries of a corners file that names its photos; None where it doesn't."""
    try:
        content = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None  # whoever reads it for its photo says what is wrong
    named = content.get("photos") if isinstance(content, dict) else None
    return named if isinstance(named, dict) else None
