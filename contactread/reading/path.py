"""One photo read: the path from Photo to Side."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from os import PathLike
from pathlib import Path
from typing import Any

import numpy as np

from contactread.arrays import median
from contactread.axle import Axle, FlankName, Hand, role_of
from contactread.errors import PhotoError
from contactread.flags import flag as flag_of
from contactread.flank.closeup import CloseUp, contact_on, look_closely
from contactread.flank.corners import flanks_from_corners
from contactread.flank.flank import FlatFlank, Found
from contactread.flank.flatten import flatten
from contactread.flank.verdict import Showing, check_paint, explained, picture_flags, reading_flags
from contactread.pattern.contact import ContactMaps, ContactReader, contact_maps
from contactread.pattern.measure import measure_tooth
from contactread.pattern.quality import LEAST_SURE, Evidence, confidence, name_odds
from contactread.pattern.side import side_of
from contactread.photo.photo import Photo
from contactread.reading.nouns import Reading, ReadTooth

MOST_CLOSEUPS = 6  # of teeth marked by hand
BARE = 0.15  # chance of paint up to which a tooth seen close up isn't read
MUCH_SURER = 0.3  # by which the flank seen less well must be surer to come first
# Refusals that gears looked for in vain can end in.
PERHAPS_ANOTHER_AXLE = ("no-ring-gear", "no-compound", "no-pattern", "too-few-teeth", "too-oblique")
SURE = (0.02, 0.02)  # uncertainty of the shared patch, in u and v, below which colour and streaks suffice


Finder = Callable[[Photo, FlankName | None, Axle | None], Found]


def read(
    photo: Photo | str | PathLike[str] | bytes,
    corners: Path | str | Mapping[str, Any] | None = None,
    flank: FlankName | None = None,
    axle: Axle | None = None,
    finder: Finder | None = None,
    reader: ContactReader = contact_maps,
) -> Reading:
    """Read one photo of a rolled ring gear.

    photo: a loaded photo, a file, or a file's bytes. corners: a corners file or its content; without it
    `finder` looks for the teeth (usual: contactread.flank.finder). flank: which flank is seen, where the
    user knows. axle: gives sizes in mm and the rotation. reader: tells contact from compound. A large photo
    is read at half its size; all places in the reading are of the whole one.
    Raises PhotoError or CornersError where the photo is refused; see contactread.flags. The refusal says so
    where the photo is read without the axle.
    """
    the_photo = photo.at_reading_size() if isinstance(photo, Photo) else _load(photo)
    try:
        return _both(the_photo, corners, flank, axle, finder, reader)
    except PhotoError as refusal:
        if axle is None or corners is not None or refusal.code not in PERHAPS_ANOTHER_AXLE:
            raise
        try:
            seen = _both(the_photo, None, flank, None, finder, reader)
        except PhotoError:
            raise refusal from None
        raise refusal.but_first(_perhaps_another(axle, seen.hand)) from refusal


def _perhaps_another(axle: Axle, seen: Hand) -> str:
    """What to check first where a photo is read without the axle only. seen: the hand it then shows."""
    told = axle.gears.hand
    if told is None or told == seen:
        return "Without the axle file this photo is read: check that the file is of this axle."
    return (
        f"Without the axle file this photo is read, and shows a {seen}-hand ring gear; the file tells of a "
        f"{told}-hand one. Check that the file is of this axle, and that the photo isn't mirrored."
    )


def _both(
    the_photo: Photo,
    corners: Path | str | Mapping[str, Any] | None,
    flank: FlankName | None,
    axle: Axle | None,
    finder: Finder | None,
    reader: ContactReader,
) -> Reading:
    """The reading of the flanks that show, of both kinds where both do; as `read`."""
    seen = _flanks(the_photo, corners, flank, axle, finder)
    search = seen.other
    if search is None:
        return _read(the_photo, seen, flank, axle, reader)
    found: list[Reading] = []
    refusals: list[PhotoError] = []
    told = partial(_read, the_photo, flank=None, axle=axle, reader=reader)
    with ThreadPoolExecutor(1) as beside:
        opposite = beside.submit(lambda: told(_named(search())))
        for one in (partial(told, seen), opposite.result):
            try:
                found.append(one())
            except PhotoError as refusal:
                refusals.append(refusal)
    if not found:
        raise refusals[0]
    if refusals:
        return found[0]
    reading, other = found
    surer = other.confidence > reading.confidence + MUCH_SURER
    first, second = (other, reading) if surer else (reading, other)
    flags = ("both-flanks", *first.flags)
    return replace(first, flags=flags, other=replace(second, flags=("both-flanks", *second.flags)))


def _read(
    the_photo: Photo, seen: Found, flank: FlankName | None, axle: Axle | None, reader: ContactReader
) -> Reading:
    """The reading of the flanks of one kind; arguments and errors as for `read`."""
    flanks, closeups = seen.flanks, seen.closeups
    if not flanks:
        raise flag_of("no-ring-gear").refusal()
    worth = [k for k in range(len(flanks)) if not closeups or closeups[k].painted_chance > BARE]
    flats = [flatten(the_photo, flanks[k], axle) for k in worth or range(len(flanks))]
    showing = Showing.of(the_photo, flats)
    warned = picture_flags(showing)
    painted = [closeup.painted_chance for closeup in closeups]
    try:
        if closeups:
            check_paint(painted)
            flats = _with_closeups(flats, range(len(flats)), [closeups[k] for k in worth])
        maps = _maps(the_photo, flats, reader)
    except PhotoError as refusal:
        raise explained(refusal, showing, painted) from refusal
    teeth = [ReadTooth(each, False, None) for each in flanks]
    for at, (k, flat) in enumerate(zip(worth, flats, strict=True)):
        teeth[k] = _tooth(flat, maps, at)
    patches = [(tooth.flank, tooth.pattern) for tooth in teeth if tooth.pattern is not None]
    if len(patches) < (1 if flanks[0].source == "corners" else 2):
        raise flag_of("too-few-teeth").refusal()
    name = flank or flanks[0].name or "convex"
    doubts = [(each.length_sigma, each.height_sigma) for each, _ in patches]
    common = np.hypot(maps.common_sigma, median(doubts, axis=0))
    side = side_of(
        [pattern for _, pattern in patches],
        name,
        axle.role(name) if axle is not None else role_of(name),
        maps.polarity,
        maps.compound,
        [each.turn_rad for each, _ in patches],
        (float(common[0]), float(common[1])),
    )
    name_confidence = 1.0 if flank else flanks[0].name_confidence
    chosen = [flat for k, flat in zip(worth, flats, strict=True) if teeth[k].pattern is not None]
    flags = (*warned, *reading_flags(chosen, side.spread, name_confidence, bool(maps.wet.any())))
    evidence = Evidence(
        name_odds(name_confidence), maps.gain, maps.own, maps.agreement, maps.peak, maps.paint,
        len(patches),
        max(side.spread), max(side.sigma), float(np.mean([each.confidence for each, _ in patches])),
        showing.length * the_photo.reduced,
    )  # fmt: skip
    sure = confidence(evidence)
    if closeups and sure < LEAST_SURE:
        doubt = flag_of("no-pattern").refusal("Something shows there, too unsurely to be told.")
        raise explained(doubt, showing, painted)
    return Reading(
        path=the_photo.path,
        sha256=the_photo.sha256,
        size_px=the_photo.size_px,
        teeth=tuple(replace(tooth, flank=tooth.flank.enlarged(the_photo.reduced)) for tooth in teeth),
        side=side,
        confidence=sure,
        flags=tuple(dict.fromkeys((*seen.flags, *flags))),
        evidence=evidence,
    )


def _maps(photo: Photo, flats: list[FlatFlank], reader: ContactReader) -> ContactMaps:
    """Contact on the flats; where colour and streaks leave doubt, with the close-up network's word.

    The network is slow: where the finder hasn't asked it yet, it sees the largest teeth only. Where it sees
    no pattern on teeth marked by hand, what colour and streaks tell stands.
    """
    asked = flats[0].contact is not None
    maps: ContactMaps | None = None
    try:
        maps = reader(flats)
        if asked or (maps.common_sigma < SURE).all():
            return maps
    except PhotoError:
        if asked:
            raise
    flanks = [flat.flank for flat in flats]
    size = [f.length_px * f.height_px * flat.seen.mean() for f, flat in zip(flanks, flats, strict=True)]
    largest = np.sort(np.argsort(size)[::-1][:MOST_CLOSEUPS]).tolist()
    closeups = look_closely(photo.pixels, [flanks[k] for k in largest], [1.0] * len(largest))
    try:
        return reader(_with_closeups(flats, largest, closeups))
    except PhotoError:
        if maps is None:
            raise
        return maps


def _with_closeups(
    flats: list[FlatFlank], chosen: Iterable[int], closeups: Sequence[CloseUp]
) -> list[FlatFlank]:
    """The flats, the chosen ones with the network's word on contact and paint."""
    told = list(flats)
    for k, close in zip(chosen, closeups, strict=True):
        flat = flats[k]
        contact = contact_on(flat.flank, close)
        told[k] = replace(flat, contact=contact, painted=close.painted_chance, rolled=close.rolled_chance)
    return told


