"""`contactread sums`: the set-up sums of the bench, each with its convention and its source."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from contactread.cli.output import print_json

if TYPE_CHECKING:
    from contactread.advice.arithmetic import Working

app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=True,
    help="Set-up sums: pinion mark, mounting distance, depth gauge, side shims, backlash, runout, ratio.",
)


class PlusMark(StrEnum):
    """What a plus mark on the pinion does to the shim, by the manual of this axle."""

    adds = "adds"
    subtracts = "subtracts"


class Place(StrEnum):
    """Where the pinion shim sits."""

    behind_head = "behind-head"
    under_cage = "under-cage"


_LAST_BIT = 1e-9  # mm: what was converted from inches must not fail on the last bit
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
Plus = Annotated[
    PlusMark, typer.Option("--plus", help="What a plus mark does to the shim; your axle's manual says which.")
]


@app.command()
def mark(
    plus: Plus,
    new: Annotated[
        str, typer.Option(metavar="MARK", help='Mark of the new pinion, such as "+2" or "-.05"; 0 for none.')
    ],
    old: Annotated[str, typer.Option(metavar="MARK", help="Mark of the old pinion; 0 for none.")],
    pack: Annotated[
        str | None, typer.Option(metavar="LENGTH", help='Old shim pack, such as "0.031 in".')
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Pinion shim for a new pinion, from the marks on the old and the new one."""
    from contactread.advice.arithmetic import mark_change, parse_mark

    _show(
        "Change of the pinion shim" if pack is None else "New pinion pack",
        mark_change(parse_mark(old), parse_mark(new), _sign(plus), _pack(pack)),
        as_json,
    )


@app.command()
def distance(
    pack: Annotated[str, typer.Option(metavar="LENGTH", help='Old shim pack, such as "0.031 in".')],
    old: Annotated[str, typer.Option(metavar="LENGTH", help="Mounting distance etched on the old pinion.")],
    new: Annotated[str, typer.Option(metavar="LENGTH", help="Mounting distance etched on the new pinion.")],
    place: Annotated[Place, typer.Option(help="Where the pinion shim sits.")],
    as_json: AsJson = False,
) -> None:
    """Pinion pack from the mounting distances etched on the old and the new pinion."""
    from contactread.advice.arithmetic import mounting_distance_pack
    from contactread.plausible import parse_measured

    where = "behind_head" if place is Place.behind_head else "under_cage"
    marks = parse_measured("distance", old), parse_measured("distance", new)
    working = mounting_distance_pack(parse_measured("pinion_shim", pack), *marks, where)  # type: ignore[arg-type]
    _show("New pinion pack", working, as_json)


@app.command()
def housing(
    pack: Annotated[str, typer.Option(metavar="LENGTH", help="Nominal shim pack that your manual gives.")],
    bore: Annotated[
        str,
        typer.Option(
            metavar="LENGTH", help='Bore depth stamped on the housing, signed, such as "-0.002 in".'
        ),
    ],
    etched: Annotated[str, typer.Option(metavar="LENGTH", help="Mounting distance etched on the pinion.")],
    nominal: Annotated[
        str, typer.Option(metavar="LENGTH", help="Nominal mounting distance that your manual gives.")
    ],
    as_json: AsJson = False,
) -> None:
    """Pinion pack for a new housing; shim behind the head."""
    from contactread.advice.arithmetic import new_housing_pack
    from contactread.plausible import parse_measured
    from contactread.units import parse_length

    marks = parse_measured("distance", etched), parse_measured("distance", nominal)
    working = new_housing_pack(parse_measured("pinion_shim", pack), parse_length(bore), *marks)
    _show("Pinion pack", working, as_json)


@app.command()
def gauge(
    plus: Plus,
    reading: Annotated[
        str, typer.Option(metavar="LENGTH", help='Depth-gauge reading, such as "0.019 in" or "5 thou".')
    ],
    offset: Annotated[
        str,
        typer.Option(
            metavar="LENGTH", help="What your gauge wants added to its reading, by its instructions."
        ),
    ] = "0 mm",
    mark: Annotated[
        str, typer.Option(metavar="MARK", help='Mark of the pinion, such as "+2"; 0 for none.')
    ] = "0",
    as_json: AsJson = False,
) -> None:
    """Pinion pack from a depth gauge and the pinion's mark."""
    from contactread.advice.arithmetic import gauge_pack, parse_mark
    from contactread.plausible import check_measured
    from contactread.units import parse_length

    working = gauge_pack(parse_length(reading), parse_mark(mark), _sign(plus), parse_length(offset))
    check_measured("pinion_shim", working.result_mm)
    _show("Pinion pack", working, as_json)


