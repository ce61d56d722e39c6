"""The plan of a review: shown before anything is filed, and asked about where it is in doubt."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from contactread.cli.output import print_records, say

if TYPE_CHECKING:
    from contactread.records.rounds import Round


def show_plan(rounds: Sequence[Round], folder: Path, json: bool) -> None:
    """Print which photos go to which job and try."""
    if json:
        print_records(plan=[_plain(number, each, folder) for number, each in _numbered(rounds)])
        return
    print(_table(rounds))
    for words in _doubts(rounds):
        print(f"in doubt: {words}")


def asked_about(rounds: Sequence[Round], *, ask: bool) -> list[Round]:
    """The planned tries that are filed: all of them, but for jobs in doubt that a person at the terminal
    turns down; their photos stay unfiled, and a manifest can say where they go."""
    import typer

    unsure = {each.job for each in rounds if each.doubts and each.attempt is None}
    if not unsure:
        return list(rounds)
    kept = []
    refused: set[int | str | None] = set()
    for job in dict.fromkeys(each.job for each in rounds):
        parts = [each for each in rounds if each.job == job]
        if job in unsure:
            for words in _doubts(parts):
                say(f"in doubt: {words}")
            if ask and sys.stdin.isatty():
                say(_table(parts))
                if not typer.confirm(f"File the photos of {job} so?", default=True, err=True):
                    refused.add(job)
                    say("They stay unfiled. A manifest says where they go: see --help.")
        if job not in refused:
            kept += parts
    return kept


def _numbered(rounds: Sequence[Round]) -> Iterator[tuple[int | None, Round]]:
    """Each planned try with its number within the job; counted from 1 where no folder says it."""
    counted: dict[int | str | None, int] = {}
    for each in rounds:
        if each.job is None:
            yield None, each
            continue
        counted[each.job] = each.attempt or counted.get(each.job, 0) + 1
        yield counted[each.job], each


def _table(rounds: Sequence[Round]) -> str:
    from contactread.records.moments import minute
    from contactread.show.table import text_table

    rows = [
        (
            "(unfiled)" if each.job is None else each.job if isinstance(each.job, str) else f"job {each.job}",
            number,
            len(each.photos),
            " ".join(each.sides) or None,
            None if each.taken is None else minute(each.taken),
        )
        for number, each in _numbered(rounds)
    ]
    return text_table(("job", "try", "photos", "sides", "taken"), rows)


def _doubts(rounds: Sequence[Round]) -> list[str]:
    return [f"{each.job}: {words}" for each in rounds for words in each.doubts]


def _plain(number: int | None, each: Round, folder: Path) -> dict[str, object]:
    photos = [item.path.relative_to(folder).as_posix() for item in each.photos]
    return {
        "job": each.job, "try": number, "photos": photos, "sides": list(each.sides), "taken_at": each.taken,
        "doubts": list(each.doubts),
    }  # fmt: skip
