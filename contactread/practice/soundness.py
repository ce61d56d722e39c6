"""What must hold of every question, checked apart from the code that made it."""

from __future__ import annotations

from contactread.facts import facts
from contactread.practice.ask_wrong import MARGIN
from contactread.practice.case import ROLES, Case, Member, backlash_middle, flank_of, limits_of
from contactread.practice.chart import Way, chart_verdict, findings_of, foretold
from contactread.practice.question import Amount, Choice, Question

# Travels searched for something better than the best answer: finer and wider than when it was made.
_SEARCH_MM = tuple(0.04 * k for k in range(1, 16))
_SEEN = 0.02  # of the tooth: a shift that an eye can see
_CHART: dict[tuple[Member | None, Way | None], tuple[int, int]] = {
    ("pinion", "toward"): (-1, 0),
    ("pinion", "away"): (1, 0),
    ("ring_gear", "toward"): (0, -1),
    ("ring_gear", "away"): (0, 1),
}


def faults_of(question: Question) -> list[str]:
    """What is wrong with a question, in words; empty for a sound one."""
    found = _one_best(question) + _stated(question)
    if not question.margin > 0:
        found.append("no margin")
    if question.case is not None:
        found += _margin_kept(question, question.case) + _against_chart(question, question.case)
    return found


def _one_best(question: Question) -> list[str]:
    answer = question.answer
    if not isinstance(answer, Choice):
        return []
    texts = [option.text for option in answer.options]
    found = [] if len(set(texts)) == len(texts) else ["two options say the same"]
    if sum(option.key == answer.right for option in answer.options) != 1:
        found.append("not exactly one right option")
    return found if len(texts) >= 2 else [*found, "nothing to choose"]


def _stated(question: Question) -> list[str]:
    """Its margin, its reasons with their sources, and the glossary words it uses."""
    found = [] if question.margin_says.strip() else ["margin not stated"]
    for reason in (*question.why, *(r for r in (question.convention, question.against_chart) if r)):
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


_OWN = ("mesh", "shop")


def _margin_kept(question: Question, case: Case) -> list[str]:
    """Search more moves than were tried when the question was made: none may beat the best answer."""
    if question.topic in ("depth", "backlash", "shim"):
        return _beaten(question, case)
    if question.topic == "amount":
        return _beaten_amount(question)
    if question.topic == "faults" and case.bore is not None:
        best = _least_anywhere(case)
        return [] if best >= MARGIN else [f"shims bring the faulty set to {best:.3f}"]
    return []


_DIRECTIONS = ((-1, 0), (1, 0), (0, -1), (0, 1))


def _beaten(question: Question, case: Case) -> list[str]:
    best = direction_of(question, case)
    if best == (0, 0):
        return [] if case.within_limits() and chart_verdict(case).member is None else ["not all right"]
    right = _reach(case, *best)
    other = min(_reach(case, *way) for way in _DIRECTIONS if way != best)
    # A finer search may find a little less margin than was stated, never less than the least allowed.
    if other - right < MARGIN or other - right < 0.7 * question.margin:
        return [f"margin {question.margin:.3f} was stated, a finer search finds {other - right:.3f}"]
    return []


def direction_of(question: Question, case: Case) -> tuple[int, int]:
    """Which way acting on the right option moves the pinion, or else the ring gear: -1, 0 or 1 for each."""
    answer = question.answer
    assert isinstance(answer, Choice)
    leads_to = answer.option(answer.right).leads_to
    after = None if leads_to is None else leads_to()
    if after is None:
        return 0, 0
    pinion, ring = after.pinion_mm - case.pinion_mm, after.ring_mm - case.ring_mm
    if abs(pinion) > 1e-6:
        return (1 if pinion > 0 else -1), 0
    return 0, (0 if abs(ring) < 1e-6 else 1 if ring > 0 else -1)


def _beaten_amount(question: Question) -> list[str]:
    answer = question.answer
    assert isinstance(answer, Amount)
    best = answer.travel_of(answer.right_mm).off()
    beyond = [
        answer.right_mm + sign * (answer.tolerance_mm + more) for sign in (-1, 1) for more in (0.0, 0.1)
    ]
    worse = [answer.travel_of(mm) for mm in beyond]
    least = min((case.off() for case in worse if case.touches), default=1.0)
    return [] if least > best else ["an amount outside the tolerance is better"]


