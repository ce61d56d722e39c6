"""Readings and advice on the terminal, for people. Every sign also has a word; colour only helps."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from contactread.advice.answer import Advice, Expectation, Statement
from contactread.advice.findings import describe
from contactread.axle import Axle
from contactread.belief.targets import target_for
from contactread.flags import flag
from contactread.reading import Reading
from contactread.show.answer_box import Screen, box
from contactread.show.flank_text import flank_lines
from contactread.show.text import printable
from contactread.units import show_clearance

_BROAD = 100  # columns from which a chart and its words stand side by side


def console() -> Console:
    """Standard output: in colour on a terminal, plain in a file or a pipe."""
    return Console(highlight=False)


def print_reading(
    to: Console, name: str, reading: Reading, axle: Axle | None = None, picture: Path | None = None
) -> None:
    """One photo: its flank chart, where the pattern sits, what may be wrong with the reading, and where
    its marked-up picture is.
    """
    side = reading.side
    zone = target_for(axle).zone(side.role)
    chart = Text("\n".join(flank_lines(side, zone, plain=to.options.ascii_only)))
    sure, polarity = reading.confidence, side.polarity.replace("_", " ")
    word = "sure" if sure >= 0.85 else "fairly sure" if sure >= 0.6 else "unsure"
    words: list[RenderableType] = [
        Text(describe(side, zone), style="bold"),
        Text(_extent(reading)),
        Text(_teeth(reading)),
        Text(f"Compound: {side.compound}, {polarity}. The reading is {word} ({sure:.0%})."),
    ]
    clear = {edge: mm for edge, mm in (side.margins_mm or {}).items() if edge not in side.runs_off}
    if clear:
        edges = ", ".join(f"{edge} {show_clearance(mm)}" for edge, mm in clear.items())
        words.append(Text(f"Clear of its edges by: {edges}."))
    for code in reading.flags:
        sign = flag(code)
        words.append(Text.assemble(("! " + sign.short + ": ", "yellow"), f"{sign.meaning} {sign.next_step}"))
    to.rule(
        Text(printable(name), style="bold"), align="left", characters="-" if to.options.ascii_only else "─"
    )
    body = Table.grid(padding=(0, 2))
    if to.width >= _BROAD:
        column = Table.grid(padding=(0, 0, 1, 0))
        for each in words:
            column.add_row(each)
        body.add_row(chart, column)
    else:
        for each in (chart, *words):
            body.add_row(each)
    to.print(body)
    if picture is not None:
        to.print(Text(f"Marked-up picture: {printable(picture)}"), soft_wrap=True)
    to.print()


def _extent(reading: Reading) -> str:
    side = reading.side
    (u0, u1), (v0, v1) = side.length, side.height
    tilt = f", tilted {abs(side.tilt_deg):.0f}° {'up' if side.tilt_deg > 0 else 'down'} toward the heel"
    return (
        f"It covers {u0:.0%} to {u1:.0%} of the length and {v0:.0%} to {v1:.0%} of the height"
        f" ({side.area_fraction:.0%} of the flank{tilt if abs(side.tilt_deg) >= 5 else ''})."
        f" The centre is known to ±{side.sigma[0]:.1%} of the length and ±{side.sigma[1]:.1%} of the height."
    )


def _teeth(reading: Reading) -> str:
    side = reading.side
    count = len(side.teeth)
    if count < 2:
        return f"{count} tooth was measured."
    spread = f"±{side.spread[0]:.1%} of the length and ±{side.spread[1]:.1%} of the height"
    return f"{count} teeth were measured; their centres scatter by {spread}."


def print_advice(
    to: Console, advice: Advice, estimated: str = "", with_sources: bool = False, boxed: bool = True
) -> None:
    """What the pair says, the next moves and what they are expected to do, the cautions; the answer last.

    Where each pattern sits is left to `print_reading`. estimated: a sentence on what had to be estimated.
    boxed: False leaves the answer to be printed by who calls.
    """

    def sentence(statement: Statement) -> Text:
        return Text.assemble(
            statement.text, (f"  [{', '.join(statement.sources)}]", "dim") if with_sources else ""
        )

    def block(heading: str, lines: list[Text]) -> None:
        if lines:
            to.print(Text(heading, style="bold"))
            for line in lines:
                to.print(Padding(line, (0, 0, 0, 2)))
            to.print()

    block("What the patterns say", [sentence(s) for s in advice.diagnosis if s.rule != "target-choice"])
    for number, move in enumerate(advice.moves, 1):
        lines = [sentence(s) for s in move.how]
        if move.expected is not None and number < len(advice.moves):  # the last one says it in its words
            lines.append(Text("After this move alone: " + _expectation(move.expected)))
        block("Next move" if len(advice.moves) == 1 else f"Move {number}", lines)
    block("What would make it surer", [sentence(s) for s in advice.surer])
    block("Inspect", [Text(f"- {what}") for what in advice.inspections])
    block("Then", [sentence(s) for s in advice.next_steps])
    block("Where publications disagree", [sentence(s) for s in advice.alternatives])
    block("What this rests on", [Text(estimated)] if estimated else [])
    block("Cautions (all of them: contactread cautions)", [Text(f"! {each}") for each in advice.cautions])
    if boxed:
        for line in box(advice.answer, Screen(to.width, to.options.ascii_only, to.is_terminal)):
            to.out(line, highlight=False)


def _expectation(expected: Expectation) -> str:
    def centre(at: tuple[float, float]) -> str:
        return f"{at[0]:.0%} of the length and {at[1]:.0%} of the height"

    text = f"drive pattern at {centre(expected.drive)}; coast pattern at {centre(expected.coast)}"
    if expected.backlash_mm is not None:
        text += f"; backlash {show_clearance(expected.backlash_mm)}"
    return f"{text}."
