"""The contact patch: one noun and one measure, whether it was read, computed or asked about."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, pi, radians, sin, tan
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from contactread.axle import Interval

if TYPE_CHECKING:
    from contactread.arrays import Floats, Singles

    Field = Floats | Singles

Edge = Literal["toe", "heel", "top", "root"]
EDGES: tuple[Edge, ...] = ("toe", "heel", "top", "root")
Point = tuple[float, float]
Outline = tuple[Point, ...]

# A line parallel to an edge shows contact where the patch covers this share of what it covers on its fullest
# line. An ellipse is cut by such a line at 4.6 % of its half size: a tip thinner than that says nothing.
_TIP = 0.3
# Contact that ends nearer to an edge than this share of length or height is taken to run off it: about
# 0.4 mm of a usual length and 0.2 mm of a usual height. A rubbed edge and a photo hide as much.
TOUCHING = {"toe": 0.015, "heel": 0.015, "top": 0.02, "root": 0.02}
_SPECK = 0.005  # share of the flank below which a part beside a larger one isn't outlined
# Of the half axis: where the 5 and 95 % points of a filled ellipse lie (semicircle distribution).
ELLIPSE_5_95 = 0.805


class Clear(NamedTuple):
    """Bare flank between the contact and each edge, as a share of the length (toe, heel) or of the height
    (top, root); exactly 0.0 where the contact runs off that edge."""

    toe: float
    heel: float
    top: float
    root: float


@dataclass(frozen=True)
class Patch:
    """A contact patch in flank coordinates (u toe to heel, v root to top, 0..1).

    centre: area centroid. length, height: 5 and 95 % points of the contact area along u and v.
    area_fraction: contact area over flank area. tilt_deg: of the long axis against the flank's length, in
    mm proportions, in (-90, 90], positive where the heel end lies higher. clear: bare flank up to each
    edge. outlines: closed curves round its parts, empty where nobody asked for them.

    A patch *runs off* an edge where the contact doesn't end before it: the edge cuts it off and carries
    load, and what is seen is only a part of the patch (the whole one's centre lies further out than
    `centre`). At the root and the top the flank may end before its own edge, where the mating tooth's tip
    ends; the distance counts from there where it is known (computed patches) and is within the tolerance
    otherwise (a shim moves it by 0.1 to 0.3 mm). See `measure` for the tolerance.
    """

    centre: Point
    length: Interval
    height: Interval
    area_fraction: float
    tilt_deg: float
    clear: Clear
    outlines: tuple[Outline, ...] = ()

    @property
    def runs_off(self) -> frozenset[Edge]:
        """The edges that cut the patch off."""
        return frozenset(edge for edge in EDGES if getattr(self.clear, edge) == 0)

    def shape(self) -> tuple[Outline, ...]:
        """Its outlines; where there are none, the ellipse through its extents."""
        return self.outlines or (ellipse(self.centre, self.length, self.height, self.tilt_deg),)

    def to_json(self, digits: int = 4) -> dict[str, Any]:
        """As `read --json` and `predict --json` show a pattern; its outlines are left out."""

        def rounded(values: tuple[float, ...]) -> list[float]:
            return [round(value, digits) for value in values]

        return {
            "centroid": rounded(self.centre),
            "length": rounded(self.length),
            "height": rounded(self.height),
            "area_fraction": round(self.area_fraction, digits),
            "tilt_deg": round(self.tilt_deg, digits - 2),
            "runs_off": sorted(self.runs_off),
            "clear": dict(zip(EDGES, rounded(self.clear), strict=True)),
        }


def measure(field: Field, aspect: float, shared: Field | None = None, outlined: bool = False) -> Patch | None:
    """The patch of a field of contact on one flank; None where nothing is covered.

    field: (rows, columns), 0..1, share of each cell that is in contact; row 0 at the root, column 0 at the
    toe, equal cells. aspect: height over length of the flank in mm. shared: the same shape, share of each
    cell that both teeth have; None: all of it. outlined: with outlines.

    Clear of an edge: the distance from it to the first parallel line on which the contact is at least 0.3
    as wide as where it is widest, between lines by straight interpolation; 0 where that line lies within
    `TOUCHING` of the edge.
    """
    import numpy as np

    along, up = field.sum(axis=0, dtype=float), field.sum(axis=1, dtype=float)
    total = float(along.sum())
    if total <= 0:
        return None
    rows, columns = field.shape
    u, v = (np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows
    centre = float(along @ u) / total, float(up @ v) / total
    x, y = u - centre[0], (v - centre[1]) * aspect
    xx, yy, xy = float(along @ (x * x)), float(up @ (y * y)), float(y @ field @ x)
    wide, tall = up.tolist(), along.tolist()
    ends = {
        "toe": _first(tall, _TIP * max(tall)),
        "heel": _first(tall[::-1], _TIP * max(tall)),
        "top": _first(wide[::-1], _TIP * max(wide)),
        "root": _first(wide, _TIP * max(wide)),
    }
    if shared is not None:
        there = shared.sum(axis=1).tolist()
        ends["root"] -= _first(there, columns / 2)
        ends["top"] -= _first(there[::-1], columns / 2)
    return Patch(
        centre,
        _interval(along),
        _interval(up),
        total / field.size,
        degrees(0.5 * atan2(2 * xy, xx - yy)),
        Clear(*(ends[edge] if ends[edge] > TOUCHING[edge] else 0.0 for edge in EDGES)),
        outlines(field) if outlined else (),
    )


def _first(line: list[float], least: float) -> float:
    """How far in, as a share of the way, a profile over equal cells first reaches `least`; 0 in the first."""
    k = next((k for k, value in enumerate(line) if value >= least), 0)
    if k == 0:
        return 0.0
    return (k - 0.5 + (least - line[k - 1]) / (line[k] - line[k - 1])) / len(line)


def _interval(amount: Field) -> Interval:
    """5 and 95 % points of an amount spread over equal cells of [0, 1]."""
    import numpy as np

    share = np.zeros(amount.size + 1)
    amount.cumsum(out=share[1:])
    low, high = np.interp(np.array([0.05, 0.95]) * share[-1], share, np.arange(share.size) / amount.size)
    return float(low), float(high)


def outlines(field: Field, level: float = 0.5) -> tuple[Outline, ...]:
    """Closed curves (u, v) round where a field, as for `measure`, exceeds `level`; largest first.

    Marching squares (scikit-image's find_contours), so between cells by straight interpolation; at the
    flank's edges they follow the edge. Holes and specks are left out.
    """
    import numpy as np
    from skimage.measure import find_contours  # this one function alone doesn't load scipy

    rows, columns = field.shape
    found = []
    # A bare border closes the curves; full cells at an edge then end exactly on it.
    for curve in find_contours(np.pad(np.asarray(field, float), 1), level):
        v, u = np.clip((curve.T - 0.5) / [[rows], [columns]], 0, 1)
        # Anticlockwise in (u, v) round contact, clockwise round a hole.
        area = 0.5 * float(u[:-1] @ v[1:] - u[1:] @ v[:-1])
        found.append((area, tuple(zip(u[:-1].tolist(), v[:-1].tolist(), strict=True))))
    found.sort(key=lambda part: -part[0])
    return tuple(curve for k, (area, curve) in enumerate(found) if k == 0 or area >= _SPECK)


def ellipse(
    centre: Point, length: Interval, height: Interval, tilt_deg: float = 0.0, aspect: float = 0.22
) -> Outline:
    """The outline of a patch known by its numbers only: an ellipse through its 5 and 95 % points.

    tilt_deg: in true proportions, `aspect` being the height over the length of the flank.
    """
    half_u = (length[1] - length[0]) / (2 * ELLIPSE_5_95)
    half_v = (height[1] - height[0]) / (2 * ELLIPSE_5_95)
    lean = tan(radians(max(-60.0, min(60.0, tilt_deg)))) / aspect
    shear = lean * half_u / half_v if half_v else 0.0
    # The tilted axis is a sheared ellipse whose height extent stays as measured.
    share = max(-0.95, min(0.95, shear / hypot(1, shear)))
    rest = (1 - share * share) ** 0.5
    points = []
    for k in range(72):
        across, rise = cos(2 * pi * k / 72), sin(2 * pi * k / 72)
        points.append(
            (_unit(centre[0] + half_u * across), _unit(centre[1] + half_v * (share * across + rest * rise)))
        )
    return tuple(points)


def told_clear(length: Interval, height: Interval, off: frozenset[Edge] | set[Edge] = frozenset()) -> Clear:
    """Clear of each edge where only the extents are known and, `off`, the edges that a patch runs off."""
    gaps: dict[Edge, float] = {
        "toe": length[0],
        "heel": 1 - length[1],
        "top": 1 - height[1],
        "root": height[0],
    }
    return Clear(*(0.0 if edge in off else max(gaps[edge], 0.0) for edge in EDGES))


def _unit(x: float) -> float:
    return min(1.0, max(0.0, x))
