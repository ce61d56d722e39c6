"""A page of the handbook as HTML for the phone page: no script, no style of its own, drawings within."""

from __future__ import annotations

import re
from functools import lru_cache

from contactread.handbook.pages import filled, load_page
from contactread.handbook.pictures import pictures

_MARK = "picture-{}-here"


@lru_cache(maxsize=32)
def page_html(name: str) -> str:
    """The page's content. Links lead to /guide/NAME. Raises `ContactreadError` guide-page-missing."""
    from markdown_it import MarkdownIt

    placed: dict[str, str] = {}

    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")

    def place(picture: str, words: str) -> str:
        mark = _MARK.format(picture)
        caption = markdown.renderInline(words)
        drawing = pictures()[picture].drawing().svg(alone=False)
        placed[f"<p>{mark}</p>"] = (
            f'<figure><div class="wide" tabindex="0">{drawing}</div>'
            f'<figcaption class="quiet">{caption}</figcaption></figure>'
        )
        return mark

    text = filled(load_page(name), place)
    page: str = markdown.render(text)
    for mark, drawing in placed.items():
        page = page.replace(mark, drawing)
    page = page.replace("<table>", '<div class="scroll" tabindex="0"><table>')
    page = page.replace("</table>", "</table></div>")
    page = page.replace("<pre>", '<pre class="scroll" tabindex="0">')
    for linked in ("href", "src"):
        page = page.replace(f'{linked}="answer.jpg"', f'{linked}="/guide/answer.jpg"')
    return re.sub(r'href="([\w-]+)\.md"', r'href="/guide/\1"', page)
