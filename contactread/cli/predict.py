"""`contactread predict`: what a move will do to both patterns and to backlash, before it is made."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from contactread.cli import options
from contactread.cli.output import print_json, say, write_new
from contactread.errors import AxleFileError, MechanicsError
from contactread.units import show_clearance, show_move

if TYPE_CHECKING:
    from contactread.axle import Axle, FlankName
    from contactread.patch import Patch


def predict(
    axle: Annotated[Path, options.argument("FILE", "The axle file.")],
    pinion: Annotated[
        float | None,
        options.length('Pinion move, such as "+0.10 mm" (away from the ring gear) or "-4 thou" (toward).'),
    ] = None,
    ring: Annotated[
        float | None,
        options.length('Ring-gear move, such as "+0.10 mm" (away from the pinion) or "-4 thou" (toward).'),
    ] = None,
    pinion_shim: Annotated[
        float | None, options.length('Change of the pinion shim: "+0.003 in" is thicker.')
    ] = None,
    ring_side_shim: Annotated[
        float | None, options.length("Change of the side shim behind the ring gear: + is thicker.")
    ] = None,
    opposite_side_shim: Annotated[
        float | None, options.length("Change of the other side shim: + is thicker.")
    ] = None,
    backlash: Annotated[list[float] | None, options.backlash("Backlash now, at the heel.")] = None,
    pinion_now: Annotated[
        float | None, options.length("How far the pinion stands from its best place now, + away.")
    ] = None,
    ring_now: Annotated[
        float | None, options.length("How far the ring gear stands from its best place now, + away.")
    ] = None,
    reading: Annotated[
        Path | None,
        options.file("Output of `contactread read ... --json`: start from the patterns measured there."),
    ] = None,
    picture: Annotated[
        Path | None, options.file("Write both flanks as a picture: a name ending in .svg or .png.")
    ] = None,
    json: options.Json = False,
) -> None:
    """Foresee a move: both patterns and the backlash, before and after.

    Give the move of the gears (--pinion, --ring) or of the shims. The gears start from the patterns in
    --reading, or from --pinion-now and --ring-now; without any of them, from where patterns are centred.
    """
    from contactread.axle_file import load_axle
    from contactread.belief import believe, foresee
    from contactread.cli.pictures import drawing_writer
    from contactread.cli.reading_file import seen_in
    from contactread.mesh.kinematics import Displacement
    from contactread.show.forecast_view import forecast_chart, forecast_to_json, print_forecast

    draw = None if picture is None else drawing_writer(picture)
    the_axle = load_axle(axle)
    now = tuple(backlash or ())
    if pinion is not None and pinion_shim is not None:
        raise typer.BadParameter("--pinion and --pinion-shim are the same move: give one of them.")
    if ring is not None and (ring_side_shim, opposite_side_shim) != (None, None):
        raise typer.BadParameter("--ring and the side shims are the same move: give one of them.")
    move_p = (pinion or 0.0) + _pinion_travel(the_axle, pinion_shim)
    move_g = (ring or 0.0) + _ring_travel(the_axle, ring_side_shim, opposite_side_shim)
    start = Displacement(pinion_now or 0.0, ring_now or 0.0)
    end = Displacement(start.pinion + move_p, start.ring + move_g)
    _check((start.pinion, start.ring, end.pinion, end.ring), the_axle)
    read: dict[FlankName, Patch] = {}
    if reading is None:
        seen = foresee(the_axle, start, end, sum(now) / len(now) if now else None)
    else:
        if pinion_now is not None or ring_now is not None:
            raise typer.BadParameter(
                "--reading says where the gears stand: leave --pinion-now and --ring-now out."
            )
        found = seen_in(reading, the_axle, now)
        read = {side.flank: side for side in (found.drive, found.coast) if side is not None}
        seen = believe(the_axle, found).forecast(move_p, move_g)
    if json:
        print_json(forecast_to_json(seen))
    else:
        from contactread.show.terminal import console

        print_forecast(console(), seen)
    if picture is not None and draw is not None:
        write_new(picture, draw(forecast_chart(seen, read)))
        say(f"Picture: {picture}")


def _pinion_travel(axle: Axle, change: float | None) -> float:
    """Pinion move P of a change of its shim."""
    from contactread.advice.shims import pinion_travel

    if change is None:
        return 0.0
    travel = pinion_travel(change, axle.pinion_shim)
    if travel is None:
        raise AxleFileError(
            "shim-place-unknown",
            "The axle file doesn't say where the pinion shim sits; which way the pinion moves hangs on it.",
            'Add place = "behind_head" or "under_cage" to [pinion_shim], or give the move by --pinion.',
        )
    return travel


def _ring_travel(axle: Axle, ring_side: float | None, opposite: float | None) -> float:
    """Ring-gear move G of side-shim changes."""
    from contactread.advice.shims import side_shim_travel

    if ring_side is None and opposite is None:
        return 0.0
    if axle.carrier.kind == "adjusters":
        raise AxleFileError(
            "no-side-shims",
            "The axle file says that this axle has adjusters, not side shims.",
            "Give the ring gear's move by --ring, or correct [carrier] in the axle file.",
        )
    behind, other = ring_side or 0.0, opposite or 0.0
    if abs(behind + other) > 1e-6:
        say(
            f"The two side shims together change by {show_move(behind + other)}: that changes the "
            "side-bearing preload. Change both by the same amount, one thicker and one thinner, to keep it."
        )
    return side_shim_travel(behind, other, axle.carrier)


def _check(places_mm: tuple[float, ...], axle: Axle) -> None:
    """A typing slip (inches for thou) must not pass as a forecast."""
    most = 0.006 * axle.gears.ring_diameter_mm
    if max(map(abs, places_mm)) > most:
        raise MechanicsError(
            "move-too-large",
            f"The gears would stand more than {show_clearance(most)} from their best place. No pattern "
            "can be foreseen there.",
            "Check the number and its unit.",
        )
