"""A new job on the page: its form, and the axle that it names."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from contactread.errors import AxleFileError
from contactread.records.book import Book
from contactread.records.jobs import list_jobs, open_job
from contactread.web.axles import FORM, axle_text
from contactread.web.given import number_of, photo_hashes, text_of
from contactread.web.page import page
from contactread.web.site import session_of, site_of

MOST_AXLE_BYTES = 100_000  # our choice, far above what an axle file needs


async def new_job(request: Request) -> Response:
    """The form for a job. Photos that are to go into it come along in the address."""
    site = site_of(request)
    kinds = await site.shop.asked(_axles_known)
    return page(
        request, "new_job.html", fields=FORM, kinds=kinds, usual=site.axle_text is not None,
        carried=_carried(request.query_params.multi_items()), who=session_of(request).name,
    )  # fmt: skip


async def make_job(request: Request) -> Response:
    """Open the job, then go on with the photos."""
    site, session = site_of(request), session_of(request)
    async with request.form(max_files=1, max_fields=40, max_part_size=20_000) as form:
        text = await _axle_of(request, form)
        session.name = text_of(form, "who").strip()[:100] or session.name
        job = await site.shop.told(
            open_job, vehicle=text_of(form, "vehicle"), axle_text=text, who=session.name,
            gear_set=text_of(form, "gear_set"), notes=text_of(form, "notes"),
        )  # fmt: skip
        carried = _carried(form.multi_items())
    return RedirectResponse(f"/?{urlencode([('job', job.id), *carried])}", 303)


async def _axle_of(request: Request, form: FormData) -> str:
    """The axle file that the form means: of an earlier job, the usual one, a file, or made of numbers."""
    site, choice = site_of(request), text_of(form, "axle")
    if choice.startswith("job-"):
        return str(await site.axle_for(number_of(choice[4:], "job")))
    if choice == "usual" and site.axle_text is not None:
        return site.axle_text
    if choice == "file":
        file = form.get("axle_file")
        data = await file.read(MOST_AXLE_BYTES + 1) if isinstance(file, UploadFile) else b""
        try:
            if not data or len(data) > MOST_AXLE_BYTES:
                raise ValueError
            return data.decode("utf-8")
        except ValueError:
            raise AxleFileError(
                "axle-unreadable", "No axle file came, or it isn't plain text.",
                "Choose an axle file: a text file whose name ends in .toml.") from None  # fmt: skip
    fields = {name: text_of(form, name) for name, *_ in FORM}
    return axle_text(text_of(form, "axle_name"), text_of(form, "place"), fields)


def _axles_known(book: Book) -> list[tuple[int, str]]:
    """The newest job of each kind of axle: its number and the kind."""
    kinds: dict[str, int] = {}
    for job in list_jobs(book, most=200):
        kinds.setdefault(job.kind, job.id)
    return [(number, kind) for kind, number in kinds.items()]


def _carried(items: list[tuple[str, Any]]) -> list[tuple[str, str]]:
    """Photos and backlash that go along to the next page."""
    texts = [(name, value) for name, value in items if isinstance(value, str)]
    hashes = photo_hashes(value for name, value in texts if name == "photo")
    backlash = " ".join(value[:40] for name, value in texts if name == "backlash")
    return [("photo", each) for each in hashes] + ([("backlash", backlash)] if backlash else [])


ROUTES = [Route("/jobs/new", new_job), Route("/jobs", make_job, methods=["POST"])]
