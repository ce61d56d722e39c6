"""From two patterns to the next move: the one path of advice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from contactread.advice.answer import Advice, Move, Statement, Verdict
from contactread.advice.backlash import PLACES, Backlash, judge_backlash
from contactread.advice.by_mesh import MeshAdvice
from contactread.advice.faults import Fault, fault, find_faults
from contactread.advice.findings import Findings, contradictions, describe, diagnose, find
from contactread.advice.first_move import chart_directions, used_acceptable, used_direction
from contactread.advice.moves import pinion_direction_only, ring_direction_only
from contactread.advice.rules import inspections, say, short_cautions
from contactread.axle import Axle, Limits, role_of
from contactread.belief.targets import Target, target_for
from contactread.belief.tries import EarlierTry
from contactread.errors import MechanicsError
from contactread.pattern.measures import Setup
from contactread.reading import one_side_twice
from contactread.units import show_clearance


def advise(
    setup: Setup,
    axle: Axle | None = None,
    history: Sequence[EarlierTry] = (),
    target: Target | None = None,
) -> Advice:
    """What the two patterns say and which move comes next.

    setup: both sides as read, with the backlash where it was measured. axle: None gives directions only.
    history: earlier tries of this set-up, oldest first, each with the move made after it. target: where the
    patterns are wanted, in place of the target that the axle names.
    Raises AdviceError: same-side-twice, target-unknown.
    """
    setup = by_roles(setup, axle)
    target = target or target_for(axle)
    findings = find(setup, target)
    backlash = judge_backlash(setup.backlash_mm, Limits() if axle is None else axle.limits)
    diagnosis = [
        say("target-choice", describe(side, target.zone(side.role)), also=target.sources)
        for side in (setup.drive, setup.coast)
    ]
    diagnosis += _about_backlash(backlash, axle)
    if axle is not None and axle.rotation == "reverse":
        diagnosis.append(say("reverse-rotation"))
    faults = find_faults(setup, findings, by_chart=axle is None)
    if backlash is not None and backlash.spread_ok is False:
        faults.append(_spread_fault(backlash))
    if faults:
        return _faulty(diagnosis, faults, backlash, axle)
    if findings.coarse:
        return _read_again(diagnosis, findings, backlash, axle)
    rules = diagnose(findings, (setup.drive, setup.coast), axle)
    mesh, trouble = _mesh(setup, axle, history, target)
    if target.name.startswith("used"):
        return _used(setup, axle, diagnosis, backlash, mesh)
    if mesh is not None:
        return _by_mesh(mesh, diagnosis, rules, backlash, axle)
    verdict, moves = _chart_moves(findings, backlash)
    steps = _next_steps(verdict, backlash, axle)
    if trouble is not None:
        words = f"No amount could be computed. {trouble.message} {trouble.next_step}"
        steps.append(say("see-it-move", words))
    if moves:
        steps.append(say("see-it-move"))
    return Advice(
        verdict,
        (*diagnosis, *rules),
        tuple(moves),
        alternatives=tuple(contradictions(rules)),
        next_steps=tuple(steps),
        cautions=short_cautions(),
        confidence=_confidence(findings, verdict),
    )


def by_roles(setup: Setup, axle: Axle | None) -> Setup:
    """The set-up with each side in its role for this axle's rotation. Raises AdviceError same-side-twice."""
    if setup.drive.flank == setup.coast.flank:
        raise one_side_twice(setup.drive)
    rotation = "normal" if axle is None else axle.rotation
    sides = [replace(side, role=role_of(side.flank, rotation)) for side in (setup.drive, setup.coast)]
    drive, coast = sorted(sides, key=lambda side: side.role != "drive")
    return replace(setup, drive=drive, coast=coast)


def _mesh(
    setup: Setup, axle: Axle | None, history: Sequence[EarlierTry], target: Target
) -> tuple[MeshAdvice | None, MechanicsError | None]:
    """What the mesh model says; None without an axle, or, with the reason, where it can't be computed."""
    if axle is None:
        return None, None
    earlier = [replace(t, setup=by_roles(t.setup, axle)) for t in history]
    try:
        return MeshAdvice(setup, axle, earlier, target), None
    except MechanicsError as error:
        return None, error


def _by_mesh(
    mesh: MeshAdvice,
    diagnosis: list[Statement],
    rules: list[Statement],
    backlash: Backlash | None,
    axle: Axle | None,
) -> Advice:
    why = [mesh.why()] if mesh.verdict.startswith("move") and not rules else []
    diagnosis = [*diagnosis, *rules, *why, *mesh.this_gear_set()]
    mixup, misfit = mesh.mixup(), mesh.misfit()
    if mixup is not None:
        return _faulty(diagnosis, [mixup[0]], backlash, axle, "check_last_move", mixup[1])
    if misfit is not None:
        advice = _faulty(diagnosis, [misfit], backlash, axle)
        return replace(advice, now=mesh.plan.now, next_steps=(*advice.next_steps, say("target-choice")))
    verdict = mesh.verdict
    moves = mesh.moves() if verdict.startswith("move") else []
    against = contradictions(diagnosis)
    if against:
        against += mesh.lengthwise()
    return Advice(
        verdict,
        tuple(diagnosis),
        tuple(moves),
        now=mesh.plan.now,
        alternatives=tuple(against),
        next_steps=tuple(_next_steps(verdict, backlash, axle)),
        cautions=short_cautions(),
        confidence=mesh.plan.after.chance if moves else mesh.plan.now.chance,
    )


