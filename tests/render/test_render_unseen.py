"""The scenes that nothing has learnt from cover what must be read and all that must be refused."""

from __future__ import annotations

from calibration.finder.render_unseen import OTHERS, plan
from calibration.render.lesson import SPOILED


def test_the_negatives_cover_all_that_must_be_refused() -> None:
    plans = [plan("negative", scene) for scene in range(15)]
    assert {each.kind for each in plans} == {"ring", *OTHERS}
    assert {wish for each in plans for wish in each.wishes} == {None, *SPOILED}


def test_what_must_be_read_shows_a_ring_gear() -> None:
    assert plan("ordinary", 7) == ("ring", None, ("clear", None, None), None)
    housing = plan("housing", 7)
    assert (housing.kind, housing.place) == ("ring", "mouth") and set(housing.wishes) == {"mouth"}
    assert all(plan("workshop", scene).sober for scene in range(6))
