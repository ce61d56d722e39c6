"""What the worker processes do. Arguments and results travel between processes, so they are plain data."""

from __future__ import annotations

import contextlib
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from contactread.axle import Axle, FlankName
from contactread.errors import ContactreadError, PhotoError
from contactread.flank.corners_file import read_corners
from contactread.flank.finder import find_flanks
from contactread.flank.flank import CORNER_UV, Flank, FlankMap, Found
from contactread.photo.intake import check_photo_bytes
from contactread.photo.load import decode_photo
from contactread.photo.photo import Photo
from contactread.photo.shrink import at_most
from contactread.reading import read
from contactread.records.book import Book
from contactread.records.measured import with_measured
from contactread.web.axles import parsed

HELD = 3  # photos
_SIGNS = np.array([(2 * u - 1, 2 * v - 1) for u, v in CORNER_UV.values()])  # of T1(2u - 1) and T1(2v - 1)

_photos: OrderedDict[str, Photo] = OrderedDict()
_found: OrderedDict[tuple[str, str, str], Found] = OrderedDict()


def warm(axle_text: str | None = None) -> None:
    """Import, load and compute all that a first photo and a first answer for this axle would wait for."""
    from contactread.belief.draws import draw_ahead
    from contactread.web import foreseen  # noqa: F401

    with contextlib.suppress(PhotoError):
        find_flanks(Photo(None, np.zeros((480, 640, 3), np.uint8), "", "png"))
    if (axle := parsed(axle_text)) is not None:
        draw_ahead(axle)


def read_bytes(data: bytes, name: str, axle_text: str | None, flank: FlankName | None) -> dict[str, Any]:
    """One photo of ``read --json`` with what was measured beside it; a refusal by what is seen is one, too.

    Raises PhotoError for bytes that aren't a photo that can be decoded.
    """
    photo = decode_photo(data, check_photo_bytes(data), None, reduce=True)
    _hold(_photos, photo.sha256, photo)
    return _reading(photo, name, axle_text, {"flank": flank} if flank else {})


def teeth_of(path: Path, sha256: str, axle_text: str | None, flank: FlankName | None) -> dict[str, Any]:
    """The teeth as found: {"flank": ..., "size": ..., "teeth": [corners by name]}; whole picture's pixels.
    None of them where none are found.
    """
    photo = _photo(path, sha256)
    name, teeth = flank, []
    with contextlib.suppress(PhotoError):
        found = _seen(photo, axle_text, flank)
        name, teeth = found.name, [each.enlarged(photo.reduced).corners for each in found.flanks]
    return {
        "flank": name,
        "size": list(photo.size_px),
        "teeth": [{n: list(xy) for n, xy in each.items()} for each in teeth],
    }


def correct(
    path: Path,
    sha256: str,
    name: str,
    axle_text: str | None,
    correction: Mapping[str, Any],
    seen: FlankName | None,
) -> dict[str, Any]:
    """The photo read again with what a person corrected; as `read_bytes`. seen: the flank that was read,
    where the correction doesn't name another.

    correction: {"flank": name or None, "moved": {tooth's number: {corner: [x, y]}}, "left_out": {number:
    "struck" or "unrolled"}, "marked": [{corner: [x, y]}]}; numbers as text, from 0, in the order of
    `teeth_of`, or of the teeth marked by hand, which then stand in the place of the found ones.
    """
    return _reading(_photo(path, sha256), name, axle_text, correction, seen)


def picture(path: Path, sha256: str, width: int) -> bytes:
    """The photo as an upright JPEG so many pixels wide at most; nothing of its EXIF comes along."""
    import cv2

    pixels = at_most(_photo(path, sha256).pixels, wide=width)
    return bytes(cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 82])[1])


def answer(
    readings: list[dict[str, Any]], axle_text: str | None, backlash_mm: tuple[float, ...]
) -> dict[str, Any]:
    """Advice on loose photos: see `contactread.web.foreseen.answer`."""
    from contactread.web import foreseen

    return foreseen.answer(readings, parsed(axle_text), backlash_mm)


def answer_try(book: Path, job_id: int, number: int) -> None:
    """Advice on a recorded try, kept with it."""
    from contactread.records.advising import advise_try

    with Book(book, write=True, create=False) as opened:
        advise_try(opened, job_id, number)


def what_if(
    readings: list[dict[str, Any]],
    axle_text: str,
    backlash_mm: tuple[float, ...],
    pinion_mm: float,
    ring_mm: float,
    book: Path,
    job_id: int | None,
    number: int | None,
) -> dict[str, Any]:
    """A move foreseen: see `contactread.web.foreseen.what_if`. In a job's try, with the tries before it.

    Raises `BookError` try-missing.
    """
    from contactread.records.advising import history
    from contactread.records.tries import find_try, tries_of
    from contactread.web import foreseen

    axle, earlier = parsed(axle_text), []
    if axle is not None and job_id is not None and number is not None:
        with Book(book) as opened:
            find_try(opened, job_id, number)  # else a number that isn't there would count as the newest
            earlier = history(tries_of(opened, job_id), number, axle)
    return foreseen.what_if(readings, axle, backlash_mm, pinion_mm, ring_mm, earlier)


def report(book: Path, job_id: int) -> str:
    """The one-page report of a job as one HTML file."""
    from contactread.show.report_page import report_html, report_page

    with Book(book) as opened:
        return report_html(report_page(opened, job_id))


