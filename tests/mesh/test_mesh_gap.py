"""The gap field: relief in the nominal place, first order against rigid-body mechanics, and closing."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.mechanics.directions import ISO_SAMPLES
from contactread.axle import EaseOff, FlankName, GearSet
from contactread.errors import MechanicsError
from contactread.mesh.blank import blank_of
from contactread.mesh.chebyshev import Axis, Field
from contactread.mesh.closing import PHASES, _along_lines, closings
from contactread.mesh.ease_off import FlankPair, relief
from contactread.mesh.kinematics import Displacement, assembly

PAIRS = [(name, flank) for name in ("D1", "D2", "D4") for flank in ("convex", "concave")]
NONE = EaseOff(0.0, 0.0, 0.0)


def pair_of(name: str, flank: FlankName) -> FlankPair:
    gears, proportions = ISO_SAMPLES[name]
    return FlankPair(blank_of(gears, proportions), flank)


def nodes(pair: FlankPair) -> tuple[np.ndarray, np.ndarray]:
    u, v = np.meshgrid(pair.u_axis.nodes(), pair.v_axis.nodes(), indexing="ij")
    return u, v


def test_relief_means_what_the_axle_file_says() -> None:
    """Exact meaning of [ease_off]: ends on the mid-height line, edges at mid-length, corners."""
    given = EaseOff(0.04, 0.02, 0.01)

    def at(u: float, v: float) -> float:
        return float(relief(given, np.array(u), np.array(v)))

    assert at(0.5, 0.5) == 0
    assert at(0.0, 0.5) == at(1.0, 0.5) == pytest.approx(0.04)
    assert at(0.5, 0.0) == at(0.5, 1.0) == pytest.approx(0.02)
    assert at(0.25, 0.5) == pytest.approx(0.01)  # parabola
    assert at(1.0, 1.0) == at(0.0, 0.0) == pytest.approx(0.07)  # heel-top, toe-root
    assert at(1.0, 0.0) == at(0.0, 1.0) == pytest.approx(0.05)  # heel-root, toe-top


@pytest.mark.parametrize(("name", "flank"), PAIRS)
def test_exact_mates_touch_everywhere_in_the_nominal_place(name: str, flank: FlankName) -> None:
    pair = pair_of(name, flank)
    gap = pair.gap(NONE, Displacement())
    assert np.abs(gap.gap).max() < 2e-5
    assert gap.closed == pytest.approx(0.0, abs=1e-6)


def test_reliefs_that_share_a_flank_pair_are_as_if_each_had_its_own() -> None:
    """What is remembered of the places hangs on no relief, whichever was asked first."""
    places = [Displacement(), Displacement(pinion=0.05), Displacement(ring=-0.03)]
    shared = pair_of("D1", "convex")
    for given in (EaseOff(0.06, 0.04, 0.0), EaseOff(0.02, 0.03, 0.01), EaseOff(0.06, 0.04, 0.0)):
        one, alone = shared.gaps(given, places), pair_of("D1", "convex").gaps(given, places)
        for name in ("roll", "gap", "pinion_v", "closed"):
            assert np.array_equal(getattr(one, name), getattr(alone, name))


@pytest.mark.parametrize(("name", "flank"), PAIRS)
@pytest.mark.parametrize("way", ["pinion", "ring", "offset", "shaft_angle"])
def test_first_order_against_rigid_body_motion(name: str, flank: FlankName, way: str) -> None:
    """A small displacement opens the gap by its normal component at the point of contact."""
    pair = pair_of(name, flank)
    step = 1e-3 if way != "shaft_angle" else 1e-5
    fields = [pair.gap(NONE, Displacement(**{way: s})) for s in (step, -step)]
    ahead, behind = (f.gap + f.closed * pair.lever for f in fields)
    opened = (ahead - behind).ravel() / (2 * step)
    roll = assembly(pair.blank).roll(pair._points, pair._normals)
    c, s = np.cos(roll), np.sin(roll)

    def space(x: np.ndarray) -> np.ndarray:
        return np.stack([c * x[:, 0] - s * x[:, 1], s * x[:, 0] + c * x[:, 1], x[:, 2]], axis=-1)

    at, normal = space(pair._points), space(pair._normals)
    motion = {
        "pinion": np.tile([1.0, 0, 0], (len(at), 1)),
        "ring": np.tile([0, 0, 1.0], (len(at), 1)),
        "offset": np.tile([0, 1.0, 0], (len(at), 1)),
        # Shaft angle above 90 degrees: the pinion turns about -y, its head towards +z.
        "shaft_angle": np.cross(np.tile([0, -1.0, 0], (len(at), 1)), at),
    }[way]
    expected = np.einsum("nm,nm->n", motion, normal)
    scale = np.abs(motion).max()
    assert np.abs(opened - expected).max() < 3e-3 * scale


def test_offset_grows_and_shaft_angle_opens_as_documented() -> None:
    place = assembly(pair_of("D2", "convex").blank, Displacement(offset=0.1, shaft_angle=0.01))
    assert place.origin[1] == pytest.approx(15.1)
    assert place.frame[2, 0] > 0  # the pinion head rises from the ring gear's body: more than 90 degrees


def test_the_pinion_moves_along_its_own_axis() -> None:
    """Where bores that are off hold it aslant, too."""
    blank = pair_of("D2", "convex").blank
    aslant, away = (assembly(blank, Displacement(pinion=p, shaft_angle=0.01)) for p in (0.0, 0.5))
    assert away.origin - aslant.origin == pytest.approx(0.5 * aslant.frame[:, 0])


def test_a_turn_cannot_be_told_from_a_roll() -> None:
    """The gap's common turn is taken out: least gap over the flank is (nearly) zero after closing."""
    pair = pair_of("D1", "convex")
    gap = pair.gap(EaseOff(0.03, 0.02, 0.0), Displacement(pinion=0.2, ring=-0.1))
    assert abs(float((gap.gap / pair.lever).min())) * 76 < 1e-3


