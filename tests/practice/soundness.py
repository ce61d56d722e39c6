"""What must hold of every question and mark, held against the mechanics apart from the code that made it."""

from __future__ import annotations

import re

from contactread.axle import ROLES
from contactread.facts import facts
from contactread.practice.acting import LEFT, Act, Outcome
from contactread.practice.case import Case
from contactread.practice.chart import chart_verdict, findings_of
from contactread.practice.marking import Mark, mark
from contactread.practice.question import Amount, Choice, MarkPatch, Question

_SEARCH_MM = tuple(0.05 * k for k in range(1, 13))
_SEEN = 0.02  # of the tooth: a shift that an eye can see
_OWN = ("mesh", "shop")
_WEIGHED = ("depth", "backlash", "both", "shim", "amount", "side-shims", "used")


def good(case: Case) -> bool:
    """Whether a set is as wanted: the rule written a second time, from the numbers themselves."""
    least, most = case.limits
    fine = least - 2e-4 <= case.backlash_mm <= most + 2e-4
    for role in ROLES:
        patch, zone = case.patch(role), case.target.zone(role)
        if case.target.name == "used":
            fine &= not patch.runs_off
        else:
            (u, v), off = patch.centre, patch.runs_off
            fine &= zone.u[0] <= u <= zone.u[1] and zone.v[0] <= v <= zone.v[1] and not off & {"root", "top"}
    return fine


def faults_of(question: Question) -> list[str]:
    """What is wrong with a question and with every mark that it can give; empty for a sound one."""
    found = _stated(question)
    answer = question.answer
    if isinstance(answer, Choice):
        texts = [option.text for option in answer.options]
        found += ["two options say the same"] if len(set(texts)) < len(texts) else []
        found += ["the best isn't right"] if answer.best not in answer.right else []
        found += ["nothing is wrong"] if len(answer.right) >= len(texts) else []
        given = [option.key for option in answer.options]
    elif isinstance(answer, Amount):
        given = [f"{mm:+.3f} mm" for mm in (answer.best_mm, -answer.best_mm, 0.0001, 2 * answer.best_mm)]
    else:
        given = ["10-30 20-40", "20-80 10-90 centre 50 50"]
    for each in given:
        found += [f"{each}: {fault}" for fault in contradictions(question, mark(question, each))]
    if question.case is not None:
        found += _against_chart(question, question.case) + _by_search(question, question.case)
    return found


def _stated(question: Question) -> list[str]:
    """Its margin, its three statements with their sources, and the glossary words it uses."""
    found = [] if question.margin > 0 and question.margin_says.endswith(".") else ["margin not stated"]
    found += [] if len(question.about) == 3 else ["not three statements on the picture"]
    for reason in question.statements:
        if not reason.sources:
            found.append(f"no source for {reason.rule}")
        found += [
            f"unknown source {s}" for s in reason.sources if s not in facts("sources") and s not in _OWN
        ]
        kind, _, name = reason.rule.rpartition(".")
        if name not in facts("glossary" if kind else "rules"):
            found.append(f"unknown rule {reason.rule}")
        if "contradicted_by" in facts("rules").get(reason.rule, {}) and question.convention is None:
            found.append(f"{reason.rule} is contradicted by others, and no convention is named")
    return found + [f"unknown term {term}" for term in question.terms if term not in facts("glossary")]


def contradictions(question: Question, marked: Mark) -> list[str]:
    """Where a mark's words or its verdict go against the mechanics, or name no figure of this picture."""
    found = []
    yours, best = marked.acted
    if question.topic in _WEIGHED or (question.topic == "faults" and yours is not None):
        for outcome, right in ((yours, marked.right), (best, True)):
            if outcome is not None:
                found += _outcome(outcome, right)
    said = " ".join((*marked.ends, *(s.text for s in marked.about)))
    if marked.right and "NOT" in said:
        found.append("a right answer is told as wrong")
    if isinstance(question.answer, MarkPatch):
        return found
    case = question.case
    if case is not None and question.topic not in ("faults",):
        where = {f"{100 * x:.0f}%" for role in ROLES for x in case.patch(role).centre[:1]}
        found += [f"{place} isn't told" for place in where if place not in said]
    if not re.search(r"\d|[A-D] the|side [AB]", said):
        found.append("no figure of this picture")
    return found


