"""What `contactread read` is given: photos, the axle, the backlash; what is missing is asked of a person."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TypeVar

import typer

from contactread.axle import Axle
from contactread.cli.output import say
from contactread.errors import AxleFileError, ContactreadError, QuantityError
from contactread.settings import load_settings
from contactread.units import parse_length

MOST_PHOTOS = 12  # of a folder; whole folders of other jobs are for `contactread review`
APART_S = 3600.0
_EXIF_TIME = re.compile(rb"(\d{4}:\d\d:\d\d \d\d:\d\d:\d\d)\0")
T = TypeVar("T")


def can_ask(json: bool) -> bool:
    """Whether a person sits there: both ends are terminals, and no program reads the answer."""
    return not json and sys.stdin.isatty() and sys.stdout.isatty()


def photos_from(places: Sequence[Path], newest: bool, asking: bool) -> list[Path]:
    """The photos to read: files as given, folders by what lies in them.

    newest: only the two newest of the folder given, or of the folder kept in the settings.
    Raises typer.BadParameter where nothing is given, ContactreadError: photos-folder-unset,
    folder-without-photos, folder-many, newest-not-a-folder.
    """
    if newest:
        return _newest(places, asking)
    if not places:
        if asking:
            given = ask("Photos, or their folder (drop them here): ")
            if given:
                return photos_from([Path(part) for part in _split(given)], newest, asking=False)
        raise typer.BadParameter(
            "No photo was given. Name photos or their folder, or use --newest for the two newest photos."
        )
    photos: list[Path] = []
    for place in places:
        if place.is_dir():
            found = _in_folder(place)
            if len(found) > MOST_PHOTOS:
                raise ContactreadError(
                    "folder-many",
                    f"'{place}' holds {len(found)} photos; one set-up needs two.",
                    "Name the photos, add --newest for the two newest, or read them all into the shop book "
                    "with 'contactread review'.",
                )
            photos += found
        else:
            photos.append(place)
    return photos


def _newest(places: Sequence[Path], asking: bool) -> list[Path]:
    folder = places[0] if places else _kept_folder(asking)
    if len(places) > 1 or not folder.is_dir():
        raise ContactreadError(
            "newest-not-a-folder",
            f"--newest takes one folder; '{folder}' isn't one.",
            "Name the folder only.",
        )
    found = sorted(_in_folder(folder), key=lambda path: (path.stat().st_mtime, path.name))[-2:]
    if len(found) == 2 and abs(found[1].stat().st_mtime - found[0].stat().st_mtime) > APART_S:
        hours = (found[1].stat().st_mtime - found[0].stat().st_mtime) / 3600
        say(f"Note: {found[0].name} and {found[1].name} were taken {hours:.0f} hours apart or more.")
    return found


def taken_apart(photos: Sequence[Path]) -> str:
    """That the cameras wrote times into these photos too far apart for one assembly; empty where they didn't.

    The earliest time that stands in a file's head is when it was taken (EXIF 2.32: DateTimeOriginal); later
    ones are of programs that changed it.
    """
    times = []
    for photo in photos:
        try:
            with photo.open("rb") as file:
                found = _EXIF_TIME.findall(file.read(65_536))
            times.append(min(datetime.strptime(each.decode(), "%Y:%m:%d %H:%M:%S") for each in found))
        except (OSError, ValueError):  # no file, no time in it, or one that can't be
            continue
    hours = (max(times) - min(times)).total_seconds() / 3600 if times else 0.0
    apart = "an hour" if hours < 1.5 else f"{hours:.0f} hours"
    return f"taken {apart} apart: all of this assembly?" if hours * 3600 > APART_S else ""


def _kept_folder(asking: bool) -> Path:

    kept = load_settings().photos
    if kept is not None:
        return kept
    if asking:
        given = ask("Folder where new photos arrive: ")
        if given:
            return Path(given).expanduser()
    raise ContactreadError(
        "photos-folder-unset",
        "--newest needs a folder, and none is kept in the settings.",
        "Keep one with 'contactread settings photos FOLDER', or name it: contactread read FOLDER --newest.",
    )


def _in_folder(folder: Path) -> list[Path]:
    from contactread.records.photo_store import SUFFIXES

    found = sorted(path for path in folder.iterdir() if path.suffix.lower() in SUFFIXES and path.is_file())
    if not found:
        raise ContactreadError(
            "folder-without-photos",
            f"There is no photo in '{folder}'.",
            f"Photos end in {', '.join(sorted(SUFFIXES))}.",
        )
    return found


def axle_from(file: Path | None, photos: Sequence[Path], asking: bool) -> tuple[Axle | None, str, bool]:
    """The axle, and where it comes from: the file named, the usual one of the settings, or one picked by the
    person, whom teeth and diameter are asked where there is none. None, "" where nothing is known. True where
    it is the usual one, which nobody named.
    """
    usual = load_settings().axle if file is None else None
    file = file or usual
    if file is None and asking:
        file = _pick_axle(photos)
        if file is None:
            return _told_axle(), "", False
    if file is None:
        return None, "", False
    from contactread.axle_file import load_axle

    return load_axle(file), str(file), usual is not None


def _pick_axle(photos: Sequence[Path]) -> Path | None:
    folders = dict.fromkeys([Path(), *(photo.parent for photo in photos)])
    files = [file for folder in folders if folder.is_dir() for file in sorted(folder.glob("*.toml"))]
    files = [file for file in files if _is_axle_file(file)][:9]
    for number, file in enumerate(files, 1):
        print(f"  {number}  {file}", file=sys.stderr)
    words = "Which axle? Its number, or a file" if files else "Axle file"

    def picked(text: str) -> Path:
        if text.isdigit() and 1 <= int(text) <= len(files):
            return files[int(text) - 1]
        from contactread.axle_file import load_axle

        path = Path(text).expanduser()
        load_axle(path)
        return path

    return ask_for(f"{words} (Enter: none): ", picked)


def _told_axle() -> Axle | None:
    """The axle of what a person can count and measure at once; None where that is nothing."""
    from contactread.axle_file import axle_template, parse_axle
    from contactread.outside import toml_string

    def counted(text: str) -> dict[str, str]:
        numbers = re.findall(r"[0-9]+", text)
        if len(numbers) != 2:
            raise QuantityError(
                "tooth-count", f"'{text[:40]}' isn't two counts.", "Type both, such as 11 41."
            )
        return sound(dict(zip(("gears.pinion_teeth", "gears.ring_teeth"), numbers, strict=True)))

    def measured(text: str) -> dict[str, str]:
        parse_length(text)
        return sound({"gears.ring_diameter": toml_string(text)})

    def sound(known: dict[str, str]) -> dict[str, str]:
        try:
            parse_axle(axle_template(known), "What you typed")
        except AxleFileError as error:  # nobody sees the lines of a file here
            words = re.sub(r" \(line [0-9]+\)", "", error.message)
            raise AxleFileError(error.code, words, "Type it again.") from error
        return known

    known = ask_for("Teeth of pinion and ring gear, such as 11 41 (Enter: not counted): ", counted) or {}
    known |= ask_for('Ring gear diameter, such as "222 mm" (Enter: not measured): ', measured) or {}
    return parse_axle(axle_template(known)) if known else None


def _is_axle_file(file: Path) -> bool:
    from contactread.axle_file import axle_text

    try:
        return re.search(r"ring_teeth|^\[gears\]", axle_text(file), re.MULTILINE) is not None
    except ContactreadError:
        return False


def backlash_from(given: Sequence[float], asking: bool) -> tuple[float, ...]:
    """The measured backlashes in mm; asked of the person where none is given."""
    from contactread.plausible import parse_places

    if given or not asking:
        return tuple(given)
    question = 'Backlash, such as "0.18 mm" or "7 thou; 7.5 thou" (Enter: none): '
    return ask_for(question, parse_places) or ()


def ask(question: str) -> str:
    """One line from the person; "" where nothing is said."""
    print(question, end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip()


def ask_for(question: str, understand: Callable[[str], T]) -> T | None:
    """What the person says, asked again while it can't be understood; None for an empty line."""
    while text := ask(question):
        try:
            return understand(text)
        except (QuantityError, ContactreadError) as error:
            print(f"{error.message} {error.next_step}", file=sys.stderr)
    return None


def _split(text: str) -> list[str]:
    import shlex

    try:
        return shlex.split(text)
    except ValueError:
        return [text]
