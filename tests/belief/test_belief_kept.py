"""Gear sets kept between runs: the same answer to the last bit, and never in the way."""

from __future__ import annotations

import ast
import errno
import hashlib
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from told_setup import setup_from

from contactread.advice.advise import advise
from contactread.axle import Axle, EaseOff, GearSet
from contactread.belief import draws as drawing
from contactread.belief import kept
from contactread.belief.draws import MADE_BY, Draws, draws_of

PACKAGE = Path(drawing.__file__).parents[1]
GIVEN = GearSet(
    11, 41, 222.0, face_width_mm=34.0, offset_mm=32.0, spiral_deg=33.0, pressure_angle_deg=20.0,
    cutter_radius_mm=95.0, cutting="face_milled",
)  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """An empty place for kept sums; nothing is remembered in the process."""
    place = tmp_path / "cache"
    monkeypatch.setenv(kept.VARIABLE, str(place))
    drawing._drawn.cache_clear()
    yield place
    drawing._drawn.cache_clear()


def again(gears: GearSet, ease_off: EaseOff | None = None, concave: EaseOff | None = None) -> Draws:
    drawing._drawn.cache_clear()
    return draws_of(gears, ease_off, concave)


def same(one: Draws, other: Draws) -> bool:
    arrays = [each.name for each in fields(Draws) if each.name != "sets"]
    return len(one.sets) == len(other.sets) and all(
        getattr(one, name).tobytes() == getattr(other, name).tobytes() for name in arrays
    )


def test_drawn_ahead_is_what_advice_asks_for() -> None:
    """Also where nothing can be kept: what is left out and what is told as usual are one."""
    assert draws_of(GIVEN) is draws_of(GIVEN, None, None, drawing.DRAWS)


