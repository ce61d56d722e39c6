"""Moments of the book: sortable as text whatever the year, and shown in this computer's time zone."""

from __future__ import annotations

import time
from datetime import UTC, datetime

import pytest

from contactread.records.moments import day, in_a_name, minute, stamp


def test_stamps_sort_by_time_whatever_the_year() -> None:
    moments = [datetime(year, 3, 31, 14, 30, tzinfo=UTC) for year in (206, 1999, 2026)]
    assert [stamp(each) for each in moments] == sorted(map(stamp, moments))
    assert stamp(moments[0]) == "0206-03-31T14:30:00Z"
    assert in_a_name(moments[2]) == "20260331T143000000000"


def test_days_are_those_of_this_computer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "XYZ-2")  # two hours ahead of UTC
    time.tzset()
    try:
        assert day("2026-03-31T23:30:00Z") == "2026-04-01"
        assert minute("2026-03-31T23:30:00Z") == "2026-04-01 01:30"
        assert day("0206-01-01T12:00:00Z") == "0206-01-01"
    finally:
        monkeypatch.undo()
        time.tzset()
