"""`contactread settings`: what is set once instead of typed each time."""

from __future__ import annotations

from typing import Annotated

import typer

from contactread.cli import options
from contactread.cli.output import print_records, say
from contactread.show.text import printable


def settings(
    name: Annotated[str | None, options.argument("NAME", "person, shop, units, axle or photos.")] = None,
    value: Annotated[str | None, options.argument("VALUE", "Its new value.")] = None,
    clear: Annotated[bool, options.option("Unset it.", "--clear")] = False,
    json: options.Json = False,
) -> None:
    """Show what is set, or set it once: person, shop, units (mm, inch or both), usual axle, photo folder."""
    from dataclasses import asdict

    from contactread import settings as kept

    if name is None and (value is not None or clear):
        raise typer.BadParameter("name the setting")
    if name is not None and (value is None) != clear:
        raise typer.BadParameter(f"give {name} a value, or --clear")
    found = kept.load_settings()
    if name is not None:
        found = kept.with_setting(found, name, value or "")
        if name == "axle" and found.axle is not None:
            from contactread.axle_file import load_axle

            load_axle(found.axle)
        place = kept.save_settings(found)
        if name == "photos" and found.photos is not None and not found.photos.is_dir():
            say(f"Note: there is no folder '{printable(str(found.photos))}' now; --newest needs it.")
        say(f"Kept in {place}.")
    values = {key: None if held is None else str(held) for key, held in asdict(found).items()}
    if json:
        print_records(settings=values)
        return
    for key, held in values.items():
        shown = f"({kept.HELP[key]})" if held is None else printable(held)
        print(f"{key:<7} {shown}")
