"""What a person sets once: who they are, their units, their usual axle. One small TOML file.

It lies in the user's settings folder (platformdirs), or where the variable CONTACTREAD_SETTINGS says.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import get_args

from contactread.errors import ContactreadError
from contactread.outside import Unfit, from_toml, read_text, toml_string
from contactread.units import Shown

VARIABLE = "CONTACTREAD_SETTINGS"
_PATHS = ("axle", "photos")
# Characters of a value, bytes of the file: our choices.
_LONGEST = 300
_MOST_BYTES = 100_000


@dataclass(frozen=True)
class Settings:
    """Everything that can be set, as `HELP` tells it; None where it isn't."""

    person: str | None = None
    shop: str | None = None
    units: Shown | None = None
    axle: Path | None = None
    photos: Path | None = None


HELP = {
    "person": "who works here: taken where a command has no --who",
    "shop": "the shop's name and address, for reports",
    "units": "mm, inch or both: how lengths and torques are shown",
    "axle": "axle file of the usual axle",
    "photos": "folder where the newest photos arrive",
}


def settings_place() -> Path:
    """Where the settings lie, or would lie."""
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named).expanduser()
    import platformdirs

    return Path(platformdirs.user_config_dir("contactread", appauthor=False)) / "settings.toml"


def load_settings() -> Settings:
    """The settings; all unset where there is no file.

    Raises `ContactreadError` settings-unreadable, settings-value.
    """
    place = settings_place()
    try:
        content = from_toml(read_text(place, _MOST_BYTES))
    except Unfit as error:
        if error.kind == "missing":
            return Settings()
        raise _unreadable(place, str(error)) from error
    found = Settings()
    for name, value in content.items():
        if not isinstance(value, str):
            raise _unreadable(place, f"{name[:40]} isn't words in quotes")
        found = with_setting(found, name, value)
    return found


def with_setting(settings: Settings, name: str, value: str) -> Settings:
    """Settings with one value changed; empty words unset it. Raises `ContactreadError` settings-value."""
    if name not in HELP:
        raise _wrong(f"There is no setting {name[:40]!r}.", f"The settings are: {', '.join(HELP)}.")
    words = " ".join(value.split())
    if len(words) > _LONGEST:
        raise _wrong(f"The setting {name} has {len(words)} characters; {_LONGEST} fit.", "Shorten it.")
    if name == "units" and words and words not in get_args(Shown):
        raise _wrong(f"Units can't be {words[:40]!r}.", f"They are one of: {', '.join(get_args(Shown))}.")
    kept = Path(words).expanduser().absolute() if words and name in _PATHS else words or None
    return replace(settings, **{name: kept})  # type: ignore[arg-type]


def save_settings(settings: Settings) -> Path:
    """Write the settings; the file's path. Written beside and renamed, so that it is never half."""
    place = settings_place()
    values = {each.name: getattr(settings, each.name) for each in fields(Settings)}
    lines = [f"{name} = {toml_string(str(value))}\n" for name, value in values.items() if value is not None]
    data = "".join(lines).encode()
    place.parent.mkdir(parents=True, exist_ok=True)
    unfinished = place.with_name(f"{place.name}.unfinished")
    unfinished.write_bytes(data)
    unfinished.replace(place)
    return place


def _wrong(what: str, next_step: str) -> ContactreadError:
    return ContactreadError("settings-value", what, next_step)


def _unreadable(place: Path, why: str) -> ContactreadError:
    return ContactreadError(
        "settings-unreadable",
        f"The settings {place} can't be read: {why}.",
        "Put the file right or delete it; 'contactread settings' writes a new one.",
    )