def _read_again(
    diagnosis: list[Statement], findings: Findings, backlash: Backlash | None, axle: Axle | None
) -> Advice:
    return Advice(
        "read_again",
        tuple(diagnosis),
        next_steps=tuple(_next_steps("read_again", backlash, axle)),
        cautions=short_cautions(),
        confidence=1 - findings.chance,
    )


def _chart_moves(findings: Findings, backlash: Backlash | None) -> tuple[Verdict, list[Move]]:
    directions = chart_directions(findings, backlash)
    if directions.pinion:
        return "move_pinion", [pinion_direction_only(directions.pinion)]
    if directions.ring_gear:
        return "move_ring_gear", [ring_direction_only(directions.ring_gear)]
    if findings.chance < 0.5:
        return "read_again", []
    return "acceptable", []


def _used(
    setup: Setup,
    axle: Axle | None,
    diagnosis: list[Statement],
    backlash: Backlash | None,
    mesh: MeshAdvice | None,
) -> Advice:
    """Used gears: on the tooth is good enough; off it, backlash only (A14)."""
    rules = [say("used-acceptable")] if used_acceptable(setup) else [say("used-backlash-only")]
    rules.append(say("used-wear-mark"))
    verdict: Verdict = "acceptable"
    moves: list[Move] = []
    if not used_acceptable(setup):
        direction = used_direction(setup)
        verdict = "move_ring_gear" if direction else "not_a_shim_problem"
        moves = [ring_direction_only(direction)] if direction else []
        if mesh is not None and moves and mesh.plan.ring_mm and mesh.moves()[0].direction == direction:
            moves = mesh.moves()
    return Advice(
        verdict,
        (*diagnosis, *rules),
        tuple(moves),
        inspections=inspections("no-move-fits") if verdict == "not_a_shim_problem" else (),
        next_steps=tuple(_next_steps(verdict, backlash, axle)),
        cautions=short_cautions(),
        confidence=0.8,
    )


def _faulty(
    diagnosis: list[Statement],
    faults: list[Fault],
    backlash: Backlash | None,
    axle: Axle | None,
    verdict: Verdict = "not_a_shim_problem",
    confidence: float = 0.8,
) -> Advice:
    look_at = dict.fromkeys(thing for f in faults for thing in f.inspect)
    return Advice(
        verdict,
        (*diagnosis, *(f.statement for f in faults)),
        alternatives=tuple(contradictions([f.statement for f in faults])),
        inspections=tuple(look_at),
        next_steps=tuple(_next_steps(verdict, backlash, axle)),
        cautions=short_cautions(),
        confidence=confidence,
    )


def _about_backlash(backlash: Backlash | None, axle: Axle | None) -> list[Statement]:
    if backlash is None:
        return [say("backlash-unmeasured", "Backlash isn't known yet.")]
    measured = f"Backlash {show_clearance(backlash.mean_mm)}"
    if backlash.count > 1:
        measured += f" in the mean of {backlash.count} places, spread {show_clearance(backlash.spread_mm)}"
    if backlash.verdict == "no_limits" or axle is None:
        return [say("backlash-no-limits", f"{measured}. The axle file gives no limits to hold it against.")]
    if backlash.verdict == "within":
        return [say("backlash-within", f"{measured}: within the limits of this axle.")]
    rule = "backlash-too-small" if backlash.verdict == "below" else "backlash-too-large"
    miss = f"{show_clearance(backlash.miss_mm)} {backlash.verdict} the limits of this axle"
    return [say(rule, f"{measured}: {miss}."), say("backlash-before-pattern")]


def _spread_fault(backlash: Backlash) -> Fault:
    spread = show_clearance(backlash.spread_mm)
    return fault(
        "backlash-spread", f"Backlash differs by {spread} round the ring gear, more than this axle allows."
    )


def _next_steps(verdict: Verdict, backlash: Backlash | None, axle: Axle | None) -> list[Statement]:
    """What to measure or do next, in the order of work."""
    steps = []
    if verdict in ("move_pinion", "move_ring_gear", "move_both"):
        steps.append(say("preload-first"))
        steps.append(say("remember-what-moved"))
    if backlash is None or backlash.count < PLACES:
        steps.append(say("backlash-unmeasured"))
    if axle is None or axle.limits.backlash_mm is None:
        steps.append(say("backlash-no-limits"))
    if verdict == "read_again":
        steps.insert(0, say("unsure-reading"))
    return steps


def _confidence(findings: Findings, verdict: Verdict) -> float:
    if verdict == "acceptable":
        return findings.chance
    return 0.3 if verdict == "read_again" else 0.9 * (1 - findings.chance) + 0.05
