"""Photos, the answer, corrections: the pages on the way from two photos to the move."""

from __future__ import annotations

from importlib.util import find_spec
from typing import Any
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from contactread.axle import Axle
from contactread.errors import ContactreadError, PhotoError
from contactread.photo.limits import MOST_BYTES
from contactread.plausible import parse_notches, parse_places
from contactread.records.given_advice import is_outgrown
from contactread.records.jobs import list_jobs
from contactread.records.nouns import RecordedPhoto
from contactread.records.photos import loose_photos
from contactread.show.retake import retake_svg
from contactread.web import shop
from contactread.web.axles import parsed
from contactread.web.foreseen import sliders
from contactread.web.given import MOST_PHOTOS, length, number_of, photo_hash, photo_hashes, text_of
from contactread.web.page import page
from contactread.web.site import (
    ANSWER_S,
    backlash_of,
    job_of,
    near,
    photos_of,
    plain_name,
    session_of,
    site_of,
)
from contactread.web.views import answer_view, photo_view, photo_views

BUILD = (
    "pinion_shim_mm", "ring_side_shim_mm", "opposite_side_shim_mm", "ring_side_notches",
    "opposite_side_notches",
)  # fmt: skip
_WORDS = dict(zip(BUILD, (
    "Pinion shim", "Shim behind the ring gear", "Shim on the other side",
    "Adjuster behind the ring gear: notches in (+) since try 1", "Adjuster opposite: notches in (+)",
), strict=True))  # fmt: skip
_PARTS = {"pinion_shim": BUILD[0], "ring_side_shim": BUILD[1], "opposite_shim": BUILD[2]}


async def start(request: Request) -> Response:
    """The first page: both photos, backlash, answer."""
    site = site_of(request)
    job_id = job_of(request)
    jobs = await site.shop.asked(list_jobs, open_only=True)
    hashes = photo_hashes(request.query_params.getlist("photo"))
    photos = await site.shop.asked(shop.photos, hashes) if hashes else []
    view = None if job_id is None else await site.shop.asked(shop.job_view, job_id)
    axle = parsed(await site.axle_for(job_id))
    return page(
        request, "start.html", jobs=jobs, job=view and view.job, next_try=next_try(view),
        photos=await run_in_threadpool(photo_views, photos, axle), most=MOST_PHOTOS,
        heic=find_spec("pillow_heif") is not None,
        backlash=request.query_params.get("backlash", "")[:100],
        unit=request.query_params.get("unit", "mm"),
    )  # fmt: skip


def next_try(view: shop.JobView | None) -> dict[str, Any] | None:
    """What the next answer in this job starts: the try's number and what it was built with, as advised.

    No fields where photos go into a try that is open already.
    """
    if view is None:
        return None
    newest = view.tries[-1] if view.tries else None
    if newest is not None and newest.advice is None:
        return {"number": newest.number, "fields": []}
    axle = view.job.axle
    shown = BUILD[:3] if axle.carrier.kind == "side_shims" else (BUILD[0], *BUILD[3:])
    values: dict[str, float | None]
    if newest is None or newest.advice is None:
        carrier = axle.carrier
        known = (axle.pinion_shim.thickness_mm, carrier.ring_side_mm, carrier.opposite_side_mm, 0.0, 0.0)
        values = dict(zip(BUILD, known, strict=True))
    else:
        values = {name: getattr(newest, name) for name in BUILD}
        if not is_outgrown(view.job, view.tries, newest):
            values = _as_advised(values, newest.advice.json)
    fields = [{"name": name, "words": _WORDS[name], "value": _shown(name, values[name])} for name in shown]
    return {"number": 1 if newest is None else newest.number + 1, "fields": fields}


