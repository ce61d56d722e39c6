"""The rule chart of `shared/rules.toml` and the cautions, ready to speak."""

from __future__ import annotations

from contactread.advice.answer import Statement
from contactread.facts import facts


def say(rule: str, text: str | None = None, *, also: tuple[str, ...] = ()) -> Statement:
    """The rule as a statement: in its own words, or in `text` where numbers are to be told.

    also: further sources that this very statement rests on, such as "mesh". KeyError: no such rule.
    """
    entry = facts("rules")[rule]
    return Statement(text or entry["says"], rule, (*entry["sources"], *also))


def contradiction(rule: str) -> Statement | None:
    """What publications say against this rule, with their ids; None where none does."""
    entry = facts("rules")[rule]
    if "contradicted_by" not in entry:
        return None
    ids = entry["contradicted_by"]
    text = f"Not all publications agree ({', '.join(ids)}). {entry['instead']}"
    return Statement(text, rule, tuple(ids))


def inspections(rule: str) -> tuple[str, ...]:
    """What to look at where this fault rule applies."""
    return tuple(facts("rules")[rule].get("inspect", ()))


def short_cautions() -> tuple[str, ...]:
    """The cautions that go with every piece of advice."""
    return tuple(c["short"] for c in facts("cautions").values() if c["with_advice"])


def full_cautions() -> tuple[Statement, ...]:
    """All cautions in full; `rule` is the caution's id in `shared/cautions.toml`."""
    return tuple(Statement(c["full"], name, tuple(c["sources"])) for name, c in facts("cautions").items())
