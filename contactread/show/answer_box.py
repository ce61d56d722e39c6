"""The answer at a glance: both flanks side by side, and one box, last, with what to do.

Plain lines, without the libraries that draw tables: this is what stands between a photo and its answer.
"""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TextIO

from contactread.axle import ROLES, Axle, Role
from contactread.patch import Point
from contactread.pattern.measures import Side
from contactread.show.flank_text import WIDTH, flank_lines, legend, side_words
from contactread.show.text import printable

if TYPE_CHECKING:
    from contactread.advice.answer import Advice
    from contactread.belief.targets import Zone

GAP = 4
CAUTION = "! Advice only: the manual decides. Fingers out of the mesh. contactread cautions"
_BROADEST = 80  # of the box: longer lines are hard to read
_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"


@dataclass(frozen=True)
class Screen:
    """Where the answer is printed. width: in characters. plain: ASCII only. bold: escape codes are obeyed."""

    width: int = 80
    plain: bool = False
    bold: bool = False


@dataclass(frozen=True)
class Shown:
    """One side as it is shown above the answer. zone: where its centre is wanted. name: of its photo. after:
    where its centre is expected once the move is made.
    """

    role: Role
    side: Side | None
    zone: Zone
    name: str = ""
    after: Point | None = None


def screen_of(stream: TextIO | None = None) -> Screen:
    """What this stream, stdout as a rule, can show: 80 columns where it is no terminal."""
    stream = sys.stdout if stream is None else stream
    terminal = stream.isatty()
    try:
        "┌─▒▓╋◆·…".encode(stream.encoding or "ascii")
    except UnicodeEncodeError:
        plain = True
    else:
        plain = False
    width = shutil.get_terminal_size((80, 24)).columns if terminal else 80
    return Screen(max(width, 40), plain, terminal and not os.environ.get("NO_COLOR"))


def shown_sides(sides: Sequence[tuple[Side, str]], advice: Advice | None, axle: Axle | None) -> list[Shown]:
    """Drive first, coast second; a side without a photo stays bare. sides: each with its photo's name."""
    from contactread.belief.targets import target_for

    target = target_for(axle)
    expected = None if advice is None else advice.expected
    found = {side.role: (side, name) for side, name in sides}
    out = []
    for role in ROLES:
        side, name = found.get(role, (None, ""))
        after = None if expected is None or side is None else expected.centre(role)
        out.append(Shown(role, side, target.zone(role), name, after))
    return out


def flanks_page(flanks: Sequence[Shown], screen: Screen) -> list[str]:
    """Both flanks side by side with the wanted zone and one line each; one below the other where the screen
    is narrow.
    """
    columns = [_column(each, screen.plain) for each in flanks]
    if screen.width >= 2 * WIDTH + GAP:
        rows = zip(*columns, strict=True)
        lines = [(" " * GAP).join(f"{part:<{WIDTH}}" for part in row).rstrip() for row in rows]
    else:
        lines = [line for column in columns for line in column]
    return [*lines, legend(screen.plain, any(each.after for each in flanks))]


def box(answer: Sequence[str], screen: Screen) -> list[str]:
    """The answer, boxed: its headline, and what goes with it below."""
    corner, across, upright = ("++++", "-", "|") if screen.plain else ("╭╮╰╯", "─", "│")
    width = min(screen.width, _BROADEST)
    room = width - 4
    lines = [corner[0] + f"{across} Answer ".ljust(width - 2, across) + corner[1]]
    for number, text in enumerate(answer):
        for line in textwrap.wrap(printable(text), room, break_on_hyphens=False) or [""]:
            shown = f"{line:<{room}}"
            if screen.bold and number == 0:
                shown = f"{_BOLD}{shown}{_PLAIN}"
            lines.append(f"{upright} {shown} {upright}")
    return [*lines, corner[2] + across * (width - 2) + corner[3]]


def one_line(text: str, screen: Screen) -> str:
    """The text on one line, cut off where the screen ends."""
    shown = printable(text)
    end = "..." if screen.plain else "…"
    return shown if len(shown) <= screen.width else shown[: screen.width - len(end)] + end


def _column(flank: Shown, plain: bool) -> list[str]:
    head = f"{flank.role.upper()} side"
    if flank.side is not None:
        head += f", {flank.side.flank}"
    if flank.name:
        room = WIDTH - len(head) - 2
        name = printable(flank.name)
        head += ": " + (name if len(name) <= room else ".." + name[-(room - 2) :])
    words = "No photo of this side was read." if flank.side is None else side_words(flank.side, flank.zone)
    return [head, *flank_lines(flank.side, flank.zone, plain, flank.after), words]
