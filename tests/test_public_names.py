"""The library's few public names: complete, sorted, and free until they are used."""

from __future__ import annotations

import subprocess
import sys

import pytest

import contactread


def test_list_is_complete_and_sorted() -> None:
    assert contactread.__all__ == sorted(contactread.__all__)
    assert set(contactread.__all__) == set(contactread._HOMES)
    for name in contactread.__all__:
        assert getattr(contactread, name).__module__.startswith("contactread")
        assert getattr(contactread, name).__doc__
    assert dir(contactread) == sorted([*contactread.__all__, "__version__"])


def test_nothing_else_is_there() -> None:
    with pytest.raises(AttributeError, match="nothing_of_the_kind"):
        _ = contactread.nothing_of_the_kind


def test_importing_costs_nothing() -> None:
    script = "import contactread, sys; print(*sys.modules, sep='\\n')"
    out = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True).stdout
    loaded = {name.split(".")[0] for name in out.splitlines()}
    assert not loaded & {"numpy", "cv2", "scipy", "skimage", "rich", "typer"}


def test_predict_in_one_line() -> None:
    axle = contactread.Axle(contactread.GearSet(11, 41, 222.0, cutting="face_milled"))
    seen = contactread.predict(axle, ring_mm=0.1, backlash_mm=0.2)
    assert seen.after.backlash_mm > seen.before.backlash_mm == pytest.approx(0.2)
