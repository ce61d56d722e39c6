"""From two patterns to the next move: the one path of advice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from contactread.advice.answer import Advice, Statement, Verdict
from contactread.advice.backlash import COMMON_MM, Backlash, judge_backlash
from contactread.advice.backlash_words import about_backlash, backlash_faults
from contactread.advice.by_mesh import MeshAdvice
from contactread.advice.faults import Fault, find_faults
from contactread.advice.findings import Findings, contradictions, describe, diagnose, find, read_outside
from contactread.advice.first_move import chart_moves
from contactread.advice.gear_set_words import lengthwise, of_this_gear_set
from contactread.advice.looks import agreeing, looked_again, moved
from contactread.advice.misfit import HARDLY_A_CHANCE, LITTLE_CHANCE
from contactread.advice.roles import by_roles, refuse_other_hand
from contactread.advice.rough import ACCEPT_CHANCE, GUESS, UNFIT, read_right, unknown_axle
from contactread.advice.rules import inspections, say, short_cautions
from contactread.advice.steps import cannot_know, next_steps
from contactread.advice.used import used_gears
from contactread.axle import Axle
from contactread.belief.targets import Target, target_for
from contactread.belief.tries import EarlierTry
from contactread.errors import MechanicsError
from contactread.gear_classes import supposed_set
from contactread.pattern.measures import Setup

_ROUGHLY_RIGHT = "All looks right; without your gears' own numbers, look once more to be sure of it."
_NOT_READ_RIGHT = "All looks right, but without your gears' own numbers these readings don't show it surely."
_BY_CHART = (
    "No amount: gears of cars and light trucks hardly show such patterns. Go in small steps, and read again."
)
_COARSE = "This reading is less certain than the wanted zone is wide."
_LOOKS_DIFFER = (
    "The last two looks at the same shims differ: was a shim changed that nobody wrote down, or is one of "
    "another axle?"
)


def advise(
    setup: Setup,
    axle: Axle | None = None,
    history: Sequence[EarlierTry] = (),
    target: Target | None = None,
) -> Advice:
    """What the two patterns say and which move comes next.

    setup: both sides as read, with the backlash where it was measured. axle: None where nothing is known of
    it; amounts are then guessed over classes of gear sets, as where its teeth or diameter are supposed.
    history: earlier tries of this set-up, oldest first, each with the move made after it. target: where the
    patterns are wanted, in place of the target that the axle names.
    Raises AdviceError: same-side-twice, hand-not-axle, limits-unusable, target-unknown.
    """
    axle = axle or unknown_axle()
    setup = by_roles(setup, axle)
    refuse_other_hand(setup, axle)
    if (refusal := axle.limits.refusal()) is not None:
        raise refusal
    every = [replace(t, setup=by_roles(t.setup, axle)) for t in history]
    earlier = agreeing(setup, every)
    target = target or target_for(axle)
    used = target.name.startswith("used")
    # At most one second look in a row; what it saw and what the first one saw speak together.
    again = not earlier or moved(earlier[-1])
    findings = find(looked_again(setup, earlier), target)
    limits = axle.limits
    zone_mm = limits.backlash_mm or COMMON_MM
    backlash = judge_backlash(setup.backlash_mm, limits if used else replace(limits, backlash_mm=zone_mm))
    diagnosis = [
        say("target-choice", describe(side, target.zone(side.role)), also=target.sources)
        for side in (setup.drive, setup.coast)
    ]
    diagnosis += about_backlash(backlash, limits.backlash_mm is not None)
    if axle.rotation == "reverse":
        diagnosis.append(say("reverse-rotation"))
    outside = backlash is not None and backlash.verdict in ("below", "above")
    faults = find_faults(setup, findings, by_chart=False, backlash_off=outside)
    faults += backlash_faults(setup.backlash_mm, backlash, limits.backlash_mm if used else zone_mm)
    if faults:
        return _faulty(diagnosis, faults, backlash, axle)
    if again and every and not moved(every[-1]):  # no look at these shims goes with this one
        return _read_again(diagnosis, backlash, axle, _LOOKS_DIFFER)
    if findings.coarse and again:
        return _read_again(diagnosis, backlash, axle, _COARSE)
    rules = diagnose(findings, (setup.drive, setup.coast), axle)
    mesh, trouble = _mesh(setup, axle, earlier, target, again, findings.chance)
    if used:
        advice = used_gears(setup, axle, diagnosis, backlash, mesh, findings, target)
        return _doubted(_as_read(advice, setup, target), setup, mesh, backlash)
    advice = _by_mesh(mesh, diagnosis, rules, backlash, trouble)
    if mesh.rough:
        right = read_right(findings, backlash, zone_mm)
        advice = _roughly(advice, mesh, setup, findings, backlash, right)
    return _doubted(_as_read(advice, setup, target), setup, mesh, backlash)


def _doubted(advice: Advice, setup: Setup, mesh: MeshAdvice, backlash: Backlash | None) -> Advice:
    """The advice with why photos or axle file may be of another axle: no all-clear then, nor a move that has
    hardly a chance to set all right.
    """
    if not (advice.moves or advice.verdict == "acceptable"):
        return advice
    answered = ["perhaps-other-axle"] if mesh.of_another_axle() else []
    told = [say(rule) for rule in (*setup.doubts, *answered)]
    advice = replace(advice, diagnosis=(*advice.diagnosis, *told))
    if advice.moves and setup.doubts and mesh.plan.after.chance < HARDLY_A_CHANCE:
        return _read_again(list(advice.diagnosis), backlash, mesh.axle, told[0].text)
    if advice.moves or not told:
        return advice
    reason = f"All looks right, but: {told[0].text}"
    return replace(advice, verdict="no_better_place", reason=reason, inspections=inspections(told[0].rule))


def _roughly(
    advice: Advice,
    mesh: MeshAdvice,
    setup: Setup,
    findings: Findings,
    backlash: Backlash | None,
    right: float,
) -> Advice:
    """The advice where teeth or diameter are guessed: an all-clear only by the reading alone (right), and,
    where few gear sets of the classes can be set right, the chart's fault or direction, not an amount.
    """
    if advice.verdict == "acceptable" and right < ACCEPT_CHANCE:
        verdict: Verdict = "read_again" if mesh.again else "no_better_place"
        reason = _ROUGHLY_RIGHT if mesh.again else _NOT_READ_RIGHT
        steps = tuple(next_steps(verdict, backlash, mesh.axle))
        return replace(advice, verdict=verdict, reason=reason, next_steps=steps)
    after = mesh.plan.after.chance
    if not advice.moves or after >= LITTLE_CHANCE:
        return advice
    if faults := find_faults(setup, findings, by_chart=True):
        return _faulty(list(advice.diagnosis), faults, backlash, mesh.axle)
    moves = chart_moves(findings, backlash)
    if not moves or after >= HARDLY_A_CHANCE:
        return advice
    verdict = "move_pinion" if moves[0].member == "pinion" else "move_ring_gear"
    now = mesh.expected_now.chance
    return replace(advice, verdict=verdict, moves=tuple(moves), confidence=now, reason=_BY_CHART)


def _as_read(advice: Advice, setup: Setup, target: Target) -> Advice:
    """The advice; an all-clear says itself what the charts beside it show outside its zone."""
    told = read_outside(setup, target) if advice.verdict == "acceptable" else ""
    if not told or advice.reason:
        return advice
    return replace(advice, reason=f"{told}, but by less than a reading can tell.")


def _mesh(
    setup: Setup, axle: Axle, earlier: Sequence[EarlierTry], target: Target, again: bool, seen: float
) -> tuple[MeshAdvice, list[Statement]]:
    """What the mesh model says; where the axle's numbers can't be computed, what it says of the classes that
    it may be of, with the reason.
    """
    try:
        return MeshAdvice(setup, axle, earlier, target, again, seen), []
    except MechanicsError as error:
        words = f"The axle file's gears can't be computed, so they are left out: {error.message}"
        told = say("see-it-move", f"{words} {error.next_step}")
        gears = supposed_set({"condition": axle.gears.condition})
        return MeshAdvice(setup, replace(axle, gears=gears), earlier, target, again, seen), [told]


def _by_mesh(
    mesh: MeshAdvice,
    diagnosis: list[Statement],
    rules: list[Statement],
    backlash: Backlash | None,
    trouble: list[Statement],
) -> Advice:
    """trouble: why the axle file's gears were left out, if they were."""
    axle, diagnosis = mesh.axle, [*diagnosis, *trouble]
    these_gears = of_this_gear_set(mesh.belief)
    mixup = mesh.mixup()
    misfit = [] if mesh.verdict == "measure_first" else mesh.misfit()
    # Where a fault is looked for first, no rule of the chart names a move beside it.
    if mixup is not None:
        return _faulty([*diagnosis, *these_gears], [mixup[0]], backlash, axle, "check_last_move", mixup[1])
    if misfit:
        advice = _faulty([*diagnosis, *these_gears], misfit, backlash, axle)
        return replace(advice, now=mesh.expected_now, next_steps=(*advice.next_steps, say("target-choice")))
    why = [mesh.why()] if mesh.verdict.startswith("move") and not rules else []
    diagnosis = [*diagnosis, *rules, *why, *these_gears]
    verdict, reason, look_at = mesh.verdict, mesh.reason, mesh.inspections()
    moves = mesh.moves() if verdict.startswith("move") else []
    unknown = cannot_know(axle)
    if mesh.rough and moves:
        unknown = UNFIT if trouble else GUESS
    against = contradictions(diagnosis)
    if against:
        against += lengthwise(mesh.belief, mesh.axle)
    return Advice(
        verdict,
        tuple(diagnosis),
        tuple(moves),
        now=mesh.expected_now,
        alternatives=tuple(against),
        inspections=look_at,
        next_steps=tuple(next_steps(verdict, backlash, axle)),
        cautions=short_cautions(),
        confidence=mesh.plan.after.chance if moves else mesh.expected_now.chance,
        reason=reason,
        surer=mesh.surer(),
        cannot_know=unknown,
    )


def _read_again(diagnosis: list[Statement], backlash: Backlash | None, axle: Axle, reason: str) -> Advice:
    return Advice(
        "read_again",
        tuple(diagnosis),
        next_steps=tuple(next_steps("read_again", backlash, axle)),
        cautions=short_cautions(),
        reason=reason,
    )


def _faulty(
    diagnosis: list[Statement],
    faults: list[Fault],
    backlash: Backlash | None,
    axle: Axle,
    verdict: Verdict = "not_a_shim_problem",
    confidence: float | None = None,
) -> Advice:
    look_at = dict.fromkeys(thing for f in faults for thing in f.inspect)
    return Advice(
        verdict,
        (*diagnosis, *(f.statement for f in faults)),
        alternatives=tuple(contradictions([f.statement for f in faults])),
        inspections=tuple(look_at),
        next_steps=tuple(next_steps(verdict, backlash, axle)),
        cautions=short_cautions(),
        confidence=confidence,
        reason=faults[0].statement.text.split(". ")[0].rstrip(".") + ".",
    )
