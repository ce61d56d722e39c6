# mypy: disable-error-code="union-attr, arg-type, index"
# Where a test meets None in place of a value, it fails; that needs no line of its own.
"""sample_images/: the recipe is sound, and the truth beside each picture agrees with itself."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from calibration.render.from_axle import contact_regions, shape_of
from calibration.render.gear_shape import fits, flank_size
from calibration.render.patch_shape import numbers_of
from calibration.render.recipe import read_set_ups
from contactread.axle_file import load_axle
from contactread.mesh.blank import blank_of
from contactread.mesh.response import MeshModel

FOLDER = Path(__file__).parents[2] / "sample_images"
SET_UPS = {s.name: s for s in read_set_ups(FOLDER / "setups.toml")}
TRUTHS = sorted(p for p in FOLDER.glob("*/*.json") if not p.stem.endswith("_corners"))
PICTURES = [p for p in TRUTHS if p.parent.name != "refused"]


def name_of(path: Path) -> str:
    return f"{path.parent.name}/{path.stem}"


@pytest.mark.parametrize("name", SET_UPS)
def test_solid_fits_and_keeps_the_blank(name: str) -> None:
    blank = blank_of(SET_UPS[name].axle.gears)
    shape = shape_of(blank)
    assert fits(shape)
    assert shape.teeth == blank.teeth2 and shape.hand == blank.hand
    assert shape.outer_cone_distance == pytest.approx(blank.heel_distance)
    mean = shape.depth(np.array([0.5]))[0]
    assert mean == pytest.approx(blank.addendum2 + blank.dedendum2)


def test_regions_follow_the_mesh_model() -> None:
    """The drawn patch has the centre that the mesh model predicts, within its own scatter."""
    setup = SET_UPS["ash_too_deep"]
    model = MeshModel(setup.axle)
    size = flank_size(shape_of(model.blank))
    fields = contact_regions(model, "convex", setup.at, 0.0, size, (40, 160), np.random.default_rng(1))
    found = [numbers_of(field > 0, size) for field in fields]
    centres = np.array([n.centroid for n in found if n is not None])
    predicted = model.predict(setup.pinion_mm, setup.ring_mm).convex
    assert predicted is not None and len(centres) == len(fields)
    assert np.abs(centres.mean(0) - predicted.centre).max() < 0.02


@pytest.mark.parametrize("path", PICTURES, ids=name_of)
def test_truth_agrees_with_itself(path: Path) -> None:
    truth = json.loads(path.read_text(encoding="utf-8"))
    mask = cv2.imdecode(
        np.frombuffer((path.parent / truth["mask"]).read_bytes(), np.uint8), cv2.IMREAD_UNCHANGED
    )
    assert mask.shape == (truth["height"], truth["width"])
    assert max(mask.shape) >= 1600
    assert truth["invented"] is True
    assert load_axle(path.parent / "axle.toml") == SET_UPS[path.parent.name].axle
    good = [
        t
        for t in truth["teeth"]
        if t["painted"] and t["contact"] and t["visible_fraction"] > 0.98 and t["fully_in_frame"]
    ]
    for tooth in good:
        inside = np.zeros(mask.shape, np.uint8)
        cv2.fillPoly(inside, [np.rint(np.array(tooth["outline_px"])).astype(np.int32)], 1)
        x, y = np.rint(tooth["contact"]["centroid_px"]).astype(int)
        if inside.sum() < 4000:
            continue  # too foreshortened to compare areas by pixels
        assert inside[y, x]
        inside = np.asarray(
            cv2.erode(inside, np.ones((3, 3), np.uint8)), np.uint8
        )  # fillPoly draws the rim too
        flank = (inside > 0) & np.isin(mask, (1, 2))
        assert flank.sum() > 0.9 * inside.sum()
        share = (mask[flank] == 2).mean()  # in the picture; perspective weighs it a little otherwise
        assert share == pytest.approx(tooth["contact"]["area_fraction"], abs=0.08)


def test_every_picture_to_refuse_says_why() -> None:
    refused = [p for p in TRUTHS if p.parent.name == "refused"]
    if not refused:
        pytest.skip("sample_images/refused/ has not been rendered")
    for path in refused:
        truth = json.loads(path.read_text(encoding="utf-8"))
        assert truth["negative"] and (path.parent / truth["image"]).exists()


def test_small_enough_to_clone() -> None:
    assert sum(p.stat().st_size for p in FOLDER.rglob("*") if p.is_file()) < 25e6