def _as_advised(build: dict[str, float | None], advice: dict[str, Any]) -> dict[str, float | None]:
    """The build that the advice asks for, from the one that it was given on."""
    told = dict(build)
    for shim in (shim for move in advice["moves"] for shim in move["shims"]):
        if shim["notches"] is not None:  # away from the pinion: out behind the ring gear, in opposite
            for name, way in ((BUILD[3], -1), (BUILD[4], 1)):
                told[name] = round((told[name] or 0.0) + way * shim["notches"], 2)
        elif (before := build[_PARTS[shim["part"]]]) is not None:
            told[_PARTS[shim["part"]]] = before + shim["change"]["mm"]
    return told


def _shown(name: str, value: float | None) -> str:
    if value is None:
        return ""
    return f"{value:g}" if name.endswith("notches") else f"{value:.3f} mm"


def _build(form: FormData) -> dict[str, float]:
    """What the form says that the try was built with."""
    build = {}
    for name in BUILD:
        text = text_of(form, name).strip()
        if not text:
            continue
        if name.endswith("notches"):
            build[name] = parse_notches(text)
        else:
            build[name] = length("pinion_shim" if name == BUILD[0] else "side_shim", text, "mm")
    return build


async def send(request: Request) -> Response:
    """Photos from a plain form, for browsers without our script."""
    site, session = site_of(request), session_of(request)
    async with request.form(max_files=MOST_PHOTOS, max_fields=10, max_part_size=10_000) as form:
        job_text = str(form.get("job", ""))
        axle_text = await site.axle_for(number_of(job_text, "job") if job_text else None)
        hashes: list[str] = photo_hashes(str(text) for text in form.getlist("photo"))
        for file in form.getlist("file"):
            if not isinstance(file, UploadFile) or not file.filename:
                continue
            data = await file.read(MOST_BYTES + 1)
            taken = await site.take(data, plain_name(file.filename), session.name, axle_text)
            hashes.append(taken.sha256)
        query = [("photo", sha256) for sha256 in dict.fromkeys(hashes)]
        query += [("job", job_text)] if job_text else []
    return RedirectResponse(f"/?{urlencode(query)}", 303)


async def ask(request: Request) -> Response:
    """From the first page's form to the answer: of loose photos, or of a job's try."""
    site, session = site_of(request), session_of(request)
    form = await request.form(max_files=0, max_fields=40, max_part_size=10_000)
    hashes = photo_hashes(str(text) for text in form.getlist("photo"))
    if not hashes:
        raise ContactreadError("photos-missing", "No photo was sent yet.", "Take a photo of each side first.")
    backlash_mm = parse_places(text_of(form, "backlash"), text_of(form, "unit") or "mm")
    if not text_of(form, "job"):
        query = [("photo", sha256) for sha256 in hashes]
        query += [("backlash", f"{mm:.4f} mm") for mm in backlash_mm]
        return RedirectResponse(f"/answer?{urlencode(query)}", 303)
    job_id = number_of(text_of(form, "job"), "job")
    attempt = await site.shop.told(
        shop.file_photos, job_id, hashes, backlash_mm, session.name, _build(form), bool(text_of(form, "sure"))
    )
    await advise(request, job_id, attempt.number, near(list(attempt.photos)))
    return RedirectResponse(f"/jobs/{job_id}/tries/{attempt.number}", 303)


_NOT_YET = ("record-half", "reading-unsure", "hands-differ", "hand-not-axle", "limits-unusable")


async def advise(request: Request, job_id: int, number: int, held: str) -> None:
    """Ask for advice on a try; none where it can't be had yet, which its page then says."""
    site = site_of(request)
    try:
        await site.workers.run("answer_try", site.shop.path, job_id, number, seconds=ANSWER_S, near=held)
    except ContactreadError as error:
        if error.code not in _NOT_YET:
            raise


