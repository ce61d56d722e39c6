"""The answer of `contactread read`: boxed, last, within one screen of 80 x 24, and of one mind."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from made_reading import made_reading, straight_flank

import contactread.reading
from contactread.advice.answer import Advice, Expectation, Move, ShimChange, Statement, Verdict
from contactread.cli.main import main
from contactread.cli.read_input import taken_apart
from contactread.flags import flag
from contactread.pattern.measures import Side
from contactread.reading import Reading

AXLE = """
[gears]
pinion_teeth = 11
ring_teeth = 41
ring_diameter = "218 mm"
cutting = "face_milled"
[pinion_shim]
place = "behind_head"
thickness = "0.86 mm"
"""
# File name -> flank and centre of what is read there.
SEEN = {
    "drive_low": ("convex", (0.42, 0.2)), "coast_low": ("concave", (0.42, 0.2)),
    "drive_good": ("convex", (0.44, 0.5)), "coast_good": ("concave", (0.46, 0.5)),
    "drive_high": ("convex", (0.44, 0.8)), "coast_high": ("concave", (0.46, 0.8)),
}  # fmt: skip


def sharp(side: Side) -> Side:
    """The side as a good photo gives it: known well, no scatter."""
    return replace(side, sigma=(0.012, 0.02), spread=(0.01, 0.01))


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name in (*SEEN, "dark"):
        cv2.imwrite(f"{name}.png", np.full((600, 800, 3), 90, np.uint8))
    for name, kind, limits in (
        ("shims", "", '["0.13 mm", "0.23 mm"]'),
        ("adjusters", '[carrier]\nkind = "adjusters"\nnotch = "0.05 mm"\n', '["0.13 mm", "0.23 mm"]'),
        ("full", '[carrier]\nring_side = "6.2 mm"\nopposite_side = "7.09 mm"\n', '["0.13 mm", "0.23 mm"]'),
    ):
        (tmp_path / f"{name}.toml").write_text(
            f"{AXLE}{kind}[limits]\nbacklash = {limits}\n", encoding="utf-8"
        )

    def read(photo: Any, **options: Any) -> Reading:
        if photo.path.stem == "dark":
            raise flag("too-dark").refusal()
        kind, centre = SEEN[photo.path.stem]
        assert kind in ("convex", "concave")
        made: Reading = made_reading(photo.path, "convex" if kind == "convex" else "concave", centre)
        return replace(made, side=sharp(made.side))

    monkeypatch.setattr(contactread.reading, "read", read)
    return tmp_path


def the_box(out: str) -> str:
    """What stands in the box, which is the very last thing printed; checked for its place on the screen."""
    lines = out.rstrip("\n").splitlines()
    assert lines[-1].startswith("╰") and len(lines[-1]) <= 80
    start = max(n for n, line in enumerate(lines) if line.startswith("╭─ Answer"))
    assert len(lines) - start <= 12
    assert all(len(line) <= 80 for line in lines)
    return " ".join(" ".join(line.strip("│ ") for line in lines[start + 1 : -1]).split())


CASES: list[tuple[list[str], str]] = [
    (["drive_low.png", "coast_low.png", "--axle", "full.toml", "--backlash", "0.18 mm"], "THINNER: fit"),
    (["drive_low.png", "coast_low.png", "--axle", "adjusters.toml", "--backlash", "0.18 mm"], "THINNER"),
    (["drive_high.png", "coast_high.png", "--axle", "shims.toml", "--backlash", "0.18 mm"], "THICKER"),
    (["drive_low.png", "coast_low.png", "--axle", "shims.toml"], "Measure backlash first"),
    (["drive_low.png", "coast_low.png"], "Measure backlash first"),
    (["drive_low.png", "coast_low.png", "--backlash", "7 thou"], "a rough guess"),
    (["drive_good.png", "coast_good.png", "--axle", "shims.toml"], "Measure backlash first"),
    (["drive_low.png", "coast_high.png", "--axle", "shims.toml", "--backlash", "7 thou"], "Not a shim"),
    (["drive_good.png"], "Photograph the coast side too"),
    (["drive_good.png", "dark.png"], "Photograph the coast side again"),
    (["drive_good.png", "drive_low.png"], "All photos show the drive side"),
    (["dark.png"], "Photograph again"),
    (["dark.png", "dark.png"], "Photograph again"),
]


@pytest.mark.parametrize(("arguments", "wanted"), CASES, ids=lambda each: str(each)[:60])
@pytest.mark.parametrize("explain", [False, True])
def test_the_answer_is_boxed_last_on_one_screen(
    arguments: list[str], wanted: str, explain: bool, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["read", *arguments, "--no-pictures", *(["--explain"] if explain else [])])
    out = capsys.readouterr().out
    assert wanted in the_box(out)
    if not explain:
        assert len(out.splitlines()) <= 23  # the prompt takes the last line of 24


def test_a_good_set_up_is_left_alone(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["read", "drive_good.png", "coast_good.png", "--axle", "shims.toml", *["--backlash", "0.18 mm"] * 4])
    assert the_box(capsys.readouterr().out).startswith("Leave it")


def test_json_carries_the_same_answer(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = ["drive_low.png", "coast_low.png", "--axle", "full.toml", "--backlash", "0.18 mm"]
    main(["read", *given, "--no-pictures"])
    printed = the_box(capsys.readouterr().out)
    main(["read", *given, "--json"])
    found = json.loads(capsys.readouterr().out)
    assert " ".join(found["answer"]) == printed
    assert found["advice"]["headline"] == found["answer"][0]
    main(["read", "dark.png", "--json"])
    found = json.loads(capsys.readouterr().out)
    assert found["advice"] is None and found["answer"][0].startswith("Photograph again")


def expected(backlash: float | None = 0.18) -> Expectation:
    return Expectation((0.44, 0.5), (0.03, 0.05), (0.46, 0.5), (0.03, 0.05), backlash, 0.01, 0.91)


def ring(*shims: ShimChange, travel: float | None = -0.08, backlash: float | None = 0.18) -> Move:
    return Move("ring_gear", "toward", travel, shims, (), expected(backlash))


def advice(verdict: Verdict, *moves: Move, **more: Any) -> Advice:
    return Advice(verdict, (Statement("Both are low. And more.", "both-low", ("A1",)),), moves, **more)


def test_adjusters_stop_first_then_travel_and_notches() -> None:
    first, second, *_ = advice("move_ring_gear", ring(ShimChange("adjusters", notches=-1.5))).answer
    assert first == "Ring gear TOWARD the pinion until the dial reads 0.18 mm (7.1 thou)."
    assert second == "That is about 0.08 mm (3.1 thou) of travel, 1.5 notches of both adjusters."


def test_no_shim_is_thinned_to_less_than_nothing() -> None:
    pinion = Move("pinion", "away", 0.1, (ShimChange("pinion_shim", -0.1, -0.066),), (), expected())
    told = advice("move_pinion", pinion).headline
    assert "measure it" in told and "fit" not in told and "0.066" not in told


def test_every_headline_of_a_move_has_its_amount_in_both_units() -> None:
    pinion = Move("pinion", "away", 0.1, (ShimChange("pinion_shim", -0.1, 0.76),), (), expected())
    sides = ShimChange("ring_side_shim", 0.08, 6.28), ShimChange("opposite_shim", -0.08, 7.01)
    for told in (
        advice("move_pinion", pinion),
        advice("move_both", pinion, ring(*sides)),
        advice("move_ring_gear", ring(*sides)),
        advice("move_ring_gear", ring(backlash=None)),
        advice("move_pinion", replace(pinion, shims=())),
    ):
        assert "mm (" in told.headline and "thou)" in told.headline
        assert len(told.answer) <= 5


@pytest.mark.parametrize(
    ("verdict", "wanted"),
    [
        ("read_again", "Photograph again"),
        ("check_last_move", "Check the last move first"),
        ("no_better_place", "Leave the shims as they are; that is no all-clear"),
        ("not_a_shim_problem", "Not a shim problem"),
        ("measure_first", "Measure backlash first"),
    ],
)
def test_a_reason_is_told_in_one_sentence(verdict: Verdict, wanted: str) -> None:
    told = advice(verdict, reason="Because of this.")
    assert told.headline.startswith(wanted)
    assert told.answer[1] == "Because of this."


def test_what_is_open_and_what_would_help_is_told() -> None:
    told = advice("acceptable", cannot_know="Without an axle file the limits of backlash are not known.")
    assert told.answer[1].startswith("Without an axle file")
    surer = (Statement("Measure the offset.", "see-it-move", ()),)
    small = replace(expected(), chance=0.4)
    told = advice("move_ring_gear", replace(ring(), expected=small), surer=surer)
    assert told.answer[-1].endswith("Surer: measure the offset.")


def at(path: Path, seconds: float) -> None:
    os.utime(path, (seconds, seconds))


def test_newest_takes_the_two_newest_of_the_kept_folder(
    shop: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for age, name in enumerate(("drive_low", "coast_low", "drive_good", "coast_good", "drive_high",
                                "coast_high", "dark")):  # fmt: skip
        at(shop / f"{name}.png", 1e9 - 60 * age)
    assert main(["read", "--newest", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["error"]["code"] == "photos-folder-unset"
    (shop / "settings.toml").write_text(
        f'photos = "{shop}"\naxle = "{shop / "full.toml"}"\n', encoding="utf-8"
    )
    monkeypatch.setenv("CONTACTREAD_SETTINGS", str(shop / "settings.toml"))
    assert main(["read", "--newest", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [Path(photo["path"]).stem for photo in found["photos"]] == ["coast_low", "drive_low"]
    assert found["axle"].endswith("full.toml")
    main(["read", "--newest"])
    assert "By the usual axle, " in capsys.readouterr().out  # nobody named it: it may be of another axle
    main(["read", "--newest", "--axle", str(shop / "full.toml")])
    assert "usual axle" not in capsys.readouterr().out
    at(shop / "drive_low.png", 1e9 + 9000)
    main(["read", "--newest", "--json"])
    assert "hours apart" in capsys.readouterr().err


def test_photos_that_the_cameras_took_far_apart_are_told(tmp_path: Path) -> None:
    early, late, edited, none, soon = (tmp_path / f"{n}.jpg" for n in ("a", "b", "edited", "none", "soon"))
    early.write_bytes(b"\xff\xd8 Exif 2026:03:02 08:00:00\0")
    late.write_bytes(b"\xff\xd8 Exif 2026:03:02 13:10:00\0")
    edited.write_bytes(b"\xff\xd8 Exif 2026:05:01 10:00:00\0 2026:03:02 08:20:00\0")
    none.write_bytes(b"\xff\xd8 0000:00:00 00:00:00\0")
    soon.write_bytes(b"\xff\xd8 Exif 2026:03:02 09:10:00\0")
    assert taken_apart([early, late]).startswith("taken 5 hours apart")
    assert taken_apart([early, soon]).startswith("taken an hour apart")
    assert not taken_apart([early, edited, none, tmp_path / "lost.jpg"]) and not taken_apart([none])


def test_a_folder_is_read_unless_it_holds_too_many(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = shop / "one"
    folder.mkdir()
    for name in ("drive_low", "coast_low"):
        (shop / f"{name}.png").rename(folder / f"{name}.png")
    assert main(["read", "one", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["photos"]) == 2
    for number in range(12):
        (folder / f"{number}.jpg").write_bytes(b"")
    assert main(["read", "one", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["error"]["code"] == "folder-many"
    (shop / "empty").mkdir()
    assert main(["read", "empty", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["error"]["code"] == "folder-without-photos"


@pytest.fixture
def person(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Someone at the terminal who types these lines."""

    def sits(*lines: str) -> None:
        left = [f"{line}\n" for line in lines]
        monkeypatch.setattr("contactread.cli.read_input.can_ask", lambda json: not json)
        monkeypatch.setattr(
            "contactread.cli.read_input.sys.stdin.readline", lambda: left.pop(0), raising=False
        )

    return sits


