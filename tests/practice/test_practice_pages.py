"""The printable sheet and the drawings."""

from __future__ import annotations

import re
from html import escape as plain_escape
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest

from contactread.practice.draw_svg import draw
from contactread.practice.draw_text import text_lines
from contactread.practice.question import PhotoPicture
from contactread.practice.questions import different, same_test
from contactread.practice.sheet import sheet_page
from contactread.practice.topics import GENERATED


def escape(text: str) -> str:
    """As the page writes it."""
    return plain_escape(text).replace("&#x27;", "&#39;").replace("&quot;", "&#34;")


class Tags(HTMLParser):
    """Checks that what is opened is closed."""

    empty = frozenset({"meta", "path", "rect", "image", "br"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag not in self.empty:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.empty:
            assert self.open.pop() == tag


def test_the_sheet_has_questions_first_and_answers_on_their_own_page() -> None:
    asked = same_test(2, len(GENERATED))
    page = sheet_page(asked, "Practice test <2>")
    tags = Tags()
    tags.feed(page)
    assert tags.open == []
    questions, answers = page.split('<section class="answers">')
    assert "break-before: page" in questions
    for made in asked:
        assert made.id in questions and made.id not in answers
        for reason in made.about:
            assert escape(reason.text) in answers
    assert "Practice test &lt;2&gt;" in page
    assert not re.search(r"""(src|href)=["'](?!data:)""", page), "nothing is fetched from elsewhere"
    assert page == sheet_page(same_test(2, len(GENERATED)), "Practice test <2>")


@pytest.mark.parametrize("topic", GENERATED)
def test_every_drawing_is_sound_and_tells_its_story_in_words(topic: str) -> None:
    for picture in next(different(topic, 41)).pictures:
        assert not isinstance(picture, PhotoPicture)
        tree = ElementTree.fromstring(draw(picture).svg())
        story = tree.find("{http://www.w3.org/2000/svg}desc")
        assert story is not None and story.text
        lines = text_lines(picture)
        assert any("▒" in line or "█" in line for line in lines)
        assert any("#" in line for line in text_lines(picture, plain=True))
