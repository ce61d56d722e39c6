"""The shop book on the page: jobs, tries, sheet, sign-off, report, search, start shims."""

from __future__ import annotations

import re
from typing import Any

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from contactread.errors import AdviceError, ContactreadError, QuantityError
from contactread.plausible import Measured, parse_places
from contactread.records import questions
from contactread.records.advising import set_up_of
from contactread.records.given_advice import is_outgrown, why_outgrown
from contactread.records.jobs import list_jobs
from contactread.records.moments import day
from contactread.records.nouns import Fastener, Job, Try
from contactread.records.sign_off import check_list, sign_off, stop
from contactread.records.tries import record
from contactread.records.undo import undo_whole
from contactread.show import measure_text, sheet_text
from contactread.show.shop_charts import shims_chart
from contactread.show.walk_chart import walk_chart
from contactread.units import parse_torque, show_clearance
from contactread.web import shop
from contactread.web.given import length, number_of, text_of
from contactread.web.page import SANDBOX, page
from contactread.web.photo_pages import advise, answer_parts, next_try
from contactread.web.site import ANSWER_S, near, session_of, site_of


async def jobs(request: Request) -> Response:
    """The jobs, newest first, or those in which words are found."""
    site = site_of(request)
    words = request.query_params.get("q", "").strip()[:100]
    found = await site.shop.asked(questions.search, words) if words else None
    listed = [] if words else await site.shop.asked(list_jobs, most=100)
    rows = found.records() if found else []
    return page(
        request,
        "jobs.html",
        jobs=listed,
        state=sheet_text.state,
        day=day,
        words=words,
        rows=rows,
        plain=_plain,
    )


def _plain(words: str) -> str:
    """A record's words as the search found them, for people: days without their time, lists without marks."""
    days = re.sub(r"\d{4}-\d\d-\d\dT[\d:]+Z", lambda found: day(found[0]), words)
    return " ".join(re.sub(r'[\[\]"]', " ", days).split())


async def one_job(request: Request) -> Response:
    """A job: what is missing, its tries, and where to go on."""
    view = await _view(request)
    walk = await site_of(request).shop.asked(questions.walk, view.job.id)
    chart = walk_chart(walk).svg(alone=False) if len(view.tries) > 1 else ""
    return page(
        request, "job.html", job=view.job, tries=view.tries, sheet=view.sheet, words=measure_text,
        state=sheet_text.state(view.job), day=day, built=sheet_text.build_text,
        clearance=show_clearance, next_try=next_try(view), walk=Markup(chart),
        outgrown=bool(view.tries) and is_outgrown(view.job, view.tries, view.tries[-1]),
    )  # fmt: skip


async def one_try(request: Request) -> Response:
    """A try of a job: its answer, as it was given."""
    view = await _view(request)
    number = number_of(request.path_params["number"], "try")
    attempt = next((t for t in view.tries if t.number == number), None)
    if attempt is None:
        raise ContactreadError(
            "try-missing", f"Job {view.job.id} has no try {number}.", "Go back to the job."
        )
    last = attempt is view.tries[-1]
    outgrown = is_outgrown(view.job, view.tries, attempt)
    advice = None if attempt.advice is None or outgrown else attempt.advice.json
    return page(
        request, "answer.html", job=view.job, attempt=attempt, jobs=[], backlash_mm=attempt.backlash_mm,
        query="", next_try=next_try(view) if last and advice and view.job.sign_off is None else None,
        earlier=[t for t in view.tries if t.number < number], built=sheet_text.build_text(attempt),
        **await run_in_threadpool(
            answer_parts, shop.counting(attempt), view.job.axle, advice,
            _lacking(attempt, view.job, outgrown), attempt.backlash_mm
        ),
    )  # fmt: skip


def _lacking(attempt: Try, job: Job, outgrown: bool) -> str:
    try:
        set_up_of(attempt, job.axle)
    except (AdviceError, QuantityError) as error:
        return f"{error.message} {error.next_step}"
    except ContactreadError as error:
        return f"{error.message} Photograph it again, then ask once more."
    if outgrown or job.axle.limits.unusable:
        return why_outgrown(job)
    return "No answer was asked for yet."


async def ask_again(request: Request) -> Response:
    """Advice on a try once more, after a correction or another photo."""
    view = await _view(request)
    number = number_of(request.path_params["number"], "try")
    held = near([p for t in view.tries if t.number == number for p in t.photos])
    await advise(request, view.job.id, number, held)
    return RedirectResponse(f"/jobs/{view.job.id}/tries/{number}", 303)


async def measure(request: Request) -> Response:
    """The form for what was measured on the newest try."""
    view = await _view(request)
    newest = view.tries[-1] if view.tries else None
    return page(
        request, "measure.html", job=view.job, attempt=newest, fasteners=newest.fasteners if newest else ()
    )