def test_few_teeth_and_steep_spiral_are_refused_not_garbled() -> None:
    gears = GearSet(
        5, 90, 200.0, offset_mm=0.0, spiral_deg=5.0, pressure_angle_deg=10.0, cutting="face_milled"
    )
    with pytest.raises(MechanicsError):
        for flank in ("convex", "concave"):
            FlankPair(blank_of(gears), flank)


def test_chebyshev_field_reproduces_smooth_functions() -> None:
    u_axis, v_axis = Axis(-0.1, 1.1, 14), Axis(0.0, 1.0, 10)
    u, v = np.meshgrid(u_axis.nodes(), v_axis.nodes(), indexing="ij")
    field = Field(u_axis, v_axis, np.stack([np.sin(2 * u) * np.exp(v), u * v], axis=-1))
    at_u, at_v = np.array([0.1, 0.77, 1.0]), np.array([0.9, 0.2, 0.5])
    assert field(at_u, at_v)[:, 0] == pytest.approx(np.sin(2 * at_u) * np.exp(at_v), abs=1e-9)
    slope = u_axis.derivative() @ np.sin(2 * u_axis.nodes())
    assert slope == pytest.approx(2 * np.cos(2 * u_axis.nodes()), abs=1e-8)


def test_closing_of_a_known_field() -> None:
    """Pairs that each lose A (x / pitch)² to the next: they hand over half-way, where A / 4 is lost."""
    pitch, amplitude, bend = 0.2, 4e-4, 5.0
    u, v = np.linspace(-1, 1, 41)[:, None], np.linspace(-1, 1, 31)[None]
    roll = np.broadcast_to(0.4 * v, (41, 31)) + 0.0 * u
    turn = amplitude * (roll / pitch) ** 2 + 1e-3 * u**2
    (found,) = closings(roll[None], turn[None], pitch, bend)
    assert found.turn.size == PHASES
    assert found.turn.min() == pytest.approx(0, abs=2e-7)
    # A pair touching off its line wins slope² / (2 bend) at the hand-over.
    slope = amplitude / pitch
    assert found.turn.max() == pytest.approx(amplitude / 4 - slope**2 / (2 * bend), rel=0.03)
    assert (found.reach >= found.turn - 1e-12).all()
    assert found.reach.max() == pytest.approx(amplitude / 4, rel=0.03)
    assert found.at(np.array([0.0, pitch, 3 * pitch])) == pytest.approx(0, abs=2e-7)


def test_lines_read_in_one_go_are_as_one_by_one() -> None:
    """Against numpy.interp line by line; inf where a line has ended or its flank is undercut."""
    random = np.random.default_rng(3)
    roll = np.sort(random.uniform(0, 1, (7, 20)), axis=1) + random.uniform(0, 1, (7, 1))
    turn = random.normal(size=roll.shape)
    turn[2, :5] = turn[4, 12:] = np.inf
    samples = np.linspace(roll.min(), roll.max(), 150)
    for found, r, t in zip(_along_lines(samples, roll, turn), roll, turn, strict=True):
        expected = np.interp(samples, r, t, left=np.inf, right=np.inf)
        ended = np.isinf(expected)
        assert (np.isinf(found) == ended).all()
        assert found[~ended] == pytest.approx(expected[~ended], abs=1e-9)
