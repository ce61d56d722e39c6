"""How well people read: every figure against general statistics libraries, on made answers."""

from __future__ import annotations

import json
import warnings
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats
from test_practice_stored import CONTACT, tooth, write_photo

from contactread.cli.main import main
from contactread.errors import PracticeError
from contactread.patch import Patch, told_clear
from contactread.practice.agreement import (
    Read,
    compare,
    icc,
    kappa,
    kept_reads,
    mean_and_spread,
    move_of,
    tool_reads,
)
from contactread.practice.history import keep_answer
from contactread.practice.marking import mark
from contactread.practice.photo_questions import photo_ids, photo_question
from contactread.practice.question import MarkPatch, Question
from contactread.records.book import Book

WORDS = ("toward", "away", "none")


def libraries() -> tuple[Any, Any, Any]:
    """Pingouin and scikit-learn; what they warn of in themselves isn't ours."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pingouin = pytest.importorskip("pingouin")
        pandas = pytest.importorskip("pandas")
        metrics = pytest.importorskip("sklearn.metrics")
    return pingouin, pandas, metrics


@pytest.mark.parametrize("seed", range(6))
def test_kappa_agrees_with_scikit_learn(seed: int) -> None:
    _, _, metrics = libraries()
    draw = np.random.default_rng(seed)
    a = [str(w) for w in draw.choice(WORDS, 25)]
    b = [w if draw.random() < 0.7 else str(draw.choice(WORDS)) for w in a]
    found = kappa(a, b)
    assert found.value == pytest.approx(metrics.cohen_kappa_score(a, b), abs=1e-12)
    assert found.low < found.value < found.high and found.count == 25
    # The bounds are those of the share of equal answers, exact by Clopper and Pearson.
    equal = sum(x == y for x, y in zip(a, b, strict=True))
    low = stats.beta.ppf(0.025, equal, 25 - equal + 1)
    chance = (equal / 25 - found.value) / (1 - found.value)
    assert found.low == pytest.approx((low - chance) / (1 - chance), abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_icc_agrees_with_pingouin(seed: int) -> None:
    pingouin, pandas, _ = libraries()
    draw = np.random.default_rng(seed)
    n, k = 12 + seed, 2 + seed % 4
    table = draw.uniform(0.2, 0.8, (n, 1)) + draw.normal(0, 0.03, (1, k)) + draw.normal(0, 0.05, (n, k))
    found = icc(table.tolist())
    rows = [(i, j, table[i, j]) for i in range(n) for j in range(k)]
    frame = pandas.DataFrame(rows, columns=["photo", "reader", "centre"])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = pingouin.intraclass_corr(frame, targets="photo", raters="reader", ratings="centre")
    # The second of six: two-way random, absolute agreement, single reader.
    row = theirs.iloc[1]
    assert found.value == pytest.approx(float(row["ICC"]), abs=1e-9)
    bounds = row[next(name for name in theirs.columns if name.startswith("CI95"))]
    assert (found.low, found.high) == pytest.approx(tuple(map(float, bounds)), abs=0.0051)


def test_bias_and_spread_have_the_bounds_of_the_library() -> None:
    errors = np.random.default_rng(2).normal(0.02, 0.05, 15)
    bias, spread = mean_and_spread(errors.tolist())
    t = stats.ttest_1samp(errors, 0).confidence_interval(0.95)
    assert (bias.value, bias.low, bias.high) == pytest.approx((errors.mean(), t.low, t.high))
    # Bounds of the spread: at each, a spread as seen is the 2.5 % tail of chi-square.
    tail = stats.chi2.cdf(14 * errors.var(ddof=1) / spread.low**2, 14)
    assert tail == pytest.approx(0.975) and spread.value == pytest.approx(errors.std(ddof=1))
    assert np.isnan(mean_and_spread([0.1, 0.2])[0].low)


def made(number: int, centre: tuple[float, float]) -> Question:
    u, v = centre
    length, height = (u - 0.2, u + 0.2), (v - 0.2, v + 0.2)
    patch = Patch(centre, length, height, 0.2, 0.0, told_clear(length, height))
    answer = MarkPatch(patch, 0.08, "drive", "convex", (30.0, 8.0))
    return Question(f"photo-{number}", "photo", "Where?", (), (), answer, (), 0.08, "Known.")


def test_a_biased_reader_is_found_and_a_pair_that_agrees_too() -> None:
    draw = np.random.default_rng(3)
    truth = {
        f"photo-{k}": made(k, (float(draw.uniform(0.3, 0.6)), float(draw.uniform(0.2, 0.8))))
        for k in range(20)
    }
    at, reads = datetime(2026, 3, 2, tzinfo=UTC), []
    for name, bias, spread in (("Ana", 0.0, 0.01), ("Bo", 0.1, 0.02), ("contactread", 0.0, 0.02)):
        for question_id, question in truth.items():
            assert isinstance(question.answer, MarkPatch)
            u, v = question.answer.patch.centre
            off = draw.normal(0, spread, 2)
            reads.append(Read(name, question_id, (u + bias + float(off[0]), v + float(off[1])), at))
    found = compare(reads, truth)
    ana, bo, tool = found.readers
    assert (ana.name, bo.name, tool.name) == ("Ana", "Bo", "contactread")
    assert bo.bias[0].low > 0.08 and ana.bias[0].low < 0 < ana.bias[0].high
    assert 0.005 < ana.spread[0].value < 0.02 < 0.04
    assert found.everyone is not None and found.everyone[1].value > 0.95 and found.everyone[0].count == 20
    assert all(pair.kappa.value > 0.7 for pair in found.pairs) and len(found.pairs) == 3
    with pytest.raises(PracticeError):
        compare([], truth)


def test_the_move_follows_the_height() -> None:
    assert [move_of((0.4, v), "drive") for v in (0.95, 0.5, 0.05)] == ["toward", "none", "away"]


def test_only_what_was_kept_with_consent_counts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_photo(tmp_path / "photos", [tooth(CONTACT)])
    asked = photo_question("photo-fernhill-drive", tmp_path / "photos")
    place = tmp_path / "book.sqlite"
    with Book(place, write=True) as book:
        for consent in (True, False, True):
            keep_answer(book, "Ana", mark(asked, "20-60 30-70 centre 45 55"), consent=consent)
        keep_answer(book, "Bo", mark(asked, "20-60 30-70"), consent=True)
        kept = kept_reads(book)
        rows = book.rows("SELECT given FROM practice_answer ORDER BY id")
        assert [bool(row[0]) for row in rows] == [True, False, True, True]
    assert [(r.reader, r.centre) for r in kept] == [("Ana", (0.45, 0.55))] * 2 + [("Bo", (0.4, 0.5))]
    at = ["--book", str(place), "--photos", str(tmp_path / "photos"), "--no-tool"]
    assert main(["practice", "readers", *at]) == 0
    out = capsys.readouterr().out
    assert "Ana" in out and "+5.0 %" in out
    assert main(["practice", "readers", *at, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["readers"][0]["bias"]["length"]["count"] == 2


def test_the_tool_reads_the_very_tooth_that_is_asked_about() -> None:
    ids = photo_ids()
    if not ids:
        pytest.skip("no photographs with truth")
    asked = photo_question(ids[0])
    (found,) = tool_reads([asked])
    assert isinstance(asked.answer, MarkPatch)
    assert found.centre == pytest.approx(asked.answer.patch.centre, abs=0.12)
