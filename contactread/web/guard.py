"""What every request passes first: host, pairing, cross-site, rate, size, time and disk. Plain ASGI.

A page on a workshop network is open to every machine there and, through the browsers of the people in the
shop, to every web site they visit. So: only our own names as Host, only paired phones, only our own pages
may change anything, nothing larger or slower than a photo needs.
"""

from __future__ import annotations

import asyncio
import hmac
import os
import shutil
import time
from collections.abc import Callable, Iterable
from http.cookies import SimpleCookie
from pathlib import Path

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from contactread.errors import ContactreadError
from contactread.photo.limits import MOST_BYTES
from contactread.web.pairing import Bucket, Pairing, Session

# These limits are our choices, far from what an honest phone in a poor network needs.
MOST_FORM = 200_000
MOST_UPLOAD = 4 * MOST_BYTES  # a form with several photos
UPLOADS = {"/photos": MOST_UPLOAD, "/api/v1/photos": MOST_BYTES}
OPEN = ("/static/", "/pair/", "/reach")
CHUNK_S = 15.0  # between two pieces of a body
SLOWEST = 50_000  # bytes a second, in the mean, after the first 30 s
ROOM = 400_000_000  # bytes that stay free on the book's disk
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' blob:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), camera=()",
    "cache-control": "no-store",
}


class Guard:
    """The outermost layer of the page. hosts: what a Host header may say. folder: where the book lies.

    cookie: the name of the pairing cookie. free: bytes free in a folder. show: makes the answer for an
    error that refuses a request, as a page or as JSON.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        pairing: Pairing,
        hosts: Iterable[str],
        cookie: str,
        folder: Path,
        show: Callable[[Scope, ContactreadError], ASGIApp],
        free: Callable[[Path], int] = lambda folder: shutil.disk_usage(folder).free,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._app, self._pairing, self._cookie = app, pairing, cookie
        self._hosts = {host.lower() for host in hosts}
        self._folder, self._free, self._show, self._clock = folder, free, show, clock
        self._strangers: dict[str, Bucket] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return

        async def safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(raw=message.setdefault("headers", []))
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        try:
            self._check(scope)
            body = _Body(receive, _most_bytes(scope), self._clock)
        except ContactreadError as refused:
            await self._show(scope, refused)(scope, receive, safely)
            return
        try:
            await self._app(scope, body.receive, safely)
        except Exception:
            # Whatever it was, it is answered already: the application turns every error into one with a code.
            if os.environ.get("CONTACTREAD_DEBUG"):
                raise

    def _check(self, scope: Scope) -> None:
        headers = Headers(scope=scope)
        host = headers.get("host", "").lower()
        if host not in self._hosts:
            raise ContactreadError(
                "host-foreign", "This page isn't served under that name.",
                "Use the address that contactread printed when it was started.")  # fmt: skip
        path: str = scope["path"]
        cookies = SimpleCookie()
        try:
            cookies.load(headers.get("cookie", ""))
        except Exception:
            cookies.clear()
        given = cookies.get(self._cookie)
        session = self._pairing.session(given.value) if given else None
        bucket = session.bucket if session else self._stranger(scope)
        if not bucket.take():
            raise ContactreadError(
                "too-often", "Too many requests came from here in a short time.",
                "Wait a minute, then try again.")  # fmt: skip
        scope.setdefault("state", {})["session"] = session
        if scope["method"] not in SAFE_METHODS:
            _refuse_cross_site(scope, headers, host, session)
        if session is None and not path.startswith(OPEN):
            raise not_paired()
        _refuse_long(scope, headers)
        if path in UPLOADS and scope["method"] == "POST" and self._free(self._folder) < ROOM:
            raise ContactreadError(
                "disk-low", "The computer's disk is nearly full, so no photo is taken in.",
                "Free some space on the computer, then send the photo again.")  # fmt: skip

    def _stranger(self, scope: Scope) -> Bucket:
        client = scope.get("client") or ("?", 0)
        if len(self._strangers) > 1000:
            self._strangers.clear()
        return self._strangers.setdefault(client[0], Bucket(120, 2, self._clock))


def not_paired() -> ContactreadError:
    """The error for a phone that has no valid cookie."""
    return ContactreadError(
        "not-paired",
        "This phone isn't paired with contactread, or its pairing has run out.",
        "Press Enter where contactread runs, and scan the new code with the phone's camera.",
    )


def _refuse_cross_site(scope: Scope, headers: Headers, host: str, session: Session | None) -> None:
    """Only our own pages may send anything. A script's request carries their Origin; a form's carries
    "null", for no-referrer hides it, so the form carries the phone's key. What pairs carries the token.
    """
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site in (None, "same-origin"):
        if origin == f"http://{host}":
            return
        key = QueryParams(scope["query_string"]).get("key", "")
        known = session is not None and hmac.compare_digest(session.key.encode(), key.encode())
        if origin in (None, "null") and (known or scope["path"].startswith("/pair/")):
            return
    raise ContactreadError(
        "cross-site", "This request came from another page, so nothing was done.",
        "Open the page itself, and do it there.")  # fmt: skip


def _most_bytes(scope: Scope) -> int:
    path: str = scope["path"]
    return UPLOADS.get(path, MOST_FORM)


def _refuse_long(scope: Scope, headers: Headers) -> None:
    length = headers.get("content-length", "0")
    if not length.isascii() or not length.isdigit() or int(length) > _most_bytes(scope):
        raise _too_long(_most_bytes(scope))


def _too_long(most: int) -> ContactreadError:
    return ContactreadError(
        "body-too-long", f"More was sent than {most / 1e6:.1f} MB.",
        "Send fewer photos at once, or smaller ones.")  # fmt: skip


class _Body:
    """A request's body: not longer than `most` bytes, not slower than a poor network."""

    def __init__(self, receive: Receive, most: int, clock: Callable[[], float]) -> None:
        self._receive, self._most, self._clock = receive, most, clock
        self._got, self._began, self._whole = 0, clock(), False

    async def receive(self) -> Message:
        if self._whole:  # what comes now is only the end of the connection
            return await self._receive()
        try:
            async with asyncio.timeout(CHUNK_S):
                message = await self._receive()
        except TimeoutError:
            raise _too_slow() from None
        if message["type"] == "http.request":
            self._got += len(message.get("body", b""))
            self._whole = not message.get("more_body", False)
            if self._got > self._most:
                raise _too_long(self._most)
            if not self._whole and self._clock() - self._began > 30 + self._got / SLOWEST:
                raise _too_slow()
        return message


def _too_slow() -> ContactreadError:
    return ContactreadError(
        "too-slow", "The connection was too slow, so what had come was dropped.",
        "Go nearer to the access point, then send it again.")  # fmt: skip
