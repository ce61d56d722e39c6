"""The axle file: round trip, and errors that name key, line, what was given and what was expected."""

# ruff: noqa: E501 - a table of messages reads best one to a line
from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from contactread.axle import Axle, Carrier, EaseOff, GearSet, Limits, PinionShim
from contactread.axle_file import axle_template, axle_toml, load_axle, parse_axle
from contactread.axle_file.keys import tables
from contactread.cli.main import main
from contactread.errors import AxleFileError

NEEDED = '[gears]\npinion_teeth = 11\nring_teeth = 41\nring_diameter = "8.6 in"\n'
FULL = Axle(
    gears=GearSet(
        11, 41, 218.44, 33.5, 38.1, 33.25, 19.5, 95.25, 13, "right", "face_hobbed", "used", 12.4, 12.3, 2.6
    ),
    name='Bench "3"\nrear\\left é',
    rotation="reverse",
    pinion_shim=PinionShim("under_cage", 0.8636, 0.0127, (0.8128, 0.8636, 0.9144)),
    carrier=Carrier("side_shims", 6.1976, 7.0866, "away", 0.05, 0.031),
    limits=Limits((0.1524, 0.254), 0.05, 0.0508, (1.5, 2.5), (0.9, 1.4), (2.0, 3.2)),
    ease_off=EaseOff(0.05, 0.02, -0.007),
    ease_off_concave=EaseOff(0.04, 0.03, 0.002),
    target="centred",
)


def problems_of(text: str) -> list[str]:
    with pytest.raises(AxleFileError) as caught:
        parse_axle(text, "a.toml")
    assert caught.value.code == "axle-invalid"
    return [line.strip() for line in caught.value.message.splitlines()[1:]]


def test_needed_keys_are_enough() -> None:
    assert parse_axle(NEEDED) == Axle(GearSet(11, 41, pytest.approx(218.44)))  # type: ignore[arg-type]


def test_round_trip_of_everything() -> None:
    assert parse_axle(axle_toml(FULL)) == FULL
    plain = Axle(GearSet(9, 37, 190.5))
    assert parse_axle(axle_toml(plain)) == plain
    none = replace(FULL, ease_off=None, ease_off_concave=None)
    assert parse_axle(axle_toml(none)) == none


def test_every_field_of_the_axle_has_a_key() -> None:
    covered = {(table.field, key.field) for table in tables() for key in table.keys}
    wanted = {("", name) for name in ("name", "rotation", "target")}
    for field, record in (("gears", GearSet), ("pinion_shim", PinionShim), ("carrier", Carrier),
                          ("limits", Limits), ("ease_off", EaseOff), ("ease_off_concave", EaseOff)):  # fmt: skip
        wanted |= {(field, name) for name in record.__dataclass_fields__}
    assert covered == wanted - {("limits", "unusable"), ("gears", "supposed")}  # told by reading, not written


@pytest.mark.parametrize(
    ("heel", "toe", "cutting"),
    [("12.5", "12.4", "face_hobbed"), ("12.5", "8.5", "face_milled"), ("12.5", "11.3", "unknown")],
)
def test_tooth_heights_tell_how_the_set_was_cut(heel: str, toe: str, cutting: str) -> None:
    heights = f'depth_heel = "{heel} mm"\ndepth_toe = "{toe} mm"\n'
    assert parse_axle(NEEDED + heights).gears.cutting == cutting
    assert parse_axle(NEEDED + heights + 'cutting = "unknown"\n').gears.cutting == cutting


def test_tooth_heights_that_contradict_are_told() -> None:
    uniform = 'depth_heel = "12.5 mm"\ndepth_toe = "12.4 mm"\ncutting = "face_milled"\n'
    assert 'falls by 1% from heel to toe, which is "face_hobbed"' in problems_of(NEEDED + uniform)[0]
    swapped = 'depth_heel = "8.5 mm"\ndepth_toe = "12.5 mm"\n'
    assert "swapped" in problems_of(NEEDED + swapped)[0]
    alone = '[ease_off_concave]\nlengthwise = "0.05 mm"\nprofile = "0.02 mm"\n'
    assert "needs [ease_off]" in problems_of(NEEDED + alone)[0]


