"""Which way each pattern goes for each move, over many gear sets: the computed direction table.

    python -m calibration.mechanics.directions [--sets N]

Prints the signs that always hold, the signs of the common chart that don't, and for which cutter radius,
offset and bias; then backlash per ring-gear move, and the neutral pair.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from calibration.mechanics.gear_sets import BIASES, built_models, with_bias
from contactread.axle import FLANKS, Axle, EaseOff, FlankName, GearSet
from contactread.mesh.ease_off import FlankPair
from contactread.mesh.kinematics import Displacement
from contactread.mesh.proportions import Proportions
from contactread.mesh.response import MeshModel

MEASURES = ("drive length", "drive height", "coast length", "coast height")
ALWAYS = (
    ("pinion away", "drive height", +1),
    ("pinion away", "coast height", +1),
    ("ring gear away", "drive length", +1),
    ("ring gear away", "coast height", +1),
)
# The common chart's other signs, for the moves away (A1, A5, A10 of shared/sources.toml); heel, top positive.
CHART = (
    ("pinion away", "drive length", +1),
    ("pinion away", "coast length", -1),
    ("ring gear away", "drive height", +1),
    ("ring gear away", "coast length", +1),
)
CUTTER_BINS = (
    ("under 0.9", 0.0, 0.9),
    ("0.9 to 1.0", 0.9, 1.0),
    ("1.0 to 1.1", 1.0, 1.1),
    ("1.1 to 1.2", 1.1, 1.2),
    ("above", 1.2, np.inf),
)
OFFSET_BINS = (("none", 0.0, 1e-9), ("to 0.12", 1e-9, 0.12), ("above", 0.12, 1.0))
# The four ISO 23509 samples (D1 to D4 of shared/sources.toml, seen in an open-source self-test).
ISO_SAMPLES = {
    "D1": (GearSet(14, 39, 176.893, 25.4, 0.0, 35.0, 20.0, 114.3, cutting="face_milled"), Proportions()),
    "D2": (
        GearSet(13, 42, 170.0, 30.0, 15.0, None, 20.0, 63.5, cutting="face_milled"),
        Proportions(
            pinion_spiral_deg=50.0, addendum_factor=0.35, addendum_angle_deg=1.0, dedendum_angle_deg=4.0
        ),
    ),
    "D3": (
        GearSet(9, 34, 170.0, 26.0, 31.75, 21.009, 20.0, 76.0, 13, cutting="face_hobbed"),
        Proportions(mean_diameter_mm=146.7),
    ),
    "D4": (
        GearSet(12, 49, 400.0, 60.0, 40.0, 30.0, 20.0, 135.0, 5, cutting="face_hobbed"),
        Proportions(method=3, pressure_drive_deg=19.0, pressure_coast_deg=21.0),
    ),
}


@dataclass(frozen=True)
class Answer:
    """Change per mm of one gear set's centres, MEASURES order, and of backlash (dial, normal)."""

    hobbed: bool
    cutter: float  # cutter radius / mean cone distance
    offset: float  # offset / ring diameter
    bias: float
    pinion: tuple[float, ...]
    ring: tuple[float, ...]
    dial: float
    normal: float

    def of(self, move: str, measure: str) -> float:
        """One entry of the table."""
        return (self.pinion if move == "pinion away" else self.ring)[MEASURES.index(measure)]


def answer(model: MeshModel, bias: float) -> Answer | None:
    """Central differences over ±0.05 mm (for 200 mm); None where a patch is missing."""
    found = model.jacobian(0.05 * model.axle.gears.ring_diameter_mm / 200)
    if found is None:
        return None
    by_pinion, by_ring = found[:, 0], found[:, 1]
    return Answer(
        model.blank.face_hobbed,
        model.blank.cutter_radius / model.blank.cones.distance2,
        model.blank.offset / model.axle.gears.ring_diameter_mm,
        bias,
        tuple(by_pinion[:4]),
        tuple(by_ring[:4]),
        float(by_ring[4]),
        float(by_ring[5]),
    )


def answers(sets: int, seed: int = 1) -> list[Answer]:
    """`sets` gear sets (two thirds face milled), each with several biases."""
    hobbed = sets // 3
    found = []
    for count, is_hobbed in ((sets - hobbed, False), (hobbed, True)):
        for model in built_models(count, is_hobbed, seed):
            found += [answer(with_bias(model, bias), bias) for bias in BIASES]
    return [a for a in found if a is not None]


def share(found: list[Answer], move: str, measure: str, sign: int) -> float:
    """Share of the answers that have this sign; NaN where there are none."""
    return float(np.mean([sign * a.of(move, measure) > 0 for a in found])) if found else float("nan")


