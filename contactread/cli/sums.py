"""`contactread sums`: the set-up sums of the bench, each with its convention and its source."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from contactread.cli import options
from contactread.cli.output import print_json
from contactread.units import show_clearance, show_length, show_miss

if TYPE_CHECKING:
    from contactread.advice.arithmetic import MarkSign, ShimPlace, Working

app = options.group(
    "Set-up sums: pinion mark, mounting distance, depth gauge, side shims, backlash, runout, ratio."
)

_LAST_BIT = 1e-9  # mm: what was converted from inches must not fail on the last bit
_SIGNS: dict[str, MarkSign] = {"adds": "plus_adds", "subtracts": "plus_subtracts"}
_PLACES: dict[str, ShimPlace] = {"behind-head": "behind_head", "under-cage": "under_cage"}
Plus = Annotated[
    Literal["adds", "subtracts"],
    options.option("What a plus mark does to the shim; your axle's manual says which."),
]
OldPack = options.length('Old shim pack, such as "0.031 in".', "pinion_shim")


def _mark(says: str) -> Any:
    return typer.Option(metavar="MARK", help=says, parser=options.late("advice.arithmetic", "parse_mark"))


@app.command()
def mark(
    plus: Plus,
    new: Annotated[float, _mark('Mark of the new pinion, such as "+2" or "-.05"; 0 for none.')],
    old: Annotated[float, _mark("Mark of the old pinion; 0 for none.")],
    pack: Annotated[float | None, OldPack] = None,
    json: options.Json = False,
) -> None:
    """Pinion shim for a new pinion, from the marks on the old and the new one."""
    from contactread.advice.arithmetic import mark_change

    what = "Change of the pinion shim" if pack is None else "New pinion pack"
    _show(what, mark_change(old, new, _SIGNS[plus], pack), json)


@app.command()
def distance(
    pack: Annotated[float, OldPack],
    old: Annotated[float, options.length("Mounting distance etched on the old pinion.", "distance")],
    new: Annotated[float, options.length("Mounting distance etched on the new pinion.", "distance")],
    place: Annotated[Literal["behind-head", "under-cage"], options.option("Where the pinion shim sits.")],
    json: options.Json = False,
) -> None:
    """Pinion pack from the mounting distances etched on the old and the new pinion."""
    from contactread.advice.arithmetic import mounting_distance_pack

    _show("New pinion pack", mounting_distance_pack(pack, old, new, _PLACES[place]), json)


@app.command()
def housing(
    pack: Annotated[float, options.length("Nominal shim pack that your manual gives.", "pinion_shim")],
    bore: Annotated[float, options.length('Bore depth stamped on the housing, signed, such as "-0.002 in".')],
    etched: Annotated[float, options.length("Mounting distance etched on the pinion.", "distance")],
    nominal: Annotated[
        float, options.length("Nominal mounting distance that your manual gives.", "distance")
    ],
    json: options.Json = False,
) -> None:
    """Pinion pack for a new housing; shim behind the head."""
    from contactread.advice.arithmetic import new_housing_pack

    _show("Pinion pack", new_housing_pack(pack, bore, etched, nominal), json)


@app.command()
def gauge(
    plus: Plus,
    reading: Annotated[float, options.length('Depth-gauge reading, such as "0.019 in" or "5 thou".')],
    offset: Annotated[
        float | None,
        options.length("What your gauge wants added to its reading, by its instructions; usual: nothing."),
    ] = None,
    mark: Annotated[float | None, _mark('Mark of the pinion, such as "+2"; 0, the usual, for none.')] = None,
    json: options.Json = False,
) -> None:
    """Pinion pack from a depth gauge and the pinion's mark."""
    from contactread.advice.arithmetic import gauge_pack
    from contactread.plausible import check_measured

    working = gauge_pack(reading, mark or 0.0, _SIGNS[plus], offset or 0.0)
    check_measured("pinion_shim", working.result_mm)
    _show("Pinion pack", working, json)


@app.command("cone-centre")
def cone_centre(
    etched: Annotated[float, options.length("Distance etched on the pinion's end.")],
    case: Annotated[float, options.length("Diameter of the case.")],
    json: options.Json = False,
) -> None:
    """Feeler gap between the pinion's end and the case."""
    from contactread.advice.arithmetic import cone_centre_gap

    _show("Feeler gap", cone_centre_gap(etched, case), json)