def _least_anywhere(case: Case) -> float:
    """The least distance from right over all places of pinion and ring gear with backlash in limits."""
    least, most = limits_of(case.axle)
    reached = [1.0]
    for step in range(-8, 9):
        moved = case.moved(pinion_mm=0.05 * step)
        for share in (0.05, 0.5, 0.95):
            there = moved.with_backlash(least + share * (most - least)) if moved.touches else moved
            if there.touches:
                reached.append(there.off())
    return min(reached)


def _reach(case: Case, pinion: int, ring: int) -> float:
    """The least distance from right that moves of one kind and way reach, ending in limits."""
    reached = [1.0]
    for mm in _SEARCH_MM:
        moved = case.moved(pinion * mm, ring * mm)
        if not moved.touches:
            continue
        if pinion and case.within_limits():
            moved = moved.with_backlash(case.backlash_mm)
        if moved.touches and moved.within_limits():
            reached.append(moved.off())
    return min(reached)


def _against_chart(question: Question, case: Case) -> list[str]:
    """A question that answers otherwise than the chart must say so."""
    if question.against_chart is not None:
        return []
    if question.topic in ("cutting", "what-if"):
        return _against_effects(question, case)
    if question.topic == "amount":
        return _against_amount(question, case)
    if question.topic == "both":
        return _against_both(question, case)
    if question.topic == "faults" and case.bore is not None:
        return [] if chart_verdict(case).fault else ["the chart sees no fault"]
    if question.topic not in ("depth", "backlash", "shim", "used"):
        return []
    asked, direction = _asked(case), direction_of(question, case)
    return [] if asked == direction else [f"the chart asks for {asked}, the question for {direction}"]


def _asked(case: Case) -> tuple[int, int]:
    """The way that the chart asks pinion or ring gear to go."""
    verdict = chart_verdict(case)
    return _CHART.get((verdict.member, verdict.way), (0, 0))


def _against_both(question: Question, case: Case) -> list[str]:
    """Ring gear first, as the chart asks; then the pinion, as it asks once backlash is in limits."""
    answer = question.answer
    assert isinstance(answer, Choice)
    settled = case.with_backlash(backlash_middle(case.axle))
    first, then = _asked(case), _asked(settled)
    text = answer.option(answer.right).text
    ring = "away from" if first == (0, 1) else "toward"
    if not first[1] or f"First the ring gear {ring} the pinion" not in text:
        return [f"the chart asks for {first} first"]
    direction = direction_of(question, case)
    found = [] if then == direction else [f"the chart then asks for {then}, the question for {direction}"]
    way = direction[0]
    if _reach(settled, -way, 0) - _reach(settled, way, 0) < MARGIN:
        found.append("the pinion's way doesn't matter enough")
    return found


def _against_effects(question: Question, case: Case) -> list[str]:
    """Every shift that the eye can see against the words of the effect rule."""
    answer = question.answer
    assert isinstance(answer, Choice)
    leads_to = answer.option(answer.right).leads_to
    after = None if leads_to is None else leads_to()
    assert after is not None
    rule = next(reason.rule for reason in question.why if reason.rule.startswith("effect-"))
    printed, found = foretold(rule, case), []
    for role in ROLES:
        before, then = case.patch(role).centre, after.patch(role).centre
        flank = flank_of(case.axle, role)
        for index, (less, more) in enumerate((("toe", "heel"), ("lower", "higher"))):
            shift = then[index] - before[index]
            word = more if shift > 0 else less
            told = printed.get((flank, "length" if index == 0 else "height"), word)
            if abs(shift) >= _SEEN and told != word:
                found.append(f"{role} goes to the {word}, the chart says {told}, and nothing is said")
    return found


def _against_amount(question: Question, case: Case) -> list[str]:
    """High patches call for the pinion toward the ring gear, low ones for it away."""
    answer = question.answer
    assert isinstance(answer, Amount)
    deeper = (answer.right_mm > 0) == (case.axle.pinion_shim.place == "behind_head")
    heights = {findings_of(case).drive_height, findings_of(case).coast_height}
    return [] if ("high" in heights) == deeper else ["the amount goes against the heights"]