@pytest.mark.parametrize("slip", ['ring_runout = "2 mm"', 'backlash_spread = "0.05 in"'])
def test_a_limit_that_would_pass_everything_is_a_slip_of_the_unit(slip: str) -> None:
    assert "is impossible; expected 0.000 mm" in problems_of(f"{NEEDED}[limits]\n{slip}\n")[0]


def test_template_read_as_it_is_supposes_teeth_and_diameter() -> None:
    """Nothing of what is supposed is ever written as if it were known."""
    for text in (axle_template(), "", '[gears]\noffset = "38 mm"\nface_width = "34 mm"\n'):
        untold = parse_axle(text)
        assert untold.gears.supposed == ("pinion_teeth", "ring_teeth", "ring_diameter_mm")
        assert parse_axle(axle_toml(untold)) == untold and "teeth" not in axle_toml(untold)
    one = parse_axle("[gears]\npinion_teeth = 9\n").gears
    assert one.pinion_teeth == 9 and one.supposed == ("ring_teeth", "ring_diameter_mm")
    known = {"gears.pinion_teeth": "11", "gears.ring_teeth": "41", "gears.ring_diameter": '"8.6 in"'}
    assert parse_axle(axle_template(known)) == parse_axle(NEEDED)


def test_template_with_every_comment_taken_away() -> None:
    """Each example of the template is itself valid (limits stay for the manual to give)."""
    lines = []
    for line in axle_template().splitlines():
        bare = line.removeprefix("# ")
        is_key = any(bare.startswith(f"{key.name} = ") for table in tables() for key in table.keys)
        lines.append(
            bare if (is_key or bare.startswith("[")) and 'thou"' not in bare and "in-lb" not in bare else line
        )
    text = "\n".join(lines).replace('cutting = "face_milled"', 'cutting = "face_hobbed"')
    axle = parse_axle(text.replace('depth_toe = "8.5 mm"', 'depth_toe = "12.5 mm"'))
    assert axle.gears.cutter_groups == 13
    assert axle.ease_off == EaseOff(0.05, 0.02, 0.0)
    assert axle.limits == Limits()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (NEEDED + "ring_diameterr = 3\n", "gears.ring_diameterr (line 5) is unknown. Did you mean 'ring_diameter'?"),
        (NEEDED + 'thickness = "1 mm"\n', "gears.thickness (line 5) is unknown. It belongs to another table: pinion_shim.thickness."),
        ("gear = 1\n" + NEEDED, "gear (line 1) is unknown. Did you mean 'gears'?"),
        (NEEDED + "[limit]\n", "limit (line 5) is unknown. Did you mean 'limits'?"),
        (NEEDED.replace('"8.6 in"', "8.6"), 'gears.ring_diameter (line 4): 8.6 was given; expected a length with its unit'),
        (NEEDED.replace("8.6 in", "8.6"), "gears.ring_diameter (line 4): '8.6' has no unit"),
        (NEEDED.replace("8.6 in", "8.6 ft"), "gears.ring_diameter (line 4): 'ft' in '8.6 ft' is not a unit of length"),
        (NEEDED.replace("8.6 in", "8.6 mm"), "gears.ring_diameter (line 4): 8.600 mm (0.3386 in) is impossible; expected 40.000 mm"),
        (NEEDED.replace("11", "11.0"), "gears.pinion_teeth (line 2): 11.0 was given; expected a whole number"),
        (NEEDED.replace("11", "true"), "gears.pinion_teeth (line 2): True was given; expected a whole number"),
        (NEEDED.replace("11", "3"), "gears.pinion_teeth (line 2): 3 is impossible; expected 4 to 40"),
        (NEEDED.replace("11", "41").replace("ring_teeth = 41", "ring_teeth = 17").replace("pinion_teeth = 41", "pinion_teeth = 39"),
         "gears.ring_teeth (17) must be more than gears.pinion_teeth (39). Are they swapped?"),
        (NEEDED.replace("41", "149"), "gears: 149 to 11 teeth make a ratio of 13.55; expected 1.5 to 8."),
        (NEEDED + 'cutting = "facemilled"\n', "gears.cutting (line 5): \"facemilled\" was given; expected one of \"face_milled\", "
         "\"face_hobbed\", \"unknown\". Did you mean 'face_milled'?"),
        (NEEDED + 'face_width = "-30 mm"\n', "gears.face_width (line 5): -30.000 mm (-1.1811 in) is impossible"),
        (NEEDED + 'face_width = "100 mm"\n', "gears.face_width (100.00 mm (3.937 in)) doesn't suit gears.ring_diameter"),
        (NEEDED + 'offset = "120 mm"\n', "gears.offset (120.00 mm (4.724 in)) is more than 0.4"),
        (NEEDED + 'cutter_radius = "16 mm"\n', "gears.cutter_radius (16.000 mm (0.6299 in)) doesn't suit"),
        (NEEDED + 'cutter_radius = "190.5 mm"\n', "gears.cutter_radius (190.50 mm (7.500 in)) is too much for gears.ring_diameter (218.44 mm (8.600 in)). Is it the cutter's diameter?"),
        (NEEDED + 'offset = "1.5 mm"\n', 'gears.offset (1.500 mm (0.0591 in)) is less than any hypoid set\'s. Is it in inches? Write "1.5 in", or "0 mm"'),
        (NEEDED + 'spiral_angle = "0.58 deg"\n', "gears.spiral_angle (0.58 deg) is less than any spiral. Is it in radians?"),
        (NEEDED + "cutter_groups = 13\n", 'gears.cutter_groups is only for gears.cutting = "face_hobbed".'),
        (NEEDED + 'spiral_angle = "33 mm"\n', "gears.spiral_angle (line 5): 'mm' in '33 mm' is not a unit of angle"),
        (NEEDED + '[limits]\nbacklash = ["10 thou", "6 thou"]\n', "limits.backlash (line 6): the least, 10 thou, is more than the most, 6 thou."),
        (NEEDED + '[limits]\nbacklash = ["0.2 mm", "0.2 mm"]\n', "limits.backlash (line 6): 0.2 mm to 0.2 mm leaves no room to set it; expected least and most 0.01 mm (0.4 thou) apart"),
        (NEEDED + '[limits]\nbacklash = ["0 mm", "0.2 mm"]\n', "limits.backlash (line 6): 0.000 mm (0.0000 in) is impossible; expected 0.020 mm"),
        (NEEDED + '[limits]\nbacklash = ["0.13 mm", "2.3 mm"]\n', "limits.backlash (line 6): 2.300 mm (0.0906 in) is impossible"),
        (NEEDED + '[limits]\nbacklash = "6 thou"\n', 'limits.backlash (line 6): "6 thou" was given; expected a list of least and most'),
        (NEEDED + '[limits]\ntotal_preload = ["2 mm", "3 mm"]\n', "limits.total_preload (line 6): 'mm' in '2 mm' is not a unit of torque"),
        (NEEDED + "[carrier]\nnotch = 5\n", "carrier.notch (line 6): 5 was given"),
        (NEEDED + '[ease_off]\nlengthwise = "0.05 mm"\n', "ease_off.profile is missing: expected a length"),
        ("limits = 3\n" + NEEDED, "limits: expected a table, written as [limits] on its own line."),
        ("name = 5\n" + NEEDED, "name (line 1): 5 was given; expected words in quotes"),
    ],
)  # fmt: skip
def test_problems_name_key_line_given_and_expected(text: str, said: str) -> None:
    assert any(problem.startswith(said) for problem in problems_of(text)), problems_of(text)


