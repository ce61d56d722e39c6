"""A test as pages to print: the questions, three or more a page; then the answers, on sheets of their own."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Any

from contactread.facts import facts
from contactread.practice.draw_svg import draw
from contactread.practice.marked_photo import copied
from contactread.practice.marking import Mark, best_mark, source_titles, sources_of
from contactread.practice.question import (
    AMOUNT_FORMS,
    PATCH_FORM,
    Amount,
    Choice,
    GearPicture,
    PhotoPicture,
    Picture,
    Question,
)
from contactread.practice.questions import EDITION
from contactread.show.text import printable


def sheet_page(questions: Sequence[Question], title: str) -> str:
    """The page, self-contained. Raises PracticeError photo-missing."""
    marks = [best_mark(question) for question in questions]
    return render(
        "sheet.html",
        title=title,
        edition=EDITION,
        terms=_terms(questions),
        questions=[_shown(question, mark) for question, mark in zip(questions, marks, strict=True)],
        sources=source_titles(sources_of(questions)),
        caution=facts("cautions")["advice-only"]["full"],
    )


def render(template: str, **values: Any) -> str:
    """One of this room's pages; every value is escaped unless it is a drawing."""
    from markupsafe import Markup

    from contactread.show.templates import templates, typeface
    from contactread.show.typeface import FALLBACK, FAMILY

    family = Markup(f"'{FAMILY}', {FALLBACK}")
    page = templates(Path(__file__).parent).get_template(template)
    return page.render(typeface=typeface(), family=family, **values)


def picture_svg(picture: Picture) -> str:
    """The picture as SVG; a photograph is carried inside, with the tooth that is asked about marked."""
    if isinstance(picture, PhotoPicture):
        return _photo_svg(picture)
    return draw(picture).svg(alone=False)


def _shown(question: Question, mark: Mark) -> dict[str, Any]:
    from markupsafe import Markup

    answer = question.answer
    convention = question.convention
    return {
        "id": question.id,
        "prompt": question.prompt,
        "given": question.given,
        "convention": convention and convention.text,
        # Drawings are made here from numbers and escaped words, so they go in as they are.
        "pictures": [
            {
                "kind": {PhotoPicture: "photo", GearPicture: "gear"}.get(type(p), "drawing"),
                "svg": Markup(picture_svg(p)),
                "says": p.says if isinstance(p, PhotoPicture) else "",
            }
            for p in question.pictures
        ],
        "options": answer.options if isinstance(answer, Choice) else (),
        "example": AMOUNT_FORMS if isinstance(answer, Amount) else PATCH_FORM,
        "right": " ".join((mark.best, *(f"Right too: {text}" for text in mark.also_right))),
        "should": None if mark.outcomes is None else Markup(picture_svg(mark.outcomes)),
        "why": [*mark.ends, *(statement.text for statement in mark.about)],
        "against": None if mark.against_chart is None else mark.against_chart.text,
    }


def _terms(questions: Sequence[Question]) -> list[dict[str, str]]:
    """Every trade word that the questions use, once."""
    used = dict.fromkeys(term for question in questions for term in question.terms)
    entries = [facts("glossary")[term] for term in used]
    return [{"name": entry["term"], "means": entry["means"]} for entry in entries]


def _photo_svg(picture: PhotoPicture) -> str:
    from contactread.show.overlay import encode

    copy = copied(picture)
    width, height = picture.size_px or copy.size_px
    data = encode(copy.pixels)
    outline = " ".join(f"{x:.1f},{y:.1f}" for x, y in picture.outline_px)
    thick = max(width, height) / 300
    rings = "".join(
        f'<polygon points="{outline}" fill="none" stroke="{ink}" stroke-width="{w:.1f}" {dash}/>'
        for ink, w, dash in (
            ("#000000", 2 * thick, ""),
            ("#ffffff", thick, f'stroke-dasharray="{3 * thick:.0f}"'),
        )
        if outline
    )
    return (
        f'<svg viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img">'
        f"<title>{escape(printable(picture.says))}</title>"
        f'<image width="{width}" height="{height}" '
        f'href="data:image/jpeg;base64,{base64.b64encode(data).decode("ascii")}"/>{rings}</svg>'
    )
