"""A forecast for people (terminal, chart) and for programs (JSON)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from contactread.axle import FLANKS, FlankName
from contactread.belief import Forecast
from contactread.belief.forecast import MethodShift
from contactread.belief.targets import target_for
from contactread.patch import Patch
from contactread.show.axle_table import estimates_to_json
from contactread.show.drawing import Drawing
from contactread.show.flank_chart import ChartFlank, flank_chart
from contactread.show.text import printable
from contactread.units import show_clearance, show_move

_SUPPOSED = {
    "measured": "as measured",
    "limits": "the middle of the axle's limits",
    "supposed": "supposed, not measured",
}
_DIGITS = 9  # of flank fractions in JSON
CAUTION = (
    "Computed for gears rolled by hand drag, without load. It is a forecast: roll and read the pattern again "
    "after the move. The axle maker's manual has the last word."
)


def forecast_to_json(forecast: Forecast) -> dict[str, Any]:
    """The forecast for programs: mm, degrees and flank coordinates."""
    place = forecast.before.place
    out: dict[str, Any] = {
        "schema": 1,
        "axle": forecast.axle.name,
        "pinion_move_mm": forecast.pinion_mm,
        "ring_move_mm": forecast.ring_mm,
        "place_before_mm": {"pinion": place.pinion, "ring": place.ring},
    }
    for flank in FLANKS:
        shift = forecast.shift(flank)
        first, last = forecast.before.patch(flank), forecast.after.patch(flank)
        out[forecast.axle.role(flank)] = {
            "flank": flank,
            "before": None if first is None else first.to_json(_DIGITS),
            "after": None if last is None else last.to_json(_DIGITS),
            "shift": None if shift is None else list(shift),
            "shift_standard_deviation": list(forecast.shift_spread[flank]),
            "standard_deviation_after": list(forecast.after.sigma[flank]),
        }
    before, after = forecast.before.backlash_mm, forecast.after.backlash_mm
    model = forecast.model
    out["backlash_mm"] = {
        "before": before,
        "after": after,
        "change": after - before,
        "change_standard_deviation": forecast.backlash_spread_mm,
        "before_is": forecast.backlash_from,
    }
    out["film_mm"] = model.film_mm
    out["ease_off_mm"] = {
        "lengthwise": model.ease_off.lengthwise_mm,
        "profile": model.ease_off.profile_mm,
        "bias": model.ease_off.bias_mm,
        "given": forecast.axle.ease_off is not None,
    }
    if forecast.misfit is not None:
        out["fit"] = {"misfit": forecast.misfit}
    if forecast.methods:
        out["methods"] = {
            method.cutting: {
                "chance": method.chance,
                "shift": {forecast.axle.role(flank): shift for flank, shift in method.shift.items()},
            }
            for method in forecast.methods
        }
    out["cutting"] = {"face_hobbed": model.blank.face_hobbed, "given": model.blank.inputs.cutting_given}
    return out | {"estimated": estimates_to_json(model.blank.inputs)}


def print_forecast(to: Console, forecast: Forecast) -> None:
    """Print the forecast as a table with what it means in words below."""
    to.print(Text(title(forecast), style="bold"))
    table = Table(show_edge=False, pad_edge=False)
    for column in ("", "Before", "After", "Shift"):
        table.add_column(column)
    for flank in _in_order(forecast):
        table.add_row(Text(_heading(forecast, flank), style="bold"), "", "", "")
        for name, cells in _rows(forecast, flank):
            table.add_row(f"  {name}", *cells)
    to.print(table)
    to.print()
    for line in (backlash_line(forecast), *words(forecast), CAUTION):
        to.print(Text(line))


def backlash_line(forecast: Forecast) -> str:
    """Backlash before and after in words."""
    before, after = forecast.before.backlash_mm, forecast.after.backlash_mm
    spread = forecast.backlash_spread_mm
    doubt = f" ± {show_clearance(spread)}" if spread >= 0.005 else ""
    now = _SUPPOSED[forecast.backlash_from]
    then = show_clearance(after) if after > 0 else "none left"
    return (
        f"Backlash at the dial: {show_clearance(before)} before ({now}), {then}{doubt} after, "
        f"a change of {show_move(after - before)}."
    )


def title(forecast: Forecast) -> str:
    """The move in words."""
    moves = [
        f"{name} {show_move(abs(mm)).lstrip('+')} {'away' if mm > 0 else 'toward'}".replace("(+", "(")
        for name, mm in (("pinion", forecast.pinion_mm), ("ring gear", forecast.ring_mm))
        if mm
    ]
    name = f"{printable(forecast.axle.name)}: " if forecast.axle.name else ""
    return name + (" and ".join(moves) if moves else "no move")


def words(forecast: Forecast) -> list[str]:
    """What has to be said beside the numbers."""
    lines = []
    if forecast.after.backlash_mm <= 0:
        lines.append("! The teeth would bind: no backlash would be left. Don't roll the gears there.")
    for flank in _in_order(forecast):
        after = forecast.after.patch(flank)
        role = forecast.axle.role(flank).capitalize()
        if after is None:
            lines.append(f"! {role}: no patch is foreseen on this flank.")
        elif after.runs_off:
            lines.append(f"! {role}: the patch would run off at the {' and '.join(sorted(after.runs_off))}.")
    if forecast.misfit is not None and forecast.misfit > 2:
        lines.append(
            "! The measured patterns don't fit these gears well: no place of pinion and ring gear "
            "explains both. Look for runout, a bad bore or swapped photos before trusting a forecast."
        )
    guessed = (*forecast.axle.gears.supposed, *forecast.model.blank.inputs.estimated())
    lacking = sorted(name.removesuffix("_mm").removesuffix("_deg") for name in guessed)
    if forecast.axle.ease_off is None and forecast.misfit is None:
        lacking.append("relief of the flanks")
    if lacking:
        lines.append(
            f"Estimated: {', '.join(lacking).replace('_', ' ')}. ± is what that leaves open "
            "(one standard deviation)."
        )
    if forecast.methods:
        lines.append(
            "The cutting method isn't given, and shifts along the length hang on it. Measure the tooth's "
            "height at heel and toe: the same at both is face hobbed, falling to the toe is face milled."
        )
        lines += [_by_method(forecast, method) for method in forecast.methods]
    return lines


def _by_method(forecast: Forecast, method: MethodShift) -> str:
    """What one cutting method would answer, in words."""
    told = []
    for flank in _in_order(forecast):
        shift = method.shift[flank]
        words = "no patch" if shift is None else _moved(shift, (0.0, 0.0))[0]
        told.append(f"{forecast.axle.role(flank)} {words}")
    name = method.cutting.replace("_", " ")
    return f"If {name} ({method.chance:.0%}), along the length: {', '.join(told)}."


def forecast_chart(forecast: Forecast, read: Mapping[FlankName, Patch] | None = None) -> Drawing:
    """Both flanks side by side, each with its patch before and after and the wanted place of its centre.

    read: the patches that were read, which then stand for before.
    """
    read = read or {}
    target = target_for(forecast.axle)
    zones = {flank: target.zone(forecast.axle.role(flank)) for flank in FLANKS}
    flanks = [
        ChartFlank(
            heading=_heading(forecast, flank),
            before=read.get(flank) or forecast.drawn(flank, "before"),
            after=forecast.drawn(flank, "after"),
            zone=(zones[flank].u, zones[flank].v) if zones[flank].judged else None,
            lines=_chart_lines(forecast, flank, read.get(flank)),
        )
        for flank in _in_order(forecast)
    ]
    notes = (
        backlash_line(forecast),
        "Forecast for gears rolled by hand drag. The axle maker's manual has the last word.",
    )
    return flank_chart(flanks, title(forecast)[:1].upper() + title(forecast)[1:], notes)


def _in_order(forecast: Forecast) -> tuple[FlankName, FlankName]:
    return FLANKS if forecast.axle.role("convex") == "drive" else (FLANKS[1], FLANKS[0])


def _heading(forecast: Forecast, flank: FlankName) -> str:
    return f"{forecast.axle.role(flank).capitalize()} ({flank})"


def _rows(forecast: Forecast, flank: FlankName) -> list[tuple[str, tuple[str, str, str]]]:
    first, last = forecast.before.patch(flank), forecast.after.patch(flank)
    shift = forecast.shift(flank)
    moved_u, moved_v = ("-", "-") if shift is None else _moved(shift, forecast.shift_spread[flank])
    return [
        ("centre, length", (_share(first, 0), _share(last, 0), moved_u)),
        ("centre, height", (_share(first, 1), _share(last, 1), moved_v)),
        ("covers, length", (_span(first, 0), _span(last, 0), "")),
        ("covers, height", (_span(first, 1), _span(last, 1), "")),
        ("share of flank", (_area(first), _area(last), "")),
    ]


def _chart_lines(forecast: Forecast, flank: FlankName, read: Patch | None) -> tuple[str, ...]:
    first, last = forecast.before.patch(flank), forecast.after.patch(flank)
    shift = forecast.shift(flank)
    if first is None or last is None or shift is None:
        return ("No patch on this flank " + ("before the move" if first is None else "after the move"),)
    if read is not None:
        sigma = forecast.after.sigma[flank]
        return (
            f"Length: read at {_share(read, 0)}, after the move {_share(last, 0)} ± {sigma[0]:.0%}",
            f"Height: read at {_share(read, 1)}, after the move {_share(last, 1)} ± {sigma[1]:.0%}",
        )
    moved = _moved(shift, forecast.shift_spread[flank])
    return (
        f"Length {_share(first, 0)} to {_share(last, 0)}: {moved[0]}",
        f"Height {_share(first, 1)} to {_share(last, 1)}: {moved[1]}",
    )


def _moved(shift: tuple[float, float], spread: tuple[float, float]) -> tuple[str, str]:
    ways = (("toward the toe", "toward the heel"), ("lower", "higher"))
    out = []
    for value, doubt, (less, more) in zip(shift, spread, ways, strict=True):
        text = "no shift" if abs(value) < 0.005 else f"{abs(value):.0%} {more if value > 0 else less}"
        out.append(f"{text} ± {doubt:.0%}" if doubt >= 0.005 else text)
    return out[0], out[1]


def _share(patch: Patch | None, axis: int) -> str:
    return "no patch" if patch is None else f"{patch.centre[axis]:.0%}"


def _span(patch: Patch | None, axis: int) -> str:
    return "-" if patch is None else "{:.0%} to {:.0%}".format(*(patch.length, patch.height)[axis])


def _area(patch: Patch | None) -> str:
    return "-" if patch is None else f"{patch.area_fraction:.0%}"