def test_all_problems_at_once() -> None:
    text = 'target = "middle"\n[gears]\npinion_teeth = 2\nring_teeth = "many"\nring_dia = 3\n[shim]\n'
    found = problems_of(text)
    assert len(found) == 5
    assert found[0].startswith("target (line 1)")


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"[gears\n", "axle-syntax"),
        (b"ring_diameter = 8.6 in\n", "axle-syntax"),
        (b"a = 1\na = 2\n", "axle-syntax"),
        (b"\xff\xfe[\0g\0", "axle-unreadable"),
        (b"x = " + b"[" * 5000, "axle-syntax"),
        (b"# " + b"x" * 1_000_001, "axle-unreadable"),
    ],
)
def test_unreadable_files(data: bytes, code: str, tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(data)
    with pytest.raises(AxleFileError) as caught:
        load_axle(path)
    assert caught.value.code == code


def test_missing_and_folder(tmp_path: Path) -> None:
    for path, code in ((tmp_path / "no.toml", "axle-missing"), (tmp_path, "axle-unreadable")):
        with pytest.raises(AxleFileError) as caught:
            load_axle(path)
        assert caught.value.code == code
        assert "contactread axle new" in caught.value.next_step


def test_byte_order_mark_and_windows_line_ends(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbf" + NEEDED.replace("\n", "\r\n").encode())
    assert load_axle(path) == parse_axle(NEEDED)


def test_command_writes_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.toml"
    arguments = ["axle", "new", str(path), "--pinion-teeth", "11", "--ring-teeth", "41"]
    assert main([*arguments, "--ring-diameter", "8.6 in", "--name", 'rear "A"']) == 0
    assert load_axle(path) == replace(parse_axle(NEEDED), name='rear "A"')
    before = path.read_bytes()
    capsys.readouterr()
    assert main(arguments) == 1
    assert "[file-exists]" in capsys.readouterr().err
    assert path.read_bytes() == before
    assert main(["axle", "new", str(tmp_path / "other.toml"), "--ring-diameter", "8.6"]) == 2
    assert not (tmp_path / "other.toml").exists()


def test_command_writes_nothing_from_impossible_numbers(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "new.toml"
    swapped = ["--pinion-teeth", "41", "--ring-teeth", "9", "--ring-diameter", "222 mm"]
    assert main(["axle", "new", str(file), *swapped]) == 1
    assert "gears.ring_teeth" in capsys.readouterr().err and not file.exists()
    assert main(["axle", "new", str(file), *swapped[:4]]) == 1 and not file.exists()


def test_command_shows_given_and_estimated(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(NEEDED, encoding="utf-8")
    assert main(["axle", "show", str(path)]) == 0
    out = capsys.readouterr().out
    assert "218.44 mm (8.600 in)" in out
    assert "estimated" in out
    assert "cutting method is unknown" in out
    assert main(["axle", "show", str(path), "--json"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert shown["axle"]["gears"]["ring_diameter_mm"] == pytest.approx(218.44)
    assert shown["estimated"]["face_width_mm"]["standard_deviation"] > 0
    assert main(["axle", "show", str(tmp_path / "none.toml"), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["error"]["code"] == "axle-missing"


@pytest.mark.parametrize(
    "thickness, step", [('"0.034 in"', 0.0254), ('"34 thou"', 0.0254), ('"0.86 mm"', 0.01)]
)
def test_the_step_follows_the_unit_of_the_shop_and_a_given_one_wins(thickness: str, step: float) -> None:
    text = f"{NEEDED}[pinion_shim]\nthickness = {thickness}\n"
    assert parse_axle(text).pinion_shim.step_mm == pytest.approx(step)
    given = parse_axle(text + 'step = "0.05 mm"\n')
    assert given.pinion_shim.step_mm == 0.05
    assert parse_axle(axle_toml(parse_axle(text))) == parse_axle(text)


def test_a_shim_table_is_a_list_of_lengths() -> None:
    text = NEEDED + '[pinion_shim]\nsizes = ["0.90 mm", "0.85 mm"]\n'
    assert parse_axle(text).pinion_shim.sizes_mm == (0.85, 0.9)
    assert "list" in problems_of(NEEDED + '[pinion_shim]\nsizes = "0.90 mm"\n')[0]


def test_an_axle_that_a_book_took_with_such_a_slip_stays_readable() -> None:
    text = NEEDED + 'cutter_radius = "190.5 mm"\n'
    assert parse_axle(text, kept=True).gears.cutter_radius_mm == 190.5