async def answer(request: Request) -> Response:
    """The answer to loose photos; all it needs stands in the address, so it can be loaded again."""
    site = site_of(request)
    photos = await photos_of(request)
    backlash_mm = backlash_of(request)
    axle_text = await site.axle_for(job_of(request))
    found = await site.answer(photos, axle_text, backlash_mm)
    axle = parsed(axle_text)
    jobs = await site.shop.asked(list_jobs, open_only=True)
    return page(
        request, "answer.html", job=None, attempt=None, jobs=jobs, backlash_mm=backlash_mm,
        query=request.url.query, next_try=None, earlier=[],
        **await run_in_threadpool(
            answer_parts, photos, axle, found["advice"], found["lacking"], backlash_mm
        ),
    )  # fmt: skip


def answer_parts(
    photos: list[RecordedPhoto],
    axle: Axle | None,
    advice: dict[str, Any] | None,
    lacking: str,
    backlash_mm: tuple[float, ...],
) -> dict[str, Any]:
    """What the answer's template needs besides its job."""
    view = answer_view(photos, axle, advice, lacking)
    for each in view["photos"]:
        each["retake"] = retake_svg(each["refusal"]["code"]) if each["refusal"] else ""
    whole = len(view["sides"]) == 2
    return {"answer": view, "sliders": sliders(axle, advice) if axle is not None and whole else None,
            "what_if": urlencode([*(("photo", p.sha256) for p in photos),
                                  *(("backlash", f"{mm:.4f} mm") for mm in backlash_mm)])}  # fmt: skip


async def one_photo(request: Request) -> Response:
    """One photo: what was read from it, what to do about it."""
    site = site_of(request)
    photo, _ = await site.original(photo_hash(request.path_params["sha256"]))
    axle = parsed(await site.axle_for(job_of(request)))
    view = photo_view(photo, axle)
    jobs = await site.shop.asked(list_jobs, open_only=True)
    retake = retake_svg(view["refusal"]["code"]) if view["refusal"] else ""
    return page(
        request,
        "photo.html",
        photo=view,
        retake_drawing=retake,
        job=job_of(request),
        jobs=jobs,
        struck=photo.struck,
    )


async def edit(request: Request) -> Response:
    """The page on which the corners of a photo's teeth are dragged."""
    site = site_of(request)
    photo, _ = await site.original(photo_hash(request.path_params["sha256"]))
    axle = parsed(await site.axle_for(job_of(request)))
    back = request.query_params.get("back", "/")
    if not back.startswith("/") or back.startswith("//") or "\\" in back:
        back = "/"
    return page(request, "correct.html", photo=photo_view(photo, axle), job=job_of(request), back=back)


async def loose(request: Request) -> Response:
    """Photos that belong to no job."""
    site = site_of(request)
    photos = await site.shop.asked(loose_photos)
    axle = parsed(site.axle_text)
    jobs = await site.shop.asked(list_jobs, open_only=True)
    views = await run_in_threadpool(photo_views, photos, axle)
    return page(request, "loose.html", photos=views, jobs=jobs)


async def picture(request: Request) -> Response:
    """The photo as the page shows it: upright, smaller, without anything that was stored beside it."""
    site = site_of(request)
    sha256 = photo_hash(request.path_params["sha256"])
    _, path = await site.original(sha256)
    width = 320 if request.query_params.get("small") else 1400
    try:
        data = await site.workers.run("picture", path, sha256, width, seconds=20, near=sha256)
    except FileNotFoundError as error:
        raise PhotoError("photo-lost", "The original of this photo is missing.", "Send it again.") from error
    headers = {"cache-control": "private, max-age=604800, immutable"}
    return Response(data, media_type="image/jpeg", headers=headers)


ROUTES = [
    Route("/", start),
    Route("/photos", send, methods=["POST"]),
    Route("/ask", ask, methods=["POST"]),
    Route("/answer", answer),
    Route("/loose", loose),
    Route("/photos/{sha256}", one_photo),
    Route("/photos/{sha256}/picture.jpg", picture),
    Route("/photos/{sha256}/correct", edit),
]
