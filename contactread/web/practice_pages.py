"""Practice: the next question, its mark, and the instructor's table."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from contactread.errors import PracticeError
from contactread.practice import progress
from contactread.practice.rules import rule_codes, rules_page
from contactread.practice.topics import TOPICS
from contactread.web.guard import HEADERS
from contactread.web.page import SANDBOX, page
from contactread.web.site import QUICK_S, session_of, site_of

# Drawings and photos of questions stand in the page itself.
PRACTICE_POLICY = HEADERS["content-security-policy"].replace("img-src 'self'", "img-src 'self' data:")


async def practice(request: Request) -> Response:
    """The next question of the course."""
    site, session = site_of(request), session_of(request)
    question = await site.workers.run("question", site.shop.path, session.name, seconds=QUICK_S)
    return _practice(request, question=question, mark=None)


async def mark(request: Request) -> Response:
    """The mark of an answer, kept for the person."""
    site, session = site_of(request), session_of(request)
    form = await request.form(max_files=0, max_fields=10, max_part_size=2_000)
    question_id, given = str(form.get("question", ""))[:60], str(form.get("given", ""))[:200]
    question, marked = await site.workers.run(
        "mark", site.shop.path, session.name, question_id, given, bool(form.get("consent")), seconds=QUICK_S
    )
    return _practice(request, question=question, mark=marked)


async def the_rules(request: Request) -> Response:
    """Rules by their codes, with their sources, as the command writes them."""
    codes = request.query_params.getlist("code")[:20] or list(rule_codes())
    return HTMLResponse(rules_page(codes), headers={"content-security-policy": SANDBOX})


def _practice(request: Request, *, mark: dict[str, Any] | None, **values: Any) -> Response:
    said = [] if mark is None else [each["rule"] for each in mark["about"] if "." not in each["rule"]]
    rules = urlencode([("code", rule) for rule in dict.fromkeys(said)])
    who = session_of(request).name
    response = page(request, "practice.html", who=who, mark=mark, rules=rules, **values)
    response.headers["content-security-policy"] = PRACTICE_POLICY
    return response


async def the_class(request: Request) -> Response:
    """The instructor's table: people against topics, and who needs what next."""
    found = await _progress(request)
    return page(
        request, "class.html", people=progress.class_rows(found), topics=list(TOPICS.values()),
        legend=progress.LEGEND,
    )  # fmt: skip


async def one_person(request: Request) -> Response:
    """One of the class, topic by topic."""
    (one,) = await _progress(request, request.query_params.get("who", "")[:100])
    needs = [TOPICS[topic] for topic in one.needs]
    return page(
        request, "person.html", one=one, needs=needs, columns=progress.TOPIC_COLUMNS,
        rows=progress.topic_rows(one), day=progress.day,
    )  # fmt: skip


async def to_print(request: Request) -> Response:
    """The table on one sheet, as the command writes it."""
    text = progress.class_page(await _progress(request))
    return HTMLResponse(text, headers={"content-security-policy": SANDBOX})


async def as_csv(request: Request) -> Response:
    """The table for a spreadsheet."""
    headers = {"content-disposition": 'attachment; filename="practice.csv"'}
    return Response(progress.class_csv(await _progress(request)), media_type="text/csv", headers=headers)


async def _progress(request: Request, who: str | None = None) -> list[progress.Progress]:
    """Of one person or of all: none where nobody answered anything yet. Raises PracticeError of one."""
    try:
        return await site_of(request).shop.asked(progress.progress_of, who)
    except PracticeError:
        if who is not None:
            raise
        return []


ROUTES = [
    Route("/practice", practice),
    Route("/practice", mark, methods=["POST"]),
    Route("/practice/rules", the_rules),
    Route("/practice/class", the_class),
    Route("/practice/class/print", to_print),
    Route("/practice/class.csv", as_csv),
    Route("/practice/person", one_person),
]
