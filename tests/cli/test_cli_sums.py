"""`contactread sums`: each sum names its convention and its source; bad input is a coded error."""

from __future__ import annotations

import json

import pytest

from contactread.cli.main import main

GOOD = {
    "mark": ["--old", "+2", "--new", "-1", "--plus", "adds", "--pack", "0.031in"],
    "distance": ["--pack", "0.031in", "--old", "5.901in", "--new", "5.904in", "--place", "behind-head"],
    "housing": ["--pack", "0.034in", "--bore", "0.002in", "--etched", "5.903in", "--nominal", "5.900in"],
    "gauge": ["--reading", "0.019in", "--mark", "+2", "--plus", "adds"],
    "cone-centre": ["--etched", "100 mm", "--case", "150 mm"],
    "side-shims": ["--tool", "0.250in", "--opposite", "0.265in", "--away", "0.010in", "--preload", "0.004in"],
    "backlash": [
        "7 thou",
        "8 thou",
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
    "hand out of range": ["gauge", "--hand", "50", "--plus", "adds"],
    "two readings": ["gauge", "--hand", "5", "--reading", "0.1in", "--plus", "adds"],
    "no ratio like that": ["ratio", "--ratio", "50"],
    "counts the wrong way round": ["ratio", "--teeth", "41", "11"],
    "half a pair of limits": ["backlash", "7 thou", "--least", "5 thou"],
    "limits the wrong way round": ["backlash", "7 thou", "--least", "9 thou", "--most", "5 thou"],
    "convention left out": ["mark", "--old", "1", "--new", "2"],
}


@pytest.mark.parametrize("name", GOOD)
def test_each_sum_prints_its_result(name, capsys):
    assert main(["sums", name, *GOOD[name]]) == 0
    assert capsys.readouterr().out.strip()


@pytest.mark.parametrize("name", GOOD)
def test_each_sum_has_json(name, capsys):
    assert main(["sums", name, *GOOD[name], "--json"]) == 0
    assert isinstance(json.loads(capsys.readouterr().out), dict)


@pytest.mark.parametrize("name", ["mark", "distance", "housing", "gauge", "cone-centre", "side-shims"])
def test_each_sum_names_convention_and_source(name, capsys):
    main(["sums", name, *GOOD[name]])
    printed = capsys.readouterr().out
    assert "Convention:" in printed and "Sources: B" in printed


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_a_coded_error(name, capsys):
    assert main(["sums", *BAD[name]]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.rstrip().endswith("]")
    assert "Traceback" not in captured.err


def test_result_of_the_printed_example(capsys):
    """B1's printed example: old +2, new -1."""
    main(["sums", "mark", "--old", "+2", "--new", "-1", "--plus", "adds", "--json"])
    assert json.loads(capsys.readouterr().out)["result"] == {"mm": -0.0762, "thou": -3.0}