@app.command("side-shims")
def side_shims(
    tool: Annotated[
        float, options.length("Spacing tool on the ring-gear side, teeth metal to metal.", "side_shim")
    ],
    opposite: Annotated[float, options.length("Stack on the opposite side, without play.", "side_shim")],
    away: Annotated[float, options.length("Travel of the ring gear that opens the backlash.", "travel")],
    preload: Annotated[float, options.length("Preload that your manual adds on each side.", "side_shim")],
    json: options.Json = False,
) -> None:
    """Side shims to start with."""
    from contactread.advice.arithmetic import side_shim_start

    ring_side, other = side_shim_start(tool, opposite, away, preload)
    if json:
        print_json({"ring_side": ring_side.to_json(), "opposite": other.to_json()})
        return
    _show("Ring-gear side shim", ring_side, False)
    _show("Opposite side shim", other, False)


@app.command()
def backlash(
    readings: Annotated[
        list[float], options.backlash_argument('Readings round the ring gear, such as "7 thou".')
    ],
    least: Annotated[
        float | None, options.length("Least backlash that your manual allows.", "backlash")
    ] = None,
    most: Annotated[
        float | None, options.length("Most backlash that your manual allows.", "backlash")
    ] = None,
    spread: Annotated[float | None, options.length("Most spread that your manual allows.", "spread")] = None,
    json: options.Json = False,
) -> None:
    """Backlash at several places: each against the limits, spread, and the travel that brings all inside."""
    from contactread.advice.backlash import judge_backlash
    from contactread.advice.dial import travel_for_backlash
    from contactread.axle import Limits

    if (least is None) != (most is None):
        raise typer.BadParameter("Give both --least and --most, or neither.")
    limits = None if least is None or most is None else (least, most)
    if limits is not None and limits[0] > limits[1]:
        raise typer.BadParameter("--least is larger than --most.")
    judged = judge_backlash(tuple(readings), Limits(limits, spread))
    assert judged is not None  # typer refuses an empty list
    places = [_against(value, limits) for value in readings]
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
    if json:
        print_json(
            {
                "mean_mm": judged.mean_mm,
                "spread_mm": judged.spread_mm,
                "verdict": verdict,
                "places": [
                    {"backlash_mm": value, "verdict": place}
                    for value, place in zip(readings, places, strict=True)
                ],
                "spread_ok": judged.spread_ok,
                "ring_gear_travel_mm": travel,
                "sources": ["B15", "B24", "B28"],
            }
        )
        return
    words = {"below": "BELOW the limits", "within": "within the limits", "above": "ABOVE the limits"}
    for number, (value, place) in enumerate(zip(readings, places, strict=True), 1):
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
    reading: Annotated[float, options.length_argument('Runout over one turn, such as "2 thou".', "runout")],
    limit: Annotated[float | None, options.length("Most runout that your manual allows.", "runout")] = None,
    json: options.Json = False,
) -> None:
    """Runout against the limit of the axle's manual."""
    from contactread.advice.dial import judge_runout

    judged = judge_runout(reading, limit)
    if json:
        print_json(
            {"verdict": judged.verdict, "runout_mm": judged.runout_mm, "miss_mm": judged.miss_mm}
            | {"sources": ["B15", "B19", "B22"]}
        )
        return
    words = {
        "within": "within the limit.",
        "beyond": f"beyond the limit by {show_miss(judged.miss_mm)}. Inspect seating, burrs and bolts.",
        "no_limit": "not judged: limits differ between axles (B15, B19, B22). Use --limit.",
    }
    print(f"Runout {show_clearance(judged.runout_mm)}: {words[judged.verdict]}")


@app.command()
def ratio(
    teeth: Annotated[tuple[int, int] | None, options.option("Pinion teeth and ring-gear teeth.")] = None,
    value: Annotated[float | None, options.value("NUMBER", "A ratio such as 3.73.", "--ratio")] = None,
    ring: Annotated[int | None, options.number("Ring-gear teeth, if counted.")] = None,
    pinion: Annotated[int | None, options.number("Pinion teeth, if counted.")] = None,
    json: options.Json = False,
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
    if json:
        rows = [
            {"pinion_teeth": c.pinion, "ring_teeth": c.ring, "ratio": c.ratio, "hunting": c.hunting}
            for c in found
        ]
        print_json({"tooth_counts": rows})
        return
    for c in found:
        note = "every tooth meets every other" if c.hunting else "the same teeth meet again and again"
        print(f"{c.pinion} pinion, {c.ring} ring gear: ratio {c.ratio:.4f} ({note})")


def _show(what: str, working: Working, json: bool) -> None:

    if json:
        print_json(working.to_json())
        return
    for line in working.lines:
        print(line)
    print(f"{what}: {show_length(working.result_mm, signed=what.startswith('Change'))}")
    print(f"Convention: {working.convention}. Sources: {', '.join(working.sources)}")
    for note in working.notes:
        print(f"Note: {note}")
