"""A short run of the attacks that ``python -m calibration.fuzz`` makes at length; texts that broke us."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Callable
from pathlib import Path

import pytest

from calibration.fuzz import streams
from calibration.fuzz.__main__ import fuzz_bundles, fuzz_photos, fuzz_texts
from calibration.fuzz.judge import Tally
from calibration.fuzz.texts import Text, give

BROKE = Path(__file__).parents[1] / "corpus" / "texts"
NO_END = float("inf")
pytestmark = pytest.mark.skipif(os.name == "nt" or sys.platform != "linux", reason="needs /proc and pipes")


@pytest.mark.parametrize(("attack", "count"), [(fuzz_photos, 80), (fuzz_texts, 60), (fuzz_bundles, 15)])
def test_each_is_answered_or_refused_with_a_code(attack: Callable[..., Tally], count: int) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # hypothesis warns of what a time limit does to its draws
        tally = attack(count, 5, NO_END, None)
    assert sum(tally.codes.values()) >= 0.9 * count
    assert not tally.wrong, tally.table("cases")


@pytest.mark.parametrize("file", sorted(BROKE.iterdir()), ids=lambda path: path.name)
def test_what_broke_us_once(file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Files named by what they are given as: axle, reading, corners, ..."""
    for name in ("CONTACTREAD_SETTINGS", "CONTACTREAD_BOOK", "CONTACTREAD_DEBUG"):
        monkeypatch.setenv(name, "")  # put back as it was, afterwards
    code = give((Text(file.name.split("_")[0], file.read_bytes()), str(tmp_path)))
    assert code != "done"


CHOSEN = (
    "flags, stdout closed", "flags, stderr closed", "flags, stdout full", "flags, reader leaves",
    "flags, in ASCII", "all closed", "help, full", "usage, all full",
    r"name \x1b]0;x\x07.jpg --json", r"name \xff\xfe.jpg",
    "settings are a device", "--corners pipe", "SIGTERM in predict after 0.5 s",
)  # fmt: skip


@pytest.mark.parametrize("name", CHOSEN)
def test_odd_streams_end_clearly(name: str) -> None:
    (odd,) = (o for o in (*streams.streams(), *streams.places(), *streams.signals()) if o.name == name)
    assert streams.tried(odd)