def test_a_person_is_asked_for_what_is_missing_and_again_for_what_cannot_be(
    shop: Path, person: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "adjusters.toml").unlink()
    person("1", "9 mm", "0.18", "7 thou; 7.5 thou")
    main(["read", "drive_low.png", "coast_low.png", "--no-pictures"])
    seen = capsys.readouterr()
    assert "1  full.toml" in seen.err
    assert "can't be" in seen.err and "no unit" in seen.err
    assert "THINNER: fit" in the_box(seen.out)


def test_a_person_without_an_axle_file_is_asked_for_teeth_and_diameter(
    shop: Path, person: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    for file in shop.glob("*.toml"):
        file.unlink()

    def answered(*typed: str) -> str:
        person("", *typed, "0.18 mm")
        main(["read", "drive_low.png", "coast_low.png", "--no-pictures"])
        seen = capsys.readouterr()
        assert "not counted" in seen.err and "not measured" in seen.err
        return the_box(seen.out)

    assert "a rough guess" in answered("", "")
    assert "AWAY" in answered("9/41", "")
    assert "rough" not in answered("41 and 41", "11 41", "222", "222 mm")


def test_what_was_typed_is_told_wrong_as_typed_not_as_a_file(
    shop: Path, person: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    for file in shop.glob("*.toml"):
        file.unlink()
    person("", "41 11", "", "222", "", "0.18 mm")
    main(["read", "drive_low.png", "coast_low.png", "--no-pictures"])
    told = capsys.readouterr().err
    assert "41 is impossible" in told and "Type it again." in told and "'222' has no unit" in told
    assert "(line" not in told and "run the command again" not in told and "in quotes" not in told


def test_an_axle_file_without_teeth_is_offered(
    shop: Path, person: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    for file in shop.glob("*.toml"):
        file.unlink()
    (shop / "little.toml").write_text('[gears]\nring_diameter = "222 mm"\n', encoding="utf-8")
    person("1", "0.18 mm")
    main(["read", "drive_low.png", "coast_low.png", "--no-pictures"])
    assert "1  little.toml" in capsys.readouterr().err


def test_nobody_is_asked_where_nobody_sits(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["read", "drive_low.png", "coast_low.png", "--no-pictures"])
    assert "?" not in capsys.readouterr().err


@pytest.mark.parametrize("text", ["9 mm", "354 thou"])
def test_a_backlash_that_cannot_be_is_refused(
    text: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["read", "drive_low.png", "--backlash", text, "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["error"]["code"] == "backlash-impossible"


@pytest.fixture
def job(shop: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setenv("CONTACTREAD_BOOK", str(shop / "book.sqlite3"))
    assert main(["job", "open", "Bench 3", "--axle", "full.toml", "--who", "Ana"]) == 0
    capsys.readouterr()
    return 1


def test_what_is_read_is_filed_into_the_open_job_in_the_same_go(
    job: int, capsys: pytest.CaptureFixture[str]
) -> None:
    given = ["drive_low.png", "coast_low.png", "--file", "--backlash", "0.18 mm", "--no-pictures"]
    assert main(["read", *given]) == 0
    out = capsys.readouterr().out
    assert "Kept as try 1 of job 1." in out and "THINNER: fit" in the_box(out)
    assert main(["job", "sheet", str(job), "--json"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert "drive_low.png" in json.dumps(shown) and "0.18" in json.dumps(shown)


def test_a_side_that_was_filed_before_counts(job: int, capsys: pytest.CaptureFixture[str]) -> None:
    given = ["--job", "1", "--no-pictures"]
    cv2.imwrite("coast_low.png", np.full((600, 800, 3), 91, np.uint8))  # else it is the same photo
    main(["read", "drive_low.png", *given, "--backlash", "0.18 mm"])
    assert "Photograph the coast side too" in the_box(capsys.readouterr().out)
    main(["read", "coast_low.png", *given])
    assert "THINNER: fit" in the_box(capsys.readouterr().out)
    main(["read", "coast_low.png", *given, "--json"])
    found = json.loads(capsys.readouterr().out)
    assert found["advice"]["moves"] and found["no_advice"] is None and found["no_advice_code"] is None


def test_an_odd_backlash_is_filed_where_it_is_right(job: int, capsys: pytest.CaptureFixture[str]) -> None:
    given = ["read", "drive_low.png", "--job", "1", "--no-pictures", "--backlash", "1.2 mm"]
    assert main(given) == 1
    assert "--sure" in capsys.readouterr().err
    assert main([*given, "--sure"]) == 0
    assert "Kept as try 1 of job 1." in capsys.readouterr().out


def test_nothing_is_filed_without_a_job(
    shop: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CONTACTREAD_BOOK", str(shop / "book.sqlite3"))
    assert main(["read", "drive_low.png", "coast_low.png", "--file", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["error"]["code"].startswith(("book", "job"))


def test_a_job_brings_its_own_axle(job: int, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", "drive_low.png", "coast_low.png", "--file", "--axle", "full.toml", "--json"]) == 2
    capsys.readouterr()
    given = ["drive_low.png", "coast_low.png", "dark.png", "--backlash", "7 thou"]
    main(["read", *given, "--job", "1", "--json"])
    found = json.loads(capsys.readouterr().out)
    assert (found["job"], found["axle"]) == (1, "job 1") and found["advice"]["moves"]


@pytest.mark.parametrize(("chance", "told"), [(1.0, "over 99%"), (0.991, "over 99%"), (0.88, "88%")])
def test_no_chance_is_told_as_certainty(chance: float, told: str) -> None:
    sure = advice("move_ring_gear", replace(ring(), expected=replace(expected(), chance=chance)))
    assert sure.answer[-1] == f"Chance that all is right then: {told}."


def test_photos_of_two_hands_move_no_shim_and_are_drawn(
    shop: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    read = contactread.reading.read

    def mirrored(photo: Any, **options: Any) -> Reading:
        reading = read(photo, **options)
        if photo.path.stem != "coast_good":
            return reading
        flank = straight_flank(150, 180, 500, 80, "convex").map  # of a concave one this is the other hand
        return replace(
            reading, teeth=tuple(replace(t, flank=replace(t.flank, map=flank)) for t in reading.teeth)
        )

    monkeypatch.setattr(contactread.reading, "read", mirrored)
    assert (
        main(["read", "drive_good.png", "coast_good.png", "--axle", "full.toml", "--backlash", "7 thou"]) == 3
    )
    assert "coast one a right-hand one" in the_box(capsys.readouterr().out)
    assert list(shop.glob("contactread-marked-*/*coast_good*"))
    assert main(["read", "drive_good.png", "coast_good.png", "--axle", "full.toml", "--json"]) == 3
    told = json.loads(capsys.readouterr().out)
    assert told["advice"] is None and told["no_advice_code"] == "hands-differ"