@app.command("cone-centre")
def cone_centre(
    etched: Annotated[str, typer.Option(metavar="LENGTH", help="Distance etched on the pinion's end.")],
    case: Annotated[str, typer.Option(metavar="LENGTH", help="Diameter of the case.")],
    as_json: AsJson = False,
) -> None:
    """Feeler gap between the pinion's end and the case."""
    from contactread.advice.arithmetic import cone_centre_gap
    from contactread.units import parse_length

    _show("Feeler gap", cone_centre_gap(parse_length(etched), parse_length(case)), as_json)


@app.command("side-shims")
def side_shims(
    tool: Annotated[
        str, typer.Option(metavar="LENGTH", help="Spacing tool on the ring-gear side, teeth metal to metal.")
    ],
    opposite: Annotated[
        str, typer.Option(metavar="LENGTH", help="Stack on the opposite side, without play.")
    ],
    away: Annotated[
        str, typer.Option(metavar="LENGTH", help="Travel of the ring gear that opens the backlash.")
    ],
    preload: Annotated[
        str, typer.Option(metavar="LENGTH", help="Preload that your manual adds on each side.")
    ],
    as_json: AsJson = False,
) -> None:
    """Side shims to start with."""
    from contactread.advice.arithmetic import side_shim_start
    from contactread.plausible import parse_measured

    ring_side, other = side_shim_start(
        *(parse_measured("side_shim", x) for x in (tool, opposite, away, preload))
    )
    if as_json:
        print_json({"ring_side": ring_side.to_json(), "opposite": other.to_json()})
        return
    _show("Ring-gear side shim", ring_side, False)
    _show("Opposite side shim", other, False)


@app.command()
def backlash(
    readings: Annotated[
        list[str], typer.Argument(metavar="LENGTH", help='Readings round the ring gear, such as "7 thou".')
    ],
    least: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Least backlash that your manual allows.")
    ] = None,
    most: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Most backlash that your manual allows.")
    ] = None,
    spread: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Most spread that your manual allows.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Backlash at several places: each against the limits, spread, and the travel that brings all inside."""
    from contactread.advice.backlash import judge_backlash
    from contactread.advice.dial import travel_for_backlash
    from contactread.axle import Limits
    from contactread.plausible import parse_measured
    from contactread.units import show_clearance

    if (least is None) != (most is None):
        raise typer.BadParameter("Give both --least and --most, or neither.")
    limits = None
    if least is not None and most is not None:
        limits = parse_measured("backlash", least), parse_measured("backlash", most)
    if limits is not None and limits[0] > limits[1]:
        raise typer.BadParameter("--least is larger than --most.")
    values = tuple(parse_measured("backlash", reading) for reading in readings)
    judged = judge_backlash(
        values, Limits(limits, None if spread is None else parse_measured("spread", spread))
    )
    assert judged is not None  # typer refuses an empty list
    places = [_against(value, limits) for value in values]
    outside = sorted({verdict for verdict in places if verdict in ("below", "above")})
    verdict = "no_limits" if limits is None else "_and_".join(outside) or "within"
    travel = None
    if (
        limits is not None
        and outside
        and judged.most_mm - judged.least_mm <= limits[1] - limits[0] + _LAST_BIT
    ):
        middle = (judged.least_mm + judged.most_mm) / 2
        travel = travel_for_backlash(middle, sum(limits) / 2)
    if as_json:
        print_json(
            {
                "mean_mm": judged.mean_mm,
                "spread_mm": judged.spread_mm,
                "verdict": verdict,
                "places": [
                    {"backlash_mm": value, "verdict": place}
                    for value, place in zip(values, places, strict=True)
                ],
                "spread_ok": judged.spread_ok,
                "ring_gear_travel_mm": travel,
                "sources": ["B15", "B24", "B28"],
            }
        )
        return
    words = {"below": "BELOW the limits", "within": "within the limits", "above": "ABOVE the limits"}
    for number, (value, place) in enumerate(zip(values, places, strict=True), 1):
        print(f"Place {number}: {show_clearance(value)}, {words.get(place, 'not judged: no limits given')}.")
    print(f"Mean {show_clearance(judged.mean_mm)}, spread {show_clearance(judged.spread_mm)}.")
    if limits is not None:
        print("Every place is within the limits." if not outside else "Not every place is within the limits.")
    if judged.spread_ok is not None:
        print(
            "Spread is within its limit." if judged.spread_ok else "Spread is too large: check runout (B15)."
        )
    if travel is not None:
        way = "away from" if travel[0] > 0 else "toward"
        low, high = sorted(abs(t) for t in travel)
        print(
            f"Move the ring gear {way} the pinion by {show_clearance(low)} to {show_clearance(high)} (B28): "
            "that brings every place inside."
        )
    elif outside:
        print("No travel brings every place inside: they differ by more than the limits. Check runout (B15).")


def _against(value_mm: float, limits: tuple[float, float] | None) -> str:
    """One place against the limits: "below", "within", "above" or "no_limits"."""
    if limits is None:
        return "no_limits"
    if value_mm < limits[0] - _LAST_BIT:
        return "below"
    return "above" if value_mm > limits[1] + _LAST_BIT else "within"


@app.command()
def runout(
    reading: Annotated[str, typer.Argument(metavar="LENGTH", help='Runout over one turn, such as "2 thou".')],
    limit: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Most runout that your manual allows.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Runout against the limit of the axle's manual."""
    from contactread.advice.dial import judge_runout
    from contactread.plausible import parse_measured
    from contactread.units import show_clearance

    most = None if limit is None else parse_measured("runout", limit)
    judged = judge_runout(parse_measured("runout", reading), most)
    if as_json:
        print_json(
            {"verdict": judged.verdict, "runout_mm": judged.runout_mm, "miss_mm": judged.miss_mm}
            | {"sources": ["B15", "B19", "B22"]}
        )
        return
    words = {
        "within": "within the limit.",
        "beyond": f"beyond the limit by {show_clearance(judged.miss_mm)}. Inspect seating, burrs and bolts.",
        "no_limit": "not judged: limits differ between axles (B15, B19, B22). Use --limit.",
    }
    print(f"Runout {show_clearance(judged.runout_mm)}: {words[judged.verdict]}")


