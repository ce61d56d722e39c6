"""What the readings say of the gear set itself: its relief, its answer to moves, which way patterns go."""

from __future__ import annotations

import numpy as np

from contactread.advice.answer import Statement
from contactread.advice.rules import say
from contactread.axle import Axle
from contactread.belief import Belief
from contactread.facts import facts
from contactread.units import show_clearance, show_rough_length

NEARLY_SURE = 0.9


def of_this_gear_set(belief: Belief) -> list[Statement]:
    """What the sizes of the patches, and the moves seen so far, say of this very gear set."""
    classes = [say("gear-classes", _class_words())] if belief.axle.gears.supposed else []
    (length, length_doubt), (profile, profile_doubt) = belief.drawn.relief_mm()
    statements = [
        *classes,
        say(
            "size-says-crowning",
            f"The patch sizes speak for a crowning of about {1000 * length:.0f} micrometres at the tooth "
            f"ends (give or take {length_doubt:.0%}) and {1000 * profile:.0f} at root and top (give or "
            f"take {profile_doubt:.0%}).",
            also=("mesh",),
        ),
    ]
    if len(belief.observations) > 1:
        statements.append(say("remember-what-moved", _answer_words(belief), also=("mesh",)))
    return statements


def _answer_words(belief: Belief) -> str:
    posterior = belief.posterior
    answer = posterior.candidates.jacobian[:, [1, 3], 0].mean(axis=1) / 10
    mean = float(posterior.weight @ answer)
    doubt = float(np.sqrt(posterior.weight @ (answer - mean) ** 2))
    play = float(posterior.weight @ posterior.candidates.jacobian[:, 4, 1])
    return (
        f"By its moves so far, {show_clearance(0.1)} of pinion travel moves this axle's patterns by "
        f"about {mean:.0%} of the height (give or take {doubt:.0%}), and backlash follows the ring gear "
        f"by {play:.2f} of its travel."
    )


def _class_words() -> str:
    sizes = [entry["ring_diameter_mm"] for entry in facts("gear_classes").values()]
    least, most = (show_rough_length(end(size[k] for size in sizes)) for k, end in ((0, min), (1, max)))
    return f"{say('gear-classes').text} Their ring gears measure {least} to {most}."


def lengthwise(belief: Belief, axle: Axle) -> list[Statement]:
    """Which way the patterns go along the length in this gear set, where publications contradict."""
    return [
        _lengthwise(belief, axle, 0, "effect-pinion-away", "pinion"),
        _lengthwise(belief, axle, 1, "effect-gear-away", "ring gear"),
    ]


def _lengthwise(belief: Belief, axle: Axle, member: int, rule: str, name: str) -> Statement:
    posterior = belief.posterior
    rows = [0, 2] if axle.role("convex") == "drive" else [2, 0]
    heel = posterior.weight @ (posterior.candidates.jacobian[:, rows, member] > 0)
    drive, coast = (_way(float(chance)) for chance in heel)
    return say(
        rule,
        f"Computed for this gear set: moving the {name} away takes the drive pattern {drive} and the "
        f"coast pattern {coast}.",
        also=("mesh",),
    )


def _way(chance_heel: float) -> str:
    if chance_heel > NEARLY_SURE:
        return "toward the heel"
    if chance_heel < 1 - NEARLY_SURE:
        return "toward the toe"
    return "one way or the other (that hangs on numbers the axle file leaves out)"
