"""Data on stdout, talk on stderr."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TextIO

from contactread.show.text import printable


def say(words: str) -> None:
    """One line of talk for the person at the terminal."""
    print(fitted(printable(words), sys.stderr), file=sys.stderr, flush=True)


def show(text: str) -> None:
    """Lines for a person, on stdout; each line broken between words where it is too long for the screen."""
    print(fitted(text, sys.stdout), flush=True)


def fitted(text: str, stream: TextIO) -> str:
    """The text as it fits the screen behind a stream, going on two places further in; as it is elsewhere."""
    if not stream.isatty():
        return text
    import shutil
    import textwrap

    width = max(40, shutil.get_terminal_size((80, 24)).columns)
    return "\n".join(
        line
        if len(line) <= width
        else textwrap.fill(
            line, width, subsequent_indent=" " * (len(line) - len(line.lstrip()) + 2),
            break_on_hyphens=False, break_long_words=False,
        )
        for line in text.split("\n")
    )  # fmt: skip


def print_json(value: Any) -> None:
    """One object for programs, in ASCII: sound in every encoding, and no terminal obeys what a name holds."""
    import json

    text = json.dumps(value, allow_nan=False, indent=1, default=_plain)
    print(text.replace("\x7f", "\\u007f"), flush=True)


def _plain(value: Any) -> Any:
    """A record (a dataclass) or a path as plain data."""
    from dataclasses import fields

    if isinstance(value, Path):
        return str(value)
    return {each.name: getattr(value, each.name) for each in fields(value)}


def print_records(**values: Any) -> None:
    """Records of the shop, and plain data, as one object for programs, with its schema's number first."""
    print_json({"schema": 1} | values)


def write_new(path: Path, data: bytes, next_step: str = "Choose another name.") -> None:
    """Write a new file; one that exists, perhaps a photo, is left as it is.

    Raises ContactreadError file-exists.
    """
    try:
        put_whole(path, data)
    except FileExistsError as error:
        from contactread.errors import ContactreadError

        raise ContactreadError(
            "file-exists", f"'{path}' exists already; it was left as it is.", next_step
        ) from error


def put_whole(path: Path, data: bytes) -> None:
    """Write a new file, whole or not at all: half of one would bar its name. Raises FileExistsError."""
    file = path.open("xb")
    try:
        with file:
            file.write(data)
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def page_bytes(html: str, path: Path) -> bytes:
    """A page as it goes into a file: printed where the file's name ends in .pdf."""
    if path.suffix.lower() != ".pdf":
        return html.encode()
    from contactread.show.printing import page_as_pdf

    return page_as_pdf(html)


@contextmanager
def progress(words: str, total: int | None) -> Iterator[Callable[[], None]]:
    """A bar on stderr where that is a terminal; the yielded function moves it on by one."""
    if not sys.stderr.isatty():
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(printable(words), total=total)
        yield lambda: bar.advance(task)
