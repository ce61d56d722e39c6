"""`contactread guide`: the handbook on the terminal, as a site, and the reference made from the code."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Annotated

import typer

from contactread.cli import options
from contactread.cli.output import say, write_new
from contactread.errors import ContactreadError


def guide(
    page: Annotated[
        str | None, options.argument("PAGE", "The page to show; without it all are listed.")
    ] = None,
    picture: Annotated[
        Path | None, options.file("Write one picture of the handbook, such as pinion-deep.svg or .png.")
    ] = None,
    site: Annotated[
        Path | None, options.folder("Build everything as a site that works without a network.")
    ] = None,
    schema: Annotated[
        str | None, options.name("Print the JSON Schema of read, predict, axle or others.")
    ] = None,
    manual: Annotated[
        bool, options.option("Print the manual page, as for: man -l FILE.", "--manual")
    ] = False,
) -> None:
    """The handbook: paint, photograph, read, decide, move, measure, sign off; and the reference.

    Pictures and printed output in it are made by contactread itself when a page is shown.
    """
    if sum(map(bool, (page, picture, site, schema, manual))) > 1:
        raise typer.BadParameter("ask for one thing at a time")
    if picture is not None:
        _write_picture(picture)
    elif site is not None:
        _build(site)
    elif schema is not None:
        from contactread.handbook.schemas import schema_text

        print(schema_text(schema), end="")
    elif manual:
        from contactread.cli.reference import manual_page

        print(manual_page(), end="")
    elif page is not None:
        _show(page)
    else:
        _list()


def _list() -> None:
    from contactread.cli.reference import REFERENCE
    from contactread.handbook.pages import PAGES, load_page

    titles = {name: load_page(name).title for name in PAGES} | {
        name: title for name, (title, _) in REFERENCE.items()
    }
    width = max(map(len, titles))
    print("\n".join(f"{name:<{width}}  {title}" for name, title in titles.items()))
    print("\ncontactread guide PAGE shows one.")


def text_of(name: str) -> str:
    """A page of the handbook or of the reference, as Markdown for the terminal."""
    from contactread.cli.reference import REFERENCE
    from contactread.handbook.pages import filled, load_page
    from contactread.handbook.pictures import pictures
    from contactread.show.terminal import console

    plain = console().options.ascii_only

    def place(picture: str, caption: str) -> str:
        drawn = "\n".join(pictures()[picture].lines(plain))
        return f"```text\n{drawn}\n```\n\n*{caption}*"

    text = REFERENCE[name][1]() if name in REFERENCE else filled(load_page(name), place)
    text = re.sub(r"!\[([^\]]*)\]\([^)]*\)", r"*Picture: \1*", text)
    return re.sub(r"\[([^\]]+)\]\(([\w-]+)\.md\)", r"\1 (`guide \2`)", text)


def _show(name: str) -> None:
    from rich.markdown import Markdown

    from contactread.show.terminal import console

    to, page = console(), Markdown(text_of(name), hyperlinks=False)
    if not to.is_terminal:
        to.print(page)
        return
    os.environ.setdefault("LESS", "-FRX")  # colours as they are; what fits on the screen just stays there
    with to.pager(styles=os.name != "nt"):
        to.print(page)


def _write_picture(path: Path) -> None:
    from contactread.cli.pictures import drawing_writer
    from contactread.handbook.pictures import pictures

    write = drawing_writer(path)
    held = pictures()
    if path.stem not in held:
        raise ContactreadError(
            "guide-picture-missing",
            f"The handbook has no picture '{path.stem[:40]}'.",
            f"They are: {', '.join(held)}.",
        )
    write_new(path, write(held[path.stem].drawing()))
    say(f"Picture: {path}")


def _build(folder: Path) -> None:
    from contactread.cli.reference import REFERENCE
    from contactread.handbook.site import build

    build(folder, {name: make() for name, (_, make) in REFERENCE.items()})
    say(f"Open {folder / 'index.html'}")