def _load(source: str | PathLike[str] | bytes) -> Photo:
    from contactread.photo.load import load_photo

    return load_photo(source, reduce=True)


def _flanks(
    photo: Photo,
    corners: Path | str | Mapping[str, Any] | None,
    flank: FlankName | None,
    axle: Axle | None,
    finder: Finder | None,
) -> Found:
    if corners is not None:
        marked = tuple(flanks_from_corners(photo, corners, axle, flank))
        if flank is None and finder is None:
            from contactread.reading.named_corners import refuse_misnamed

            refuse_misnamed(photo, marked)
        name = marked[0].name or "convex"
        return Found(name, marked[0].name_confidence, marked, flags=("corners-by-hand",))
    if finder is None:
        from contactread.flank.finder import find_flanks

        finder = find_flanks
    return _named(finder(photo, flank, axle))


def _named(found: Found) -> Found:
    """What was found, each flank with its kind."""
    told = partial(replace, name=found.name, name_confidence=found.name_confidence)
    return replace(found, flanks=tuple(map(told, found.flanks)))


def _tooth(flat: FlatFlank, maps: ContactMaps, k: int) -> ReadTooth:
    inside = maps.inside[k]
    if not maps.painted[k] or not inside.any():
        return ReadTooth(flat.flank, bool(maps.painted[k]), None, bool(maps.wet[k]))
    u, v = np.hypot(maps.centre_sigma[k], (flat.flank.length_sigma, flat.flank.height_sigma))
    sigma = (float(u), float(v))
    pattern = measure_tooth(inside, maps.judged[k], flat.flank.aspect, flat.mm_size, sigma)
    return ReadTooth(flat.flank, True, pattern)