@app.command()
def ratio(
    teeth: Annotated[tuple[int, int] | None, typer.Option(help="Pinion teeth and ring-gear teeth.")] = None,
    value: Annotated[
        float | None, typer.Option("--ratio", metavar="NUMBER", help="A ratio such as 3.73.")
    ] = None,
    ring: Annotated[int | None, typer.Option(metavar="NUMBER", help="Ring-gear teeth, if counted.")] = None,
    pinion: Annotated[int | None, typer.Option(metavar="NUMBER", help="Pinion teeth, if counted.")] = None,
    as_json: AsJson = False,
) -> None:
    """Ratio from tooth counts, or the tooth counts that give a ratio."""
    from contactread.advice.ratio import ToothCounts, counts_for, ratio_of

    if (teeth is None) == (value is None):
        raise typer.BadParameter("Give either --teeth or --ratio.")
    if teeth is not None:
        ratio_of(*teeth)
        found = [ToothCounts(*teeth)]
    else:
        found = counts_for(value or 0.0, ring, pinion)
    if as_json:
        rows = [
            {"pinion_teeth": c.pinion, "ring_teeth": c.ring, "ratio": c.ratio, "hunting": c.hunting}
            for c in found
        ]
        print_json({"tooth_counts": rows})
        return
    for c in found:
        note = "every tooth meets every other" if c.hunting else "the same teeth meet again and again"
        print(f"{c.pinion} pinion, {c.ring} ring gear: ratio {c.ratio:.4f} ({note})")


def _sign(plus: PlusMark) -> Any:
    return "plus_adds" if plus is PlusMark.adds else "plus_subtracts"


def _pack(text: str | None) -> float | None:
    from contactread.plausible import parse_measured

    return None if text is None else parse_measured("pinion_shim", text)


def _show(what: str, working: Working, as_json: bool) -> None:
    from contactread.units import show_length

    if as_json:
        print_json(working.to_json())
        return
    for line in working.lines:
        print(line)
    print(f"{what}: {show_length(working.result_mm, signed=what.startswith('Change'))}")
    print(f"Convention: {working.convention}. Sources: {', '.join(working.sources)}")
    for note in working.notes:
        print(f"Note: {note}")
