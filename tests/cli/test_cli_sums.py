"""`contactread sums`: each sum names its convention and its source; bad input is a coded error."""

from __future__ import annotations

import json
from typing import Any

import pytest

from contactread.cli.main import main

GOOD = {
    "mark": ["--old", "+2", "--new", "-1", "--plus", "adds", "--pack", "0.031in"],
    "distance": ["--pack", "0.031in", "--old", "5.901in", "--new", "5.904in", "--place", "behind-head"],
    "housing": ["--pack", "0.034in", "--bore", "0.002in", "--etched", "5.903in", "--nominal", "5.900in"],
    "gauge": ["--reading", "0.019in", "--mark", "+2", "--plus", "adds"],
    "cone-centre": ["--etched", "100 mm", "--case", "150 mm"],
    "side-shims": [
        "--tool",
        "0.250in",
        "--opposite",
        "0.265in",
        "--away",
        "+0.010in",
        "--preload",
        "0.004in",
    ],
    "backlash": [
        "7 8 thou",
        "12 thou",
        "--least",
        "5 thou",
        "--most",
        "8 thou",
        "--spread",
        "1 thou",
    ],
    "runout": ["3 thou", "--limit", "2 thou"],
    "ratio": ["--ratio", "3.73"],
}
BAD = {
    "match number": ["mark", "--old", "025", "--new", "1", "--plus", "adds"],
    "no unit": ["runout", "0.003"],
    "a shim that can't be": ["mark", "--old", "1", "--new", "2", "--plus", "adds", "--pack", "34 mm"],
    "a backlash that can't be": ["backlash", "9 mm"],
    "a gauge's pack that can't be": ["gauge", "--reading", "19 in", "--plus", "adds"],
    "no ratio like that": ["ratio", "--ratio", "50"],
    "counts the wrong way round": ["ratio", "--teeth", "41", "11"],
    "half a pair of limits": ["backlash", "7 thou", "--least", "5 thou"],
    "limits the wrong way round": ["backlash", "7 thou", "--least", "9 thou", "--most", "5 thou"],
    "convention left out": ["mark", "--old", "1", "--new", "2"],
}


@pytest.mark.parametrize("name", GOOD)
def test_each_sum_prints_its_result(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sums", name, *GOOD[name]]) == 0
    assert capsys.readouterr().out.strip()


@pytest.mark.parametrize("name", GOOD)
def test_each_sum_has_json(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sums", name, *GOOD[name], "--json"]) == 0
    assert isinstance(json.loads(capsys.readouterr().out), dict)


def test_a_runout_hardly_beyond_its_limit_isn_t_beyond_it_by_nothing(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["sums", "runout", "0.052 mm", "--limit", "0.05 mm"]) == 0
    assert "beyond the limit by less than 0.01 mm (0.4 thou)" in capsys.readouterr().out


def judged(capsys: pytest.CaptureFixture[str], *readings: str) -> dict[str, Any]:
    given = [f"{reading} thou" for reading in readings]
    assert main(["sums", "backlash", *given, "--least", "5 thou", "--most", "8 thou", "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_backlash_is_judged_at_every_place_not_by_its_mean(capsys: pytest.CaptureFixture[str]) -> None:
    one_out = judged(capsys, "6", "6", "9")
    assert one_out["verdict"] == "above"
    assert [place["verdict"] for place in one_out["places"]] == ["within", "within", "above"]
    assert max(one_out["ring_gear_travel_mm"]) < 0  # toward: the middle of least and most comes to the middle
    assert judged(capsys, "5", "8")["verdict"] == "within"
    both = judged(capsys, "4", "9")
    assert both["verdict"] == "above_and_below" and both["ring_gear_travel_mm"] is None


def test_the_gauge_s_own_offset_is_stated(capsys: pytest.CaptureFixture[str]) -> None:
    given = ["--reading", "5 thou", "--offset", "0.1 in", "--mark", "+3", "--plus", "subtracts", "--json"]
    assert main(["sums", "gauge", *given]) == 0
    assert json.loads(capsys.readouterr().out)["result"]["thou"] == pytest.approx(102.0)


@pytest.mark.parametrize("name", ["mark", "distance", "housing", "gauge", "cone-centre", "side-shims"])
def test_each_sum_names_convention_and_source(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["sums", name, *GOOD[name]])
    printed = capsys.readouterr().out
    assert "Convention:" in printed and "Sources: B" in printed


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_a_coded_error(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sums", *BAD[name]]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.rstrip().endswith("]")
    assert "Traceback" not in captured.err


def test_result_of_the_printed_example(capsys: pytest.CaptureFixture[str]) -> None:
    """B1's printed example: old +2, new -1."""
    main(["sums", "mark", "--old", "+2", "--new", "-1", "--plus", "adds", "--json"])
    assert json.loads(capsys.readouterr().out)["result"] == {"mm": -0.0762, "thou": -3.0}
