"""The JSON API under /api/v1: the same functions as the pages. `openapi.py` describes it; a test holds
every answer against that. An error is always {"error": {"code", "message", "next_step"}}.
"""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import Route

from contactread.errors import ContactreadError
from contactread.outside import Unfit, from_json
from contactread.records.given_advice import is_outgrown, why_outgrown
from contactread.records.jobs import list_jobs
from contactread.records.nouns import Job, Try
from contactread.records.sign_off import sheet_json
from contactread.show.sheet_text import state
from contactread.web import shop
from contactread.web.axles import parsed
from contactread.web.given import move_mm, number_of, photo_hash
from contactread.web.openapi import PREFIX, openapi
from contactread.web.site import QUICK_S, backlash_of, job_of, name_of, near, photos_of, session_of, site_of
from contactread.web.views import answer_lines, photo_view, reading_view
from contactread.web.workers import NOW

MOST_MARKED = 24  # teeth


async def description(request: Request) -> JSONResponse:
    """This API as OpenAPI."""
    return JSONResponse(openapi())


async def send_photo(request: Request) -> JSONResponse:
    """Take in one photo: its bytes are the body. The same photo twice is one."""
    site = site_of(request)
    axle_text = await site.axle_for(job_of(request))
    data = await site.body_of(request)
    photo = await site.take(data, name_of(request), session_of(request).name, axle_text)
    return JSONResponse(await run_in_threadpool(photo_view, photo, parsed(axle_text)))


async def one_photo(request: Request) -> JSONResponse:
    """A photo and its newest reading."""
    site = site_of(request)
    photo, _ = await site.original(photo_hash(request.path_params["sha256"]))
    return JSONResponse(photo_view(photo, parsed(await site.axle_for(job_of(request)))))


async def teeth(request: Request) -> JSONResponse:
    """The teeth as the program found them, with what was corrected or marked by hand since."""
    site = site_of(request)
    sha256 = photo_hash(request.path_params["sha256"])
    photo, path = await site.original(sha256)
    reading = None if photo.reading is None else photo.reading.json
    correction = (reading or {}).get("correction") or {}
    flank = request.query_params.get("flank", correction.get("flank")) or await site.flank_found(sha256)
    if flank not in (None, "convex", "concave"):
        raise ContactreadError("flank", f"There is no flank {flank[:20]!r}.", "Say convex or concave.")
    axle_text = await site.axle_for(job_of(request))
    found = await site.workers.run(
        "teeth_of", path, sha256, axle_text, flank, seconds=QUICK_S, near=sha256, urgency=NOW
    )
    return JSONResponse(found | {"correction": _whole(correction)})


async def correct(request: Request) -> JSONResponse:
    """Read a photo again with corrections. Kept only where "keep" is true; the earlier readings stay."""
    site = site_of(request)
    sha256 = photo_hash(request.path_params["sha256"])
    given = await _json(request)
    correction = _correction(given)
    if given.get("as_found"):
        reading = await site.shop.asked(shop.as_found, sha256)
        if reading is None:
            raise ContactreadError("photo-unknown", "Nothing was read before.", "Send the photo again.")
    else:
        reading = await site.correct(sha256, job_of(request), correction)
    if given.get("keep"):
        who = session_of(request).name
        await site.shop.told(shop.keep_reading, sha256, who, reading)
    axle = parsed(await site.axle_for(job_of(request)))
    return JSONResponse(await run_in_threadpool(reading_view, reading, axle))


async def answer(request: Request) -> JSONResponse:
    """Advice on photos that may be loose."""
    site = site_of(request)
    photos = await photos_of(request)
    axle_text = await site.axle_for(job_of(request))
    found = await site.answer(photos, axle_text, backlash_of(request))
    lines = answer_lines(found["advice"], found["lacking"])
    return JSONResponse({"lines": lines, "advice": found["advice"], "lacking": found["lacking"]})


async def what_if(request: Request) -> JSONResponse:
    """A move foreseen: pinion and ring travel in mm, away from the other gear positive."""
    site, job_id, text = site_of(request), job_of(request), request.query_params.get("try", "")
    number = number_of(text, "try") if text else None
    if text and job_id is None:
        raise ContactreadError("job-missing", "No job is named for the try.", "Name the try's job, too.")
    moves = [move_mm(request.query_params.get(name, "")) for name in ("pinion", "ring")]
    photos, axle_text = await photos_of(request), await site.axle_for(job_id)
    return JSONResponse(await site.workers.run(
        "what_if", shop.read_of(photos), axle_text, backlash_of(request), *moves, site.shop.path, job_id,
        number, seconds=QUICK_S, near=near(photos), urgency=NOW,
    ))  # fmt: skip


async def phone(request: Request) -> JSONResponse:
    """The phone that asks: a page that was open before it was paired anew goes on with the new key."""
    session = session_of(request)
    return JSONResponse({"name": session.name, "key": session.key})


