"""The page as one ASGI application."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Scope

from contactread.errors import ContactreadError
from contactread.web import (
    api,
    book_pages,
    new_job_pages,
    other_pages,
    photo_pages,
    practice_pages,
    slip_pages,
)
from contactread.web.guard import Guard
from contactread.web.page import HERE, error_page, next_step
from contactread.web.site import Site, as_coded, status_of

ROUTES = [
    *photo_pages.ROUTES, *new_job_pages.ROUTES, *book_pages.ROUTES, *slip_pages.ROUTES,
    *practice_pages.ROUTES, *other_pages.ROUTES, *api.ROUTES,
]  # fmt: skip


def make_app(site: Site, hosts: Iterable[str], **guard: Any) -> ASGIApp:
    """The whole page behind its guard. hosts: what the Host header may say. guard: see `Guard`."""
    inner = Starlette(
        routes=[Mount("/static", StaticFiles(directory=HERE / "static"), name="static"), *ROUTES],
        exception_handlers={ContactreadError: _say, HTTPException: _say, Exception: _say},
    )
    inner.state.site = site
    return Guard(
        inner, pairing=site.pairing, hosts=hosts, cookie=site.cookie, folder=site.shop.path.parent,
        show=lambda scope, error: _answer(scope, error, status_of(error)), **guard,
    )  # fmt: skip


async def _say(request: Request, error: Exception) -> Response:
    coded = as_coded(error)
    status = error.status_code if isinstance(error, HTTPException) else status_of(coded)
    return _answer(request.scope, coded, status)


def _answer(scope: Scope, error: ContactreadError, status: int) -> Response:
    """The error in the shape that was asked for: a page, or the one JSON object."""
    # A path in it may hold bytes that are no text: they are spelled out.
    words = (text.encode("utf-8", "backslashreplace").decode() for text in (error.message, error.next_step))
    error = ContactreadError(error.code, *words)
    if scope["path"].startswith("/api/"):
        told = error.to_json() | {"next_step": next_step(error)}
        response: Response = JSONResponse({"error": told}, status)
    else:
        response = error_page(error, status, paired=scope.get("state", {}).get("session") is not None)
    if status in (408, 413):  # what is still coming isn't read
        response.headers["connection"] = "close"
    return response
