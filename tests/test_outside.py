"""The strict reader: ordinary files of bounded size, plain values of bounded depth, one kind of error."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from contactread.outside import Given, Unfit, from_json, from_toml, read_bytes, read_text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("NaN", "NaN"),
        ('{"a": -Infinity}', "-Infinity"),
        ("1e999", "can't be used"),
        ("-1E+400", "can't be used"),
        ("9" * 5000, "can't be used"),
        (str(2**63), "can't be used"),
        ('{"a": 1, "b": {"c": 1, "c": 2}}', "'c' stands there twice"),
        ('"\\ud800"', "half a character"),
        ('{"\\udfff": 1}', "half a character"),
        ("[" * 34 + "]" * 34, "deep"),
        ("[" * 100_000, "deep"),
        ('{"a":' * 40 + "1" + "}" * 40, "deep"),
        ("[1, 2", "line 1, column 6"),
        ("", "isn't valid JSON"),
        ("[1] 2", "isn't valid JSON"),
    ],
)
def test_json_is_refused_with_its_reason(text: str, words: str) -> None:
    with pytest.raises(Unfit, match=words) as caught:
        from_json(text)
    assert caught.value.kind == "syntax"


@pytest.mark.parametrize(
    "text",
    ["a = nan", "a = 1e999", "a = " + "9" * 5000, "a = " + "[" * 3000, "a = " + "[" * 40 + "]" * 40,
     "a = 1\na = 2", "a = 0x" + "f" * 40, ".".join("a" * 60) + " = 1"],
)  # fmt: skip
def test_toml_is_refused(text: str) -> None:
    with pytest.raises(Unfit):
        from_toml(text)


def test_plain_values_come_through() -> None:
    assert from_json('{"a": [1, -2.5e-3, true, null, "Ünï \\ud83d\\udd27"]}') == {
        "a": [1, -0.0025, True, None, "Ünï 🔧"]
    }
    assert from_json(b"[]") == []
    assert from_toml('a = 1\n[b]\nc = "0.2 mm"') == {"a": 1, "b": {"c": "0.2 mm"}}
    assert from_json(str(2**63 - 1)) == 2**63 - 1


def test_only_ordinary_files_are_read(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_bytes(b"\xef\xbb\xbfwords")
    assert read_text(file, 8) == "words"
    kinds = {tmp_path: "folder", tmp_path / "none": "missing", Path("a\0b"): "missing"}
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        kinds[tmp_path / "pipe"] = "special"
    if Path("/dev/zero").exists():
        kinds[Path("/dev/zero")] = "special"
    started = time.monotonic()
    for path, kind in kinds.items():
        with pytest.raises(Unfit) as caught:
            read_bytes(path, 1000)
        assert caught.value.kind == kind, path
    with pytest.raises(Unfit, match="too big") as caught:
        read_bytes(file, 7)
    assert time.monotonic() - started < 2
    file.write_bytes(b"\xff\xfe")
    with pytest.raises(Unfit, match="byte 1"):
        read_text(file, 10)


def test_a_value_is_taken_apart_with_its_place() -> None:
    given = Given(from_json('{"photos": [{"pattern": {"centroid": [0.4, 7]}}], "n": true}'))
    (photo,) = given.key("photos").each(10)
    with pytest.raises(Unfit, match=r"photos\[0\]\.pattern\.centroid\[1\] isn't a number from 0 to 1"):
        photo.key("pattern").key("centroid").pair(0, 1)
    with pytest.raises(Unfit, match="lacks 'length'"):
        photo.key("pattern").key("length")
    with pytest.raises(Unfit, match="n isn't a number"):
        given.key("n").number(0, 1)  # true is no number
    with pytest.raises(Unfit, match="at most 0"):
        given.key("photos").each(0)
    assert given.get("none") is None