async def jobs(request: Request) -> JSONResponse:
    """The jobs, newest first."""
    found = await site_of(request).shop.asked(list_jobs, open_only=request.query_params.get("open") == "1")
    return JSONResponse({"jobs": [job_json(job) for job in found]})


async def one_job(request: Request) -> JSONResponse:
    """A job: its tries and its sheet."""
    number = number_of(request.path_params["job"], "job")
    view = await site_of(request).shop.asked(shop.job_view, number)
    axle = view.job.axle
    return JSONResponse({
        "job": job_json(view.job),
        "tries": [try_json(view, t, [photo_view(p, axle) for p in shop.counting(t)]) for t in view.tries],
        "sheet": sheet_json(view.sheet),
    })  # fmt: skip


async def nothing(request: Request) -> JSONResponse:
    raise ContactreadError("page-missing", "The API has no such path.", f"See {PREFIX}/openapi.json.")


def job_json(job: Job) -> dict[str, Any]:
    """A job without its axle file's text."""
    told = ("id", "vehicle", "kind", "gear_set", "condition", "opened_by", "opened_at")
    return {name: getattr(job, name) for name in told} | {"state": state(job)}


def try_json(view: shop.JobView, attempt: Try, photos: list[dict[str, Any]]) -> dict[str, Any]:
    """A try with its photos and the advice given on it; advice that it has outgrown is none."""
    outgrown = is_outgrown(view.job, view.tries, attempt)
    advice = None if attempt.advice is None or outgrown else attempt.advice.json
    lines = answer_lines(advice, why_outgrown(view.job)) if advice or outgrown else []
    told = "number", "made_by", "made_at", "pinion_shim_mm", "ring_side_shim_mm", "opposite_side_shim_mm"
    return {name: getattr(attempt, name) for name in told} | {
        "backlash_mm": list(attempt.backlash_mm), "photos": photos, "lines": lines, "advice": advice,
        "outgrown": outgrown,
    }  # fmt: skip


async def _json(request: Request) -> dict[str, Any]:
    try:
        given = from_json(await request.body())
    except Unfit:
        given = None
    if not isinstance(given, dict):
        raise ContactreadError("json-unreadable", "What was sent isn't a JSON object.", "Send one object.")
    return given


def _correction(given: dict[str, Any]) -> dict[str, Any]:
    """The correction in what was sent, checked. Raises ContactreadError correction-value."""
    told = _whole(given)
    flank, moved, left_out, marked = told.values()
    fine = flank in (None, "convex", "concave") and isinstance(moved, dict) and isinstance(left_out, dict)
    fine = fine and all(_tooth(k) and v in ("struck", "unrolled") for k, v in left_out.items())
    fine = fine and isinstance(marked, list) and len(marked) <= MOST_MARKED and all(map(_corners, marked))
    if not fine or not all(_tooth(k) and _corners(v) for k, v in moved.items()):
        raise ContactreadError(
            "correction-value", "The correction can't be understood.", "See openapi.json.")  # fmt: skip
    return told


def _whole(given: dict[str, Any]) -> dict[str, Any]:
    """The parts of a correction, those that aren't there empty."""
    empty: dict[str, Any] = {"moved": {}, "left_out": {}, "marked": []}
    return {"flank": given.get("flank")} | {name: given.get(name) or none for name, none in empty.items()}


def _tooth(key: Any) -> bool:
    return isinstance(key, str) and key.isascii() and key.isdigit() and len(key) <= 2


def _corners(value: Any) -> bool:
    names = {"toe_root", "toe_top", "heel_top", "heel_root"}
    return isinstance(value, dict) and set(value) == names and all(map(_point, value.values()))


def _point(value: Any) -> bool:
    return (
        isinstance(value, list) and len(value) == 2
        and all(type(x) in (int, float) and -50_000 < x < 150_000 for x in value)
    )  # fmt: skip


ROUTES = [
    Route(f"{PREFIX}/openapi.json", description),
    Route(f"{PREFIX}/photos", send_photo, methods=["POST"]),
    Route(f"{PREFIX}/photos/{{sha256}}", one_photo),
    Route(f"{PREFIX}/photos/{{sha256}}/teeth", teeth),
    Route(f"{PREFIX}/photos/{{sha256}}/correction", correct, methods=["POST"]),
    Route(f"{PREFIX}/answer", answer),
    Route(f"{PREFIX}/what-if", what_if),
    Route(f"{PREFIX}/phone", phone),
    Route(f"{PREFIX}/jobs", jobs),
    Route(f"{PREFIX}/jobs/{{job}}", one_job),
    Route("/api/{rest:path}", nothing, methods=["GET", "POST", "PUT", "PATCH", "DELETE"]),
]