def _outcome(outcome: Outcome, right: bool) -> list[str]:
    """The numbers behind the words of one outcome."""
    case, words = outcome.case, outcome.ends()
    if case is None:
        return ["lost contact is marked right"] if right else []
    found = (
        [] if good(case) == right == outcome.good else [f"marked {right}, but it ends {good(case)}: {words}"]
    )
    if case.backlash_mm > 0:
        (told,) = {float(n) for n in re.findall(r"backlash (\d+\.\d+) mm", words)} or {-1.0}
        found += (
            [] if abs(told - case.backlash_mm) <= 0.0051 else [f"backlash {case.backlash_mm:.3f}: {words}"]
        )
        found += ["in limits?"] if ("in limits" in words) != right and right else []
    for role, percent, size, way in re.findall(
        r"(drive|coast) patch lies ([\d.]+)% of the (\w+) (\S+)", words.lower()
    ):
        patch, zone = case.patch(role), case.target.zone(role)
        value, (low, high) = (patch.centre[0], zone.u) if size == "length" else (patch.centre[1], zone.v)
        beyond = max(low - value, value - high)
        found += [] if abs(100 * beyond - float(percent)) <= 0.51 else [f"{beyond:.3f}: {words}"]
        found += (
            [] if size == "length" or (way == "higher") == (value > high) else [f"the wrong way: {words}"]
        )
    return found


def direction_of(question: Question, case: Case) -> tuple[int, int]:
    """Which way acting on the best answer moves the pinion, or else the ring gear: -1, 0 or 1 for each."""
    answer = question.answer
    assert isinstance(answer, Choice)
    leads_to = answer.option(answer.best).leads_to
    after = None if leads_to is None else leads_to().case
    if after is None:
        return 0, 0
    pinion, ring = after.pinion_mm - case.pinion_mm, after.ring_mm - case.ring_mm
    if abs(pinion) > 1e-6:
        return (1 if pinion > 0 else -1), 0
    return 0, (0 if abs(ring) < 1e-6 else 1 if ring > 0 else -1)


def _by_search(question: Question, case: Case) -> list[str]:
    """More amounts than were tried when the question was made: none may make a wrong direction good."""
    if question.topic not in ("depth", "shim") or not case.within_limits():
        return []
    found = []
    answer = question.answer
    assert isinstance(answer, Choice)
    best = direction_of(question, case)
    for way in ((-1, 0), (1, 0)):
        ends = [_moved(case, way, mm) for mm in _SEARCH_MM]
        if way == best:
            found += [] if any(good(c) for c in ends if c) else ["no amount the right way is good"]
        else:
            found += [f"{way} is good by {c}" for c in ends if c and good(c)]
    return found


def _moved(case: Case, way: tuple[int, int], mm: float) -> Case | None:
    moved = case.moved(way[0] * mm, way[1] * mm)
    if not moved.touches:
        return None
    moved = moved.with_backlash(case.backlash_mm)
    return moved if moved.touches else None


def _against_chart(question: Question, case: Case) -> list[str]:
    """A question that answers otherwise than the chart must say so."""
    answer = question.answer
    if question.against_chart is not None:
        return []
    if question.topic in ("cutting", "what-if"):
        return _against_effects(question, case)
    if isinstance(answer, Amount) and question.topic == "amount":
        deeper = (answer.best_mm > 0) == (case.axle.pinion_shim.place == "behind_head")
        heights = {findings_of(case).drive_height, findings_of(case).coast_height}
        return [] if ("high" in heights) == deeper else ["the amount goes against the heights"]
    if question.topic == "faults" and case.offset_mm:
        return [] if chart_verdict(case).fault else ["the chart sees no fault"]
    if question.topic == "both":
        settled = case.with_backlash(case.middle)
        first, then = chart_verdict(case).act, chart_verdict(settled).act
        way = direction_of(question, case)
        return (
            [] if first.ring and Act(pinion=way[0]) == then else [f"the chart asks for {first}, then {then}"]
        )
    if question.topic not in ("depth", "backlash", "shim", "used"):
        return []
    asked, way = chart_verdict(case).act, direction_of(question, case)
    return (
        []
        if (asked.pinion, asked.ring) == way or (asked == LEFT and way == (0, 0))
        else [f"{asked}, not {way}"]
    )


def _against_effects(question: Question, case: Case) -> list[str]:
    """Every shift that the eye can see against the words of the effect rule."""
    answer = question.answer
    assert isinstance(answer, Choice)
    leads_to = answer.option(answer.best).leads_to
    after = None if leads_to is None else leads_to().case
    assert after is not None
    rule = next(reason.rule for reason in question.about if reason.rule.startswith("effect-"))
    entry, found = facts("rules")[rule], []
    printed = dict(entry["effect"]) | entry.get(f"effect_{case.axle.gears.cutting}", {})
    for role in ROLES:
        before, then = case.patch(role).centre, after.patch(role).centre
        for index, (what, less, more) in enumerate(
            (("length", "toe", "heel"), ("height", "lower", "higher"))
        ):
            if question.topic == "cutting" and what == "height":
                continue
            shift = then[index] - before[index]
            word = more if shift > 0 else less
            told = printed.get(f"{case.flank(role)}_{what}", word)
            if abs(shift) >= _SEEN and told != word:
                found.append(f"{role} goes to the {word}, the chart says {told}, and nothing is said")
    return found
