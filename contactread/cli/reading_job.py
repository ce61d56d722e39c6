"""What `contactread read` does with each photo and with all of them together."""

from __future__ import annotations

import gc
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from contactread.axle import ROLES, Axle, FlankName, Role
from contactread.cli.output import say
from contactread.cli.pictures import Pictures
from contactread.errors import ContactreadError, CornersError, MissingExtraError, PhotoError
from contactread.outside import Unfit, read_json
from contactread.photo.intake import check_photo_bytes, is_clip, read_photo_bytes

if TYPE_CHECKING:
    from contactread.advice.answer import Advice
    from contactread.patch import Point
    from contactread.photo.photo import Photo
    from contactread.reading import Reading
    from contactread.views import Views

Corners = Path | Mapping[str, Any]
MOST_AHEAD = 3  # photos being read, or read and not yet asked for


@dataclass(frozen=True)
class Result:
    """One photo: its reading or the error that refused it, and where its marked-up picture is. photo: its
    pixels, where they are kept for marking up.
    """

    path: Path
    reading: Reading | None
    refusal: ContactreadError | None
    picture: Path | None = None
    photo: Photo | None = None

    def to_json(self) -> dict[str, Any]:
        """One entry of "photos" in the JSON contract."""
        if self.reading is not None:
            entry = self.reading.to_json()
        else:
            assert self.refusal is not None
            entry = self.refusal.refused_photo(str(self.path))
        return entry | {"marked": None if self.picture is None else str(self.picture)}


def read_one(path: Path, corners: Corners | None, flank: FlankName | None, axle: Axle | None) -> Result:
    """Read one photo; a refusal is a result, not an error."""
    try:
        data = read_photo_bytes(path)
        header = check_photo_bytes(data)
        # Only now what is slow to import, a bad file is refused without it; decoding lets others import.
        from contactread.photo.load import decode_photo

        photo = decode_photo(data, header, path, reduce=True)
        import contactread.reading as reader

        reading = reader.read(photo, corners=corners, flank=flank, axle=axle)
    except (PhotoError, CornersError, MissingExtraError) as refusal:
        return Result(path, None, refusal)
    return Result(path, reading, None, photo=photo)


def marked_up(result: Result, pictures: Pictures, axle: Axle | None, after: Point | None = None) -> Result:
    """The result with its marked-up picture written and its pixels let go. after: where the centre is
    expected once the advised move is made.
    """
    if result.reading is None or result.photo is None:
        return result
    from contactread.belief.targets import target_for
    from contactread.show.overlay import encode, mark_up

    zone = target_for(axle).zone(result.reading.side.role)
    picture = None
    try:
        marked = encode(mark_up(result.photo, result.reading, zone, after))
        picture = pictures.write(f"{result.path.stem}-marked", marked)
    except OSError as error:  # the reading counts more than its picture
        say(f"The marked-up picture of {result.path} could not be written: {error.strerror}.")
    return replace(result, picture=picture, photo=None)


def read_each(
    path: Path, corners: Corners | None, flank: FlankName | None, axle: Axle | None
) -> list[Result]:
    """The reading of a photo, or those of the sharp frames of a clip that could be read."""
    if not is_clip(path):
        return [read_one(path, corners, flank, axle)]
    import contactread.reading as reader
    from contactread.photo.clip import sharp_frames

    read: list[Result] = []
    refused: ContactreadError | None = None
    try:
        for frame in sharp_frames(path):
            try:
                photo = frame.at_reading_size()
                reading = reader.read(photo, corners=corners, flank=flank, axle=axle)
                read.append(Result(path, reading, None, photo=photo))
            except (PhotoError, CornersError) as refusal:
                refused = refused or refusal
    except PhotoError as refusal:
        refused = refusal
    return read or [Result(path, None, refused)]


