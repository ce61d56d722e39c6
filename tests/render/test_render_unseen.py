"""The scenes that nothing has learnt from cover what must be read and all that must be refused."""

from __future__ import annotations

from calibration.finder.render_unseen import OTHERS, plan
from calibration.render.lesson import SPOILED


def test_every_kind_of_scene_comes_within_fifteen() -> None:
    plans = [plan(scene) for scene in range(15)]
    assert {kind for kind, _ in plans} == {"ring", *OTHERS}
    assert {wish for _, wishes in plans for wish in wishes} == {None, "clear", *SPOILED}
    assert sum(kind == "ring" and None in wishes for kind, wishes in plans) == 9