async def keep_measured(request: Request) -> Response:
    """Record what the form says; what is left empty stays as it is."""
    site, session = site_of(request), session_of(request)
    job_id = number_of(request.path_params["job"], "job")
    form = await request.form(max_files=0, max_fields=60, max_part_size=10_000)
    kinds: dict[str, Measured] = {"ring_runout_mm": "runout", "side_preload_mm": "side_preload"}
    lengths = {name: length(kind, text, "mm") for name, kind in kinds.items() if (text := _said(form, name))}
    torques = {n: parse_torque(t) for n in ("pinion_torque_nm", "total_torque_nm") if (t := _said(form, n))}
    words = {name: text for name in ("compound", "drag", "notes") if (text := _said(form, name))}
    if "pinion_torque_nm" in torques:
        words["bearings"] = text_of(form, "bearings") or "new"
    fastener = _fastener(form)
    measured: dict[str, Any] = lengths | torques | words
    backlash_mm = parse_places(text_of(form, "backlash"), text_of(form, "unit"))
    await site.shop.told(
        lambda book: record(
            book, job_id, who=session.name, backlash_mm=backlash_mm, fasteners=[fastener] if fastener else [],
            sure=bool(text_of(form, "sure")), **measured,
        )
    )  # fmt: skip
    return RedirectResponse(f"/jobs/{job_id}", 303)


def _fastener(form: FormData) -> Fastener | None:
    """A fastener with the manual's torque, as the person entered it."""
    name = _said(form, "fastener")
    if not name:
        return None
    least = parse_torque(text_of(form, "least"))
    most, done = (parse_torque(text) if (text := _said(form, n)) else None for n in ("most", "tightened"))
    return Fastener(name, least, least if most is None else most, done)


def _said(form: FormData, name: str) -> str:
    return text_of(form, name).strip()


async def close_form(request: Request) -> Response:
    """The check-list to tick off, and what the sheet still misses."""
    view = await _view(request)
    return page(
        request,
        "close.html",
        job=view.job,
        sheet=view.sheet,
        lines=check_list(),
        who=session_of(request).name,
    )


async def close(request: Request) -> Response:
    """Sign the job off, or stop it."""
    site, session = site_of(request), session_of(request)
    job_id = number_of(request.path_params["job"], "job")
    form = await request.form(max_files=0, max_fields=60, max_part_size=20_000)
    session.name = text_of(form, "who").strip()[:100] or session.name
    if text_of(form, "how") == "stop":
        await site.shop.told(stop, job_id, who=session.name, reason=text_of(form, "reason"))
    else:
        confirmed = [str(code) for code in form.getlist("confirm")]
        await site.shop.told(
            sign_off, job_id, who=session.name, confirmed=confirmed, despite=text_of(form, "despite")
        )
    return RedirectResponse(f"/jobs/{job_id}", 303)


async def report(request: Request) -> Response:
    """The one-page report, as the command writes it."""
    site = site_of(request)
    job_id = number_of(request.path_params["job"], "job")
    text = await site.workers.run("report", site.shop.path, job_id, seconds=ANSWER_S)
    return HTMLResponse(text, headers={"content-security-policy": SANDBOX})


async def take_back(request: Request) -> Response:
    """Undo the last write of this phone's person."""
    site = site_of(request)
    job_id = number_of(request.path_params["job"], "job")
    await site.shop.told(undo_whole, who=session_of(request).name)
    return RedirectResponse(f"/jobs/{job_id}", 303)


async def shims(request: Request) -> Response:
    """Start shim against final shim: where to start the next one like it."""
    answer = await site_of(request).shop.asked(questions.start_shims)
    rows = answer.records()
    chart = shims_chart(answer).svg(alone=False) if rows else ""
    return page(request, "shims.html", rows=rows, chart=Markup(chart), clearance=show_clearance)


async def _view(request: Request) -> shop.JobView:
    number = number_of(request.path_params["job"], "job")
    return await site_of(request).shop.asked(shop.job_view, number)


ROUTES = [
    Route("/jobs", jobs),
    Route("/jobs/{job}", one_job),
    Route("/jobs/{job}/tries/{number}", one_try),
    Route("/jobs/{job}/tries/{number}/ask", ask_again, methods=["POST"]),
    Route("/jobs/{job}/measure", measure),
    Route("/jobs/{job}/measure", keep_measured, methods=["POST"]),
    Route("/jobs/{job}/close", close_form),
    Route("/jobs/{job}/close", close, methods=["POST"]),
    Route("/jobs/{job}/undo", take_back, methods=["POST"]),
    Route("/jobs/{job}/report", report),
    Route("/shims", shims),
]