def uncomputed(monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on, to compute gear sets fails the test."""

    def fail(*_: object) -> None:
        raise AssertionError("computed again")

    monkeypatch.setattr(drawing, "_rows", fail)


GEARS = {
    "all given": (GIVEN,),
    "relief given": (GIVEN, EaseOff(0.05, 0.02, 0.003)),
    "each flank's relief": (GIVEN, EaseOff(0.05, 0.02, 0.003), EaseOff(0.04, 0.03)),
    "three numbers": (GearSet(11, 41, 222.0),),
    "face hobbed, the rest estimated": (GearSet(9, 41, 203.2, cutting="face_hobbed", hand="right"),),
}


@pytest.mark.parametrize("told", GEARS.values(), ids=GEARS)
def test_a_later_run_answers_the_same_to_the_last_bit(
    told: tuple[GearSet, *tuple[EaseOff, ...]], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gears, *relief = told
    axle = Axle(gears, ease_off=next(iter(relief), None), ease_off_concave=next(iter(relief[1:]), None))
    setup = setup_from((0.40, 0.35), (0.55, 0.42), (0.21, 0.20))
    first = draws_of(*told)
    words = advise(setup, axle).to_json()
    uncomputed(monkeypatch)
    later = again(*told)
    assert same(first, later)
    assert advise(setup, axle).to_json() == words
    for one, other in zip(first.sets, later.sets, strict=True):
        assert one.blank == other.blank
        assert (one.ease_off, one.film_mm) == (other.ease_off, other.film_mm)
    assert [file.stat().st_size for file in folder.iterdir()] == [32 + 40 * 35 * 8]


def test_other_facts_are_other_sums(folder: Path) -> None:
    for width in (34.0, 34.5):
        again(GearSet(11, 41, 222.0, face_width_mm=width, offset_mm=30.0))
    assert len(list(folder.iterdir())) == 2


def test_all_code_that_determines_the_sums_is_in_their_key() -> None:
    """What draws.py imports, and what that imports; a change of any computes anew."""
    found: set[Path] = set()
    ahead = [PACKAGE / "belief" / "draws.py"]
    while ahead:
        path = ahead.pop()
        if path in found or not path.is_file():
            continue
        found.add(path)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("contactread."):
                module = PACKAGE.parent.joinpath(*str(node.module).split("."))
                ahead += [module.with_suffix(".py"), *(module / f"{a.name}.py" for a in node.names)]
    assert {path for path in MADE_BY if path.suffix == ".py"} == found


def test_another_code_is_another_key(tmp_path: Path) -> None:
    source = tmp_path / "sums.py"
    source.write_text("1 + 1\n", encoding="utf-8")
    one = kept.key_of("axle", [source])
    source.write_text("1 + 2\n", encoding="utf-8")
    assert one is not None
    assert kept.key_of("axle", [source]) != one
    assert kept.key_of("another", [source]) != kept.key_of("axle", [source])
    assert kept.key_of("axle", [tmp_path / "no.py"]) is None


def only(folder: Path) -> Path:
    (file,) = folder.iterdir()
    return file


@pytest.mark.parametrize("harm", ["bit", "cut", "empty", "long", "another's", "folder"])
def test_what_isnt_as_it_was_kept_is_computed_and_kept_anew(harm: str, folder: Path) -> None:
    first = draws_of(GIVEN)
    file = only(folder)
    data = bytearray(file.read_bytes())
    file.unlink()
    if harm == "bit":
        data[777] ^= 1
    elif harm == "cut":
        del data[-8:]
    elif harm == "empty":
        data.clear()
    elif harm == "long":
        data += bytes(200_000)
    elif harm == "another's":  # whole, but of other facts
        numbers = bytes(data[32:])
        data[:32] = hashlib.sha256(b"0" * 64 + numbers).digest()
    if harm == "folder":
        file.mkdir()
        assert same(first, again(GIVEN))
        return
    file.write_bytes(data)
    assert same(first, again(GIVEN))
    assert kept.kept_rows(file.stem, 35) is not None


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="owners and modes are of POSIX systems")
def test_nothing_is_taken_from_where_others_write(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    draws_of(GIVEN)
    key = only(folder).stem
    folder.chmod(0o777)
    assert kept.kept_rows(key, 35) is None
    folder.chmod(0o700)
    assert kept.kept_rows(key, 35) is not None
    monkeypatch.setattr(os, "geteuid", lambda: folder.stat().st_uid + 1)
    assert kept.kept_rows(key, 35) is None
    kept.keep_rows("0" * 64, np.zeros((1, 35)))
    assert only(folder).stem == key


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="owners are of POSIX systems")
def test_an_administrator_leaves_no_folder_in_anothers_home(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    above = folder.parent.stat()
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    if above.st_uid == 0:
        os.chown(folder.parent, 12345, -1)
    kept.keep_rows("0" * 64, np.zeros((1, 35)))
    assert not folder.exists()


@pytest.mark.parametrize("place", ["~nobody-of-this-name/cache", "here", "{file}/cache", "{file}"])
def test_a_place_that_cant_be_is_no_error(
    place: str, tmp_path: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("mine\n", encoding="utf-8")
    monkeypatch.setenv(kept.VARIABLE, place.format(file=tmp_path / "file"))
    monkeypatch.chdir(tmp_path)
    kept.keep_rows("k", np.ones((2, 35)))
    assert kept.kept_rows("k", 35) is None
    assert [file.name for file in tmp_path.iterdir()] == ["file"]
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine\n"


def test_a_full_disk_is_no_error_and_leaves_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    draws_of(GIVEN)
    assert list(folder.iterdir()) == []


def test_few_files_are_kept_and_what_a_kill_left_goes_with_the_oldest(folder: Path) -> None:
    folder.mkdir(0o700)
    for age, name in enumerate(("unfinished-abc.sums", "old.sums")):
        (folder / name).write_bytes(b"half")
        os.utime(folder / name, (1000 + age, 1000 + age))
    (folder / "notes.txt").write_text("not ours\n", encoding="utf-8")
    for number in range(kept.MOST_FILES + 3):
        kept.keep_rows(f"{number:064d}", np.full((1, 35), float(number)))
    assert len(list(folder.glob("*.sums"))) == kept.MOST_FILES
    assert not (folder / "unfinished-abc.sums").exists()
    assert not (folder / "old.sums").exists()
    assert (folder / "notes.txt").exists()
    rows = kept.kept_rows(f"{kept.MOST_FILES + 2:064d}", 35)
    assert rows is not None
    assert rows.tolist() == [[kept.MOST_FILES + 2.0] * 35]


def test_two_runs_at_once_and_one_killed(folder: Path) -> None:
    program = (
        "import sys; from contactread.axle import GearSet; from contactread.belief.draws import draws_of;"
        "print(draws_of(GearSet(11, 41, 222.0)).jacobian.tobytes().hex())"
    )
    runs = [
        subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True) for _ in range(3)
    ]
    runs[0].kill()
    told = {run.communicate(timeout=120)[0] for run in runs[1:]}
    runs[0].communicate(timeout=120)
    assert told == {draws_of(GearSet(11, 41, 222.0)).jacobian.tobytes().hex() + "\n"}
    assert len(list(folder.iterdir())) == 1
