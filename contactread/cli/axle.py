"""`contactread axle`: write an axle file to fill in, and show what one says."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from contactread.cli import options
from contactread.cli.output import print_json, say, write_new
from contactread.errors import AxleFileError
from contactread.units import parse_length

app = options.group("Write an axle file to fill in, and show what one says.")


@app.command("new")
def new(
    file: Annotated[Path, options.argument("FILE", "The file to write, such as my-axle.toml.")],
    pinion_teeth: Annotated[int | None, options.value("COUNT", "Teeth of the pinion.")] = None,
    ring_teeth: Annotated[int | None, options.value("COUNT", "Teeth of the ring gear.")] = None,
    ring_diameter: Annotated[str | None, options.value("LENGTH", 'Its diameter, such as "222 mm".')] = None,
    name: Annotated[str | None, options.words("Your own words for the axle.")] = None,
) -> None:
    """Write a commented axle file to fill in. An existing file is never overwritten."""
    from contactread.axle_file import axle_template, parse_axle
    from contactread.outside import toml_string

    known = {}
    if pinion_teeth is not None:
        known["gears.pinion_teeth"] = str(pinion_teeth)
    if ring_teeth is not None:
        known["gears.ring_teeth"] = str(ring_teeth)
    if ring_diameter is not None:
        parse_length(ring_diameter)  # complain now, not when the file is read
        known["gears.ring_diameter"] = toml_string(ring_diameter)
    if name is not None:
        known["name"] = toml_string(name)
    text = axle_template(known)
    try:
        parse_axle(text, "The new file")  # complain now here too
    except AxleFileError as error:
        raise AxleFileError(
            error.code, error.message, "Correct the numbers and run this again. Nothing was written."
        ) from error
    write_new(file, text.encode())
    say(f"Wrote {file}. Fill it in with any text editor, then look at it with: contactread axle show {file}")


@app.command("show")
def show(
    file: Annotated[Path, options.argument("FILE", "An axle file.")], json: options.Json = False
) -> None:
    """Check an axle file and show what it says, in both units, with what had to be estimated."""
    from contactread.axle_file import load_axle
    from contactread.mesh.estimate import gear_inputs
    from contactread.show.axle_table import axle_to_json, print_axle

    the_axle = load_axle(file)
    inputs = gear_inputs(the_axle.gears)
    if json:
        print_json(axle_to_json(the_axle, inputs))
    else:
        print_axle(the_axle, inputs)