def question(book: Path, who: str) -> dict[str, Any]:
    """The next question of a person's course, for a page; never its answer."""
    from contactread.practice.catalog import Catalog, course_questions

    with Book(book) as opened:
        return _asked(next(course_questions(Catalog(opened), opened, who, 1)))


def mark(
    book: Path, who: str, question_id: str, given: str, consent: bool
) -> tuple[dict[str, Any], dict[str, Any]]:
    """The question again, and the mark of the answer, which the book keeps. consent: see `keep_answer`."""
    from contactread.practice import marking
    from contactread.practice.catalog import Catalog
    from contactread.practice.history import keep_answer

    with Book(book, write=True) as opened:
        asked = Catalog(opened).question(question_id)
        marked = marking.mark(asked, given)
        keep_answer(opened, who, marked, consent=consent)
        return _asked(asked), marked.to_json()


def _asked(asked: Any) -> dict[str, Any]:
    from contactread.practice.sheet import picture_svg

    shown: dict[str, Any] = asked.to_json()
    return shown | {"svgs": [picture_svg(picture) for picture in asked.pictures]}


def _reading(
    photo: Photo,
    name: str,
    axle_text: str | None,
    correction: Mapping[str, Any],
    seen: FlankName | None = None,
) -> dict[str, Any]:
    """The reading as JSON, with the correction beside it where there is one."""
    flank: FlankName | None = correction.get("flank")
    marked = correction.get("marked") or []
    by_hand = bool(marked or correction.get("moved") or correction.get("left_out"))

    def finder(of: Photo, asked: FlankName | None, the_axle: Axle | None) -> Found:
        found = _seen(of, None if the_axle is None else axle_text, asked or seen)
        return _as_corrected(found, of, correction) if by_hand else found

    corners = None
    if marked:
        left_out = correction.get("left_out") or {}
        corners = {"teeth": [each for k, each in enumerate(marked) if str(k) not in left_out]}
    try:
        json = with_measured(read(photo, corners, flank, parsed(axle_text), finder))
    except PhotoError as error:
        json = error.refused_photo(name) | {"sha256": photo.sha256, "size_px": list(photo.size_px)}
    return json | {"path": name} | ({"correction": dict(correction)} if by_hand or flank else {})


def _as_corrected(found: Found, photo: Photo, correction: Mapping[str, Any]) -> Found:
    moved, left_out = correction.get("moved") or {}, correction.get("left_out") or {}
    count = len(found.flanks)
    if not correction.get("marked") and any(int(k) >= count for k in (*moved, *left_out)):
        raise ContactreadError(
            "correction-value", f"Only {count} teeth were found in the photo.", "Load the page again."
        )
    if moved:
        read_corners({"teeth": list(moved.values())}, photo.size_px)  # refuses what makes no flank
    kept = [k for k in range(len(found.flanks)) if str(k) not in left_out]
    flanks = [_moved(found.flanks[k], moved.get(str(k)), photo.reduced) for k in kept]
    return replace(
        found,
        flanks=tuple(flanks),
        closeups=tuple(found.closeups[k] for k in kept) if found.closeups else (),
        flags=(*found.flags, "corners-by-hand") if moved else found.flags,
    )


def _moved(flank: Flank, corners: Mapping[str, Any] | None, reduced: int) -> Flank:
    """The flank drawn along with its corners: what each is shifted by spreads bilinearly over it."""
    if corners is None:
        return flank
    goal = (np.array([corners[name] for name in CORNER_UV], float) + 0.5) / reduced - 0.5
    shift = goal - np.array(list(flank.corners.values()))
    along, up = _SIGNS.T
    terms = np.stack([np.ones(4), up, along, along * up]) @ shift / 4  # of 1, T1(v), T1(u), T1(u) T1(v)
    coefficients = flank.map.coefficients.copy()
    coefficients[:2, :2] += terms.reshape(2, 2, 2)
    return replace(flank, map=FlankMap(coefficients), source="corners")


def _seen(photo: Photo, axle_text: str | None, flank: FlankName | None) -> Found:
    key = (photo.sha256, axle_text or "", flank or "")
    found = _found.get(key)
    if found is None:
        found = _find(photo, axle_text, flank)
        if photo.sha256:
            _hold(_found, key, found)
    return found


def _find(photo: Photo, axle_text: str | None, flank: FlankName | None) -> Found:
    """The flanks of the side asked for; where none of it is seen, those that are, under its name: the
    person who looks at the gear knows better which side it is."""
    the_axle = parsed(axle_text)
    try:
        return find_flanks(photo, flank, the_axle)
    except PhotoError:
        if flank is None:
            raise
        return replace(find_flanks(photo, None, the_axle), name=flank, name_confidence=1.0)


def _photo(path: Path, sha256: str) -> Photo:
    photo = _photos.get(sha256)
    if photo is None:
        data = path.read_bytes()
        photo = decode_photo(data, check_photo_bytes(data), None, reduce=True)
    _hold(_photos, sha256, photo)
    return photo


def _hold(held: OrderedDict[Any, Any], key: Any, value: Any) -> None:
    held[key] = value
    held.move_to_end(key)
    while len(held) > HELD:
        held.popitem(last=False)
