"""The accuracy that README promises, kept on our own pictures."""

from __future__ import annotations

import pytest

from calibration.finder.accuracy import READ, SIDE, Result, results
from calibration.promises import PROMISES, SAMPLES, kept, kind_of


@pytest.fixture(scope="module")
def every() -> list[Result]:
    return list(results(SAMPLES))


def test_photos_are_read_and_sides_told(every: list[Result]) -> None:
    ordinary = [r for r in every if not r.negative]
    seen = [r for r in ordinary if r.refusal is None]
    assert len(ordinary) >= 24
    assert len(seen) >= READ * len(ordinary)
    assert sum(r.side_right for r in seen) >= SIDE * len(seen)


def test_no_negative_is_read(every: list[Result]) -> None:
    negative = [r for r in every if r.negative]
    assert len(negative) >= 5
    assert [r.name for r in negative if r.refusal is None] == []


@pytest.mark.parametrize("name", PROMISES)
def test_the_promise_is_kept(every: list[Result], name: str) -> None:
    group = [r for r in every if not r.negative and r.refusal is None and kind_of(r) == name]
    if name != "hard":
        assert group
    assert not group or kept(PROMISES[name], group)


def test_a_broken_promise_is_noticed(every: list[Result]) -> None:
    bad = [Result("made up", False, None, True, (), 1.0, (0.3, 0.3))]
    assert not kept(PROMISES["clear"], bad)
