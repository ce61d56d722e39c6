"""What the codes of rules, sources and words mean: each with its text and who says so."""

from __future__ import annotations

from collections.abc import Sequence

from contactread.errors import PracticeError
from contactread.facts import facts
from contactread.practice.marking import source_titles


def explained(code: str) -> tuple[str, tuple[str, ...]]:
    """What a code says, and the titles of its sources. Raises PracticeError rule-unknown.

    code: a rule (both-high), a source (A11) or a glossary word (toe).
    """
    name = code.removeprefix("glossary.")
    if name in facts("rules"):
        entry = facts("rules")[name]
        says = entry["says"]
        if "contradicted_by" in entry:
            says += f" Not all agree ({', '.join(entry['contradicted_by'])}): {entry['instead']}"
        return says, tuple(
            source_titles(dict.fromkeys((*entry["sources"], *entry.get("contradicted_by", ()))))
        )
    if name in facts("glossary"):
        entry = facts("glossary")[name]
        return f"{entry['term'][0].upper()}{entry['term'][1:]}: {entry['means']}", tuple(
            source_titles(entry["sources"])
        )
    if name in facts("sources") or name in ("mesh", "shop"):
        (title,) = source_titles([name])
        return title.partition(": ")[2], ()
    raise PracticeError(
        "rule-unknown",
        f"There is no rule, source or trade word {code!r}.",
        "List the rules with 'contactread practice rules'.",
    )


def rule_codes() -> tuple[str, ...]:
    """Every rule of the chart, in its order."""
    return tuple(facts("rules"))


def rules_page(codes: Sequence[str]) -> str:
    """The same as a page that stands alone."""
    from contactread.practice.sheet import render

    entries = []
    for code in codes:
        says, titles = explained(code)
        entries.append({"code": code, "says": says, "sources": titles})
    return render("rules.html", entries=entries)
