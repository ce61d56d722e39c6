"""The axle file as a table: what was given, and what was estimated with its spread."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.table import Table

from contactread.axle import Axle, GearSet
from contactread.axle_file.keys import Key, tables
from contactread.mesh.estimate import Estimate, GearInputs, gear_inputs
from contactread.show.text import printable
from contactread.units import show_clearance, show_length, show_rough_length, show_torque

_SMALL_MM = 2.0  # below this a length is shown as a dial reads it
# Names of `GearInputs` -> keys of the axle file, for what is estimated when it is left out.
_ESTIMATED = {
    "face_width_mm": "face_width",
    "offset_mm": "offset",
    "spiral_deg": "spiral_angle",
    "pressure_angle_deg": "pressure_angle",
    "cutter_radius_mm": "cutter_radius",
    "cutter_groups": "cutter_groups",
}


def print_axle(axle: Axle, inputs: GearInputs) -> None:
    """Print the axle to the terminal."""
    console = Console()
    grid = Table(title=printable(axle.name) or None, title_justify="left", show_edge=False, pad_edge=False)
    grid.add_column("Key", overflow="fold")
    grid.add_column("Value", min_width=18)
    grid.add_column("Where from", overflow="fold")
    estimates = {_ESTIMATED[name]: value for name, value in inputs.estimated().items()}
    for table in tables():
        record = getattr(axle, table.field) if table.field else axle
        if record is None:
            continue
        for key in table.keys:
            value = getattr(record, key.field)
            name = f"{table.name}.{key.name}" if table.name else key.name
            if table.name == "gears" and key.field in axle.gears.supposed:
                grid.add_row(name, "not told", "guessed over classes")
            elif value not in (None, "", ()):
                default = record.__dataclass_fields__[key.field].default
                source = "usual value" if value == default else "given"
                grid.add_row(name, printable(shown(key, value)), source)
            elif table.name == "gears" and key.name in estimates:
                grid.add_row(name, _shown_estimate(key, estimates[key.name]), "estimated")
        grid.add_section()
    console.print(grid)
    gears = axle.gears
    if not {"pinion_teeth", "ring_teeth"} & set(gears.supposed):
        ratio = gears.ring_teeth / gears.pinion_teeth
        console.print(f"Ratio {gears.ring_teeth} : {gears.pinion_teeth} = {ratio:.3f}")
    if not inputs.cutting_given:
        console.print(
            "The cutting method is unknown, so face milling is supposed. Lengthwise answers hang on it."
        )
    for words in left_out(axle):
        console.print(words)


def left_out(axle: Axle) -> list[str]:
    """What the axle file doesn't say and nobody can estimate, each with what it is needed for."""
    words = []
    if axle.gears.supposed:
        words.append(
            "Count the teeth and measure the ring gear: until the file tells them, all amounts and estimates "
            "are rough guesses over axles of cars and light trucks."
        )
    if axle.pinion_shim.place is None:
        words.append("pinion_shim.place isn't given: advice can't say thicker or thinner.")
    if axle.pinion_shim.thickness_mm is None:
        words.append(
            "pinion_shim.thickness isn't given: the shop book needs it, and advice can't say the new one."
        )
    if axle.limits.backlash_mm is None:
        judged = "not judged" if axle.gears.condition == "used" else "judged by common practice"
        words.append(f"limits.backlash isn't given: backlash is {judged}. Take it from the axle's manual.")
    return words


def shown(key: Key, value: Any) -> str:
    """One value in the units of the workshop."""
    if key.many:
        return ", ".join(shown_single(key, each) for each in value)
    if key.pair:
        return " to ".join(shown_single(key, each) for each in value)
    return shown_single(key, value)


def shown_single(key: Key, value: Any) -> str:
    if key.kind == "length":
        return show_clearance(value) if abs(value) < _SMALL_MM else show_length(value)
    if key.kind == "torque":
        return show_torque(value)
    if key.kind == "angle":
        return f"{value:.1f}°"
    return str(value)


def _shown_estimate(key: Key, estimate: Estimate) -> str:
    if key.kind == "length":
        return f"about {show_rough_length(estimate.value)}, ± {show_rough_length(estimate.spread)}"
    unit = "°" if key.kind == "angle" else ""
    return f"about {estimate.value:.0f}{unit}, ± {estimate.spread:.0f}{unit}"


def estimate_words(gears: GearSet) -> str:
    """One sentence on what the axle file leaves out; empty where it leaves out nothing, or so much that the
    advice itself tells it.
    """
    if gears.supposed:
        return ""
    inputs = gear_inputs(gears)
    keys = {key.name: key for table in tables() if table.name == "gears" for key in table.keys}
    words = [
        f"{_ESTIMATED[name].replace('_', ' ')} {_shown_estimate(keys[_ESTIMATED[name]], estimate)}"
        for name, estimate in inputs.estimated().items()
    ]
    if not inputs.cutting_given:
        words.append("face milling supposed")
    return f"Estimated, as the axle file leaves it out: {'; '.join(words)}." if words else ""


def estimates_to_json(inputs: GearInputs) -> dict[str, Any]:
    """What was estimated, with its standard deviation; mm and degrees."""
    return {
        name: {"value": value.value, "standard_deviation": value.spread}
        for name, value in inputs.estimated().items()
    }


def axle_to_json(axle: Axle, inputs: GearInputs) -> dict[str, Any]:
    """The axle for programs: mm, N·m and degrees, and the estimates with their standard deviations."""
    from dataclasses import asdict

    return {
        "schema": 1,
        "axle": asdict(axle),
        "estimated": estimates_to_json(inputs),
        "face_hobbed": inputs.face_hobbed,
    }
