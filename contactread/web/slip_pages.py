"""Slips put right: jobs merged, struck out, opened again; tries and photos moved or struck out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from contactread.errors import ContactreadError
from contactread.records import slips
from contactread.records.jobs import list_jobs
from contactread.records.sign_off import reopen
from contactread.show import sheet_text
from contactread.web import shop
from contactread.web.given import number_of, photo_hash, text_of
from contactread.web.page import page
from contactread.web.site import session_of, site_of

Asked = dict[str, Callable[..., Any]]  # what a form may ask for, and who does it


async def job_slips(request: Request) -> Response:
    """What can be put right about a job and its tries."""
    site = site_of(request)
    view = await site.shop.asked(shop.job_view, number_of(request.path_params["job"], "job"))
    jobs = [each for each in await site.shop.asked(list_jobs, open_only=True) if each.id != view.job.id]
    return page(
        request, "slips.html", job=view.job, tries=view.tries, jobs=jobs, built=sheet_text.build_text,
        state=sheet_text.state(view.job),
    )  # fmt: skip


async def mend_job(request: Request) -> Response:
    """Do to a job what its form says."""
    job_id = number_of(request.path_params["job"], "job")
    form = await request.form(max_files=0, max_fields=10, max_part_size=10_000)
    asked: Asked = {"merge": slips.merge_jobs, "strike": slips.strike_job, "reopen": reopen}
    to = (number_of(text_of(form, "to"), "job"),) if text_of(form, "do") == "merge" else ()
    job = await _done(request, asked, form, job_id, *to)
    return RedirectResponse(f"/jobs/{job.id}", 303)


async def mend_try(request: Request) -> Response:
    """Do to a try what its form says."""
    job_id = number_of(request.path_params["job"], "job")
    number = number_of(request.path_params["number"], "try")
    form = await request.form(max_files=0, max_fields=10, max_part_size=10_000)
    moved = text_of(form, "do") == "move"
    to = (number_of(text_of(form, "to"), "job"),) if moved else ()
    asked: Asked = {"move": slips.move_try, "strike": slips.strike_try}
    await _done(request, asked, form, job_id, number, *to)
    return RedirectResponse(f"/jobs/{to[0] if to else job_id}", 303)


async def mend_photo(request: Request) -> Response:
    """Do to a photo what its form says."""
    photo, _ = await site_of(request).original(photo_hash(request.path_params["sha256"]))
    form = await request.form(max_files=0, max_fields=10, max_part_size=10_000)
    to: tuple[int, ...] = ()
    if text_of(form, "do") == "move":
        number = text_of(form, "number").strip()
        to = number_of(text_of(form, "to"), "job"), *((number_of(number, "try"),) if number else ())
    asked: Asked = {"move": slips.move_photo, "strike": slips.strike_photo}
    await _done(request, asked, form, photo.id, *to)
    return RedirectResponse(f"/jobs/{to[0]}" if to else "/loose", 303)


async def _done(request: Request, asked: Asked, form: Any, *values: int) -> Any:
    do = asked.get(text_of(form, "do"))
    if do is None:
        raise ContactreadError("form-unreadable", "The form doesn't say what to do.", "Go back, then again.")
    who, reason = session_of(request).name, text_of(form, "reason")
    return await site_of(request).shop.told(do, *values, who=who, reason=reason)


ROUTES = [
    Route("/jobs/{job}/slips", job_slips),
    Route("/jobs/{job}/slips", mend_job, methods=["POST"]),
    Route("/jobs/{job}/tries/{number}/slips", mend_try, methods=["POST"]),
    Route("/photos/{sha256}/slips", mend_photo, methods=["POST"]),
]