def turning_cutter(offset: float, bias: float) -> float | None:
    """Cutter radius / mean cone distance at which coast length under a ring-gear move turns over.

    For one face-milled family: 11/41, 210 mm, spiral 34 less the offset's share.
    """
    last: tuple[float, float] | None = None
    for cutter in np.arange(70.0, 135.0, 2.5):
        gears = GearSet(
            11, 41, 210.0, 31.0, offset * 210, 34.0 - 40 * offset, 20.0, float(cutter), cutting="face_milled"
        )
        here = answer(with_bias(MeshModel(Axle(gears)), bias), bias)
        if here is None:
            continue
        slope = here.of("ring gear away", "coast length")
        if last is not None and last[1] < 0 <= slope:
            return last[0] + (here.cutter - last[0]) * -last[1] / (slope - last[1])
        last = (here.cutter, slope)
    return None


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description="Computed direction table of contact patterns.")
    parser.add_argument("--sets", type=int, default=150, help="gear sets to draw")
    found = answers(parser.parse_args().sets)
    print(f"{len(found)} answers: gear sets drawn at random, biases {BIASES} of the profile relief.")
    print("\nSigns that always hold (toward the heel and higher are positive):")
    for move, measure, sign in ALWAYS:
        held = share(found, move, measure, sign)
        print(f"  {move:15s} {measure:13s} {'+' if sign > 0 else '-'}  holds in {held:7.2%}")
    print("\nThe rest of the common chart, for moves away:")
    for move, measure, sign in CHART:
        _print_where(found, move, measure, sign)
    print(
        "\nCoast length under a ring-gear move turns over (11/41, face milled) at cutter radius / mean cone"
    )
    print("distance, by offset / ring diameter and bias:")
    for offset in (0.0, 0.08, 0.15):
        turns = [turning_cutter(offset, bias) for bias in BIASES]
        shown = "  ".join(
            f"bias {b:+.1f}: {'none' if t is None else f'{t:.2f}'}"
            for b, t in zip(BIASES, turns, strict=True)
        )
        print(f"  offset {offset:.2f}:  {shown}")
    _print_backlash(found)


def _print_where(found: list[Answer], move: str, measure: str, sign: int) -> None:
    """How often a sign holds, by cutting method, cutter radius, bias and offset."""

    def holds(part: list[Answer]) -> str:
        return f"{share(part, move, measure, sign):.0%}" if part else "-"

    print(f"  {move}, {measure} {'+' if sign > 0 else '-'}: holds in {holds(found)}")
    for hobbed in (False, True):
        kind = [a for a in found if a.hobbed == hobbed]
        cutters = [
            f"{name} {holds([a for a in kind if low <= a.cutter < high])}" for name, low, high in CUTTER_BINS
        ]
        biases = [f"{b:+.1f} {holds([a for a in kind if a.bias == b])}" for b in BIASES]
        offsets = [
            f"{name} {holds([a for a in kind if low <= a.offset < high])}" for name, low, high in OFFSET_BINS
        ]
        print(f"    {'face hobbed' if hobbed else 'face milled'}")
        print(f"      cutter radius / mean cone distance: {', '.join(cutters)}")
        print(f"      bias: {', '.join(biases)}; offset / ring diameter: {', '.join(offsets)}")


def _print_backlash(found: list[Answer]) -> None:
    print("\nBacklash per ring-gear move (B28: 0.5 to 0.8):")
    for name, (gears, proportions) in ISO_SAMPLES.items():
        here = answer(MeshModel(Axle(gears), proportions=proportions), 0.0)
        assert here is not None
        print(f"  {name}: normal {here.normal:.3f}, at the dial {here.dial:.3f}")
    dial = np.array([a.dial for a in found])
    low, high = np.percentile(dial, [2.5, 97.5])
    print(f"  drawn sets, dial: {low:.2f} to {high:.2f} in 95 %, {dial.min():.2f} to {dial.max():.2f} in all")
    print(
        "\nNeutral pair (B33), ring-gear move per pinion move that keeps the backlash; z1/z2 without offset:"
    )
    model = MeshModel(Axle(ISO_SAMPLES["D1"][0]))
    print(
        f"  D1: {neutral_pair(model, on_pitch_line=True):.3f} for clearance at the pitch line (B33: 0.359),"
    )
    print(f"      {neutral_pair(model, on_pitch_line=False):.3f} for patterns at mid-height")


def neutral_pair(model: MeshModel, on_pitch_line: bool) -> float:
    """Ring-gear move per pinion move (opposite in sign) that keeps the backlash.

    on_pitch_line: clearance taken at the mean point, where B33 is derived; else where the teeth touch.
    """
    if not on_pitch_line:
        step = 0.05
        by_pinion = model.predict(pinion=step).backlash_change_mm - model.predict(-step).backlash_change_mm
        by_ring = model.predict(ring=step).backlash_change_mm - model.predict(ring=-step).backlash_change_mm
        return by_pinion / by_ring
    step = 1e-3
    by_pinion, by_ring = (
        sum(clearance_at_mean_point(model, flank, at) for flank in FLANKS)
        for at in (Displacement(pinion=step), Displacement(ring=step))
    )
    return by_pinion / by_ring


def clearance_at_mean_point(model: MeshModel, flank: FlankName, at: Displacement) -> float:
    """Turn of the ring gear, rad, that a displacement opens at the mean point of one flank."""
    b = model.blank
    # The mean point lies on the pitch line, one dedendum above the root cone, less the clearance below v = 0.
    u, v = 1 - b.mean_place, (b.dedendum2 - b.clearance) / b.working_depth
    pair = FlankPair(b, flank)
    gap = pair.gap(EaseOff(0.0, 0.0, 0.0), at)
    at_u, at_v = pair.u_axis.reader([u]), pair.v_axis.reader([v])
    return float((at_u @ (gap.gap / pair.lever) @ at_v.T)[0, 0]) + float(gap.closed)


if __name__ == "__main__":
    main()
