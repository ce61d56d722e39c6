"""Each one-line change that the tests must catch can still be made, and the tests that catch it are there."""

from __future__ import annotations

from calibration.mutations import ROOT, changes


def test_every_listed_change_can_be_made() -> None:
    listed = changes()
    assert listed
    for change in listed:
        assert change.made_in(ROOT), "raises where the line is gone, or stands twice"
        for tests in change.tests.split():
            assert (ROOT / tests.split("::")[0]).exists(), (change.file, tests)
