"""Pairing, the menu, help."""

from __future__ import annotations

import io

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from contactread.advice.rules import full_cautions
from contactread.flags import FLAGS
from contactread.handbook.html import page_html
from contactread.handbook.pages import HANDBOOK, load_page
from contactread.show.retake import retake_svg
from contactread.web.guard import not_paired
from contactread.web.page import page
from contactread.web.pairing import SESSION_S
from contactread.web.site import session_of, site_of
from contactread.web.views import step_here


async def pair_form(request: Request) -> Response:
    """One button. The token is swapped only when it is pressed: previews of links don't use it up."""
    token = request.path_params["token"]
    if not site_of(request).pairing.valid(token):
        raise not_paired()
    return page(request, "pair.html", token=token)


async def pair(request: Request) -> Response:
    """Swap the token for the cookie."""
    site = site_of(request)
    cookie = site.pairing.swap(request.path_params["token"])
    if cookie is None:
        raise not_paired()
    response = RedirectResponse("/", 303)
    response.set_cookie(site.cookie, cookie, max_age=int(SESSION_S), httponly=True, samesite="strict")
    return response


async def phones(request: Request) -> Response:
    """Pair another phone: a fresh code."""
    site = site_of(request)
    token = site.pairing.new_token()
    codes = [
        {"url": f"{base}/pair/{token}", "why": why, "svg": Markup(qr_svg(f"{base}/pair/{token}"))}
        for base, why in site.addresses
    ]
    return page(request, "phones.html", codes=codes)


def qr_svg(url: str) -> str:
    """A QR code as SVG without any style."""
    import segno

    out = io.BytesIO()
    segno.make(url, micro=False).save(
        out, kind="svg", scale=5, xmldecl=False, svgns=True, omitsize=True, light="#ffffff",
        title="Code to pair a phone", nl=False,
    )  # fmt: skip
    return out.getvalue().decode()


async def reach(request: Request) -> Response:
    """Shown to anybody: that this machine is reached."""
    return PlainTextResponse("contactread is reached from here.\n")


async def rename(request: Request) -> Response:
    """The name under which the book keeps what this phone does, and how it shows numbers."""
    form = await request.form(max_files=0, max_fields=5, max_part_size=1_000)
    name = " ".join(str(form.get("name", "")).split())[:100]
    if name:
        session_of(request).name = name
    if (mark := form.get("decimals")) in ("", ".", ","):
        session_of(request).decimals = str(mark)
    return RedirectResponse("/more", 303)


async def more(request: Request) -> Response:
    """Everything else: name, practice, help."""
    return page(request, "more.html", who=session_of(request).name, decimals=session_of(request).decimals)


async def flags(request: Request) -> Response:
    """What can be wrong with a photo, and what to do about it."""
    shown = [(each, step_here(each.code), Markup(retake_svg(each.code))) for each in FLAGS]
    return page(request, "flags.html", flags=shown)


async def cautions(request: Request) -> Response:
    """Every caution in full."""
    return page(request, "cautions.html", cautions=full_cautions())


async def guide(request: Request) -> Response:
    """A page of the handbook, its drawings computed."""
    name = request.path_params.get("name", "index")
    html = await run_in_threadpool(page_html, name)
    return page(request, "guide.html", title=load_page(name).title, html=Markup(html))


async def guide_picture(request: Request) -> Response:
    """The one photo of the handbook."""
    return FileResponse(HANDBOOK / "answer.jpg")


async def cannot_reach(request: Request) -> Response:
    """Why a phone doesn't get here."""
    return page(request, "cannot_reach.html", addresses=site_of(request).addresses)


ROUTES = [
    Route("/pair/{token}", pair_form),
    Route("/pair/{token}", pair, methods=["POST"]),
    Route("/phones", phones),
    Route("/reach", reach),
    Route("/me", rename, methods=["POST"]),
    Route("/more", more),
    Route("/guide", guide),
    Route("/guide/answer.jpg", guide_picture),
    Route("/guide/{name}", guide),
    Route("/help/flags", flags),
    Route("/help/cautions", cautions),
    Route("/help/reach", cannot_reach),
]