def read_all(
    paths: Sequence[Path],
    by_hand: Mapping[Path, Corners],
    flanks: Sequence[FlankName | None],
    axle: Axle | None,
    meanwhile: Callable[[], None] | None = None,
) -> Iterator[list[Result]]:
    """The readings of each photo, in order; two are read side by side. meanwhile: other work to be done."""
    readers = ThreadPoolExecutor(2)
    ahead: deque[Future[list[Result]]] = deque()  # few, for each holds its photo's pixels
    to_read = iter(zip(paths, flanks, strict=True))

    def submit(count: int) -> None:
        for path, flank in islice(to_read, count):
            ahead.append(readers.submit(read_each, path, by_hand.get(path), flank, axle))

    try:
        submit(MOST_AHEAD)
        if meanwhile is not None:
            meanwhile()
        for number, path in enumerate(paths, 1):
            if len(paths) > 2:
                say(f"Reading {number} of {len(paths)}: {path}")
                gc.enable()  # no short process (cli/main.py)
            read = ahead.popleft().result()
            submit(1)
            yield read
    finally:  # after Ctrl-C the process ends without waiting for them (cli/main.py)
        readers.shutdown(wait=False, cancel_futures=True)


@dataclass(frozen=True)
class Sides:
    """What all photos say of each side together. results: the photos, those that disagree with others of
    their side flagged so. of: the joined reading of each side, in the surest photo's place.
    """

    results: tuple[Result, ...]
    of: Mapping[Role, Result]
    views: Mapping[Role, Views]
    named: tuple[tuple[int, Reading], ...]

    def to_json(self) -> dict[str, Any]:
        """The joined patterns by side, and which photos they come from."""
        return {
            role: {
                "flank": views.reading.side.flank,
                "confidence": round(views.reading.confidence, 3),
                "pattern": views.reading.side.to_json(),
                "photos": [str(self.results[self.named[k][0]].path) for k in views.used],
                "set_aside": [str(self.results[self.named[k][0]].path) for k in views.aside],
            }
            for role, views in self.views.items()
        }


def sides_of(results: Sequence[Result]) -> Sides:
    """The readings of each side joined; a photo that shows both sides counts for both."""
    named = [
        (k, reading)
        for k, result in enumerate(results)
        if result.reading is not None
        for reading in (result.reading, result.reading.other)
        if reading is not None
    ]
    if not named:
        return Sides(tuple(results), {}, {}, ())
    from contactread.views import ASIDE, COPY, join

    views = join([reading for _, reading in named])
    told = [*results]
    for view in views.values():
        for code, marked in ((ASIDE, view.aside), (COPY, view.copies)):
            for k, reading in (named[at] for at in marked):
                if reading is told[k].reading:
                    told[k] = replace(told[k], reading=replace(reading, flags=(*reading.flags, code)))
    of = {role: replace(told[named[view.surest][0]], reading=view.reading) for role, view in views.items()}
    return Sides(tuple(told), of, views, tuple(named))


def advice_for(sides: Sides, axle: Axle | None, backlash_mm: tuple[float, ...]) -> Advice | None:
    """The advice on both sides; None where one is missing or not sure enough to move a shim by."""
    if why_none(sides) is not None:
        return None
    from contactread.advice.advise import advise
    from contactread.reading import pair

    drive, coast = (sides.views[role].reading for role in ROLES)
    return advise(pair(drive, coast, backlash_mm), axle)


def why_none(sides: Sides) -> tuple[str, tuple[str, ...]] | None:
    """Why there is no answer where photos are missing for it, or say too little: a stable code, and what to
    do, a headline and what goes with it. None where there is one.
    """
    results = sides.results
    refused = [f"{r.path.name}: {r.refusal.message} {r.refusal.next_step}" for r in results if r.refusal]
    if not sides.of:
        return "photos-unread", ("Photograph again: no photo could be read.", *refused[:2])
    from contactread.reading import lacking

    readings = {role: views.reading for role, views in sides.views.items()}
    found = lacking(readings, len(results) - len(refused), bool(refused))
    if found is None or len(readings) == 2:
        return found
    return found[0], (*found[1], *refused[:2])


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
        content = read_json(file, 1_000_000)
    except Unfit:
        return None  # whoever reads it for its photo says what is wrong
    named = content.get("photos") if isinstance(content, dict) else None
    return named if isinstance(named, dict) else None
