"""The short forms of the long checks in calibration/shop_book: kills, and questions on a large book."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path
from types import ModuleType

import pytest

FOLDER = Path(__file__).parents[2] / "calibration" / "shop_book"


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"shop_book_{name}", FOLDER / f"{name}.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")
@pytest.mark.filterwarnings("ignore:.*multi-threaded.*:DeprecationWarning")
def test_two_dozen_kills_lose_nothing(tmp_path: Path) -> None:
    counts = load("kills").kill_rounds(tmp_path / "shop", 24, seed=7)
    assert counts["rounds"] == 24 and any(n for words, n in counts.items() if words.startswith("told"))


def test_a_small_made_up_book_answers_every_question(tmp_path: Path) -> None:
    rows = load("make_book").make_book(tmp_path / "book.sqlite", 150)
    assert rows["job"] == 150 and rows["reading"] > 500
    load("question_speed").prove(tmp_path / "book.sqlite")


def test_twenty_sequences_equal_those_without_what_was_undone() -> None:
    counts = load("sequences").run(20, seed=5, length=16)
    assert counts["undone"] > 20 and counts["commands given"] > 60


def test_every_change_by_a_flipped_bit_is_told(tmp_path: Path) -> None:
    counts = load("flips").flip_facts(tmp_path, 12, seed=9)
    assert not any(words.startswith("PASSED") for words in counts)
    assert counts["every changed row named"] > 0
