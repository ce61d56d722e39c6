"""Questions from photographs with known truth: mark the patch on one tooth."""

from __future__ import annotations

import json
from math import cos, radians
from pathlib import Path
from typing import Any

from contactread.advice.rules import say
from contactread.belief.targets import target_for
from contactread.errors import PracticeError
from contactread.patch import EDGES, ELLIPSE_5_95, Patch, Point, told_clear
from contactread.practice.case import share
from contactread.practice.question import MarkPatch, PhotoPicture, Question
from contactread.practice.wording import computed

# Photographs of an invented shop that come with the project's checkout, each with its truth beside it.
SAMPLES = Path(__file__).parents[2] / "sample_images"
CLEAR = 0.85  # share of the tooth and of its patch that must be seen
TOLERANCE = 0.08


def photo_ids(folder: Path | None = None) -> tuple[str, ...]:
    """Ids of the questions that a folder of photographs gives; empty where there is none."""
    folder = SAMPLES if folder is None else folder
    found = (f"photo-{path.parent.name}-{path.stem}" for path in sorted(folder.glob("*/*.json")))
    return tuple(i for i in found if _truth(folder, i) is not None)


def photo_question(question_id: str, folder: Path | None = None) -> Question:
    """The question of one photograph. Raises PracticeError question-unknown."""
    folder = SAMPLES if folder is None else folder
    truth = _truth(folder, question_id)
    if truth is None:
        raise PracticeError(
            "question-unknown",
            f"There is no photograph for the question {question_id!r} in {folder}.",
            "List what there is with 'contactread practice topics'.",
        )
    tooth = _clearest(truth)
    assert tooth is not None
    contact = tooth["contact"]
    length, height = _whole(contact["u_5_95"]), _whole(contact["v_5_95"])
    size = truth["width"], truth["height"]
    x, y = _middle(tooth)
    u, v = contact["centroid_uv"]
    off = frozenset(edge for edge in EDGES if contact.get("runs_off", {}).get(edge))
    patch = Patch(
        (u, v), length, height, contact.get("area_fraction", 0.0), 0.0, told_clear(length, height, off)
    )
    role, flank = truth["side"], truth["flank_shown"]
    zone = target_for(None).zone(role)
    lies = "high" if v > zone.v[1] else "low" if v < zone.v[0] else "at the wanted height"
    rule = say({"high": "both-high", "low": "both-low"}.get(lies, "pattern-in-zone"))
    return Question(
        question_id,
        "photo",
        "Where does the patch on the marked tooth lie?",
        ("In percent: from and to along the length, from the toe; then up the height, from the root.",),
        (PhotoPicture(
            _picture_path(folder, question_id),
            f"It shows the {flank} flank. The marked tooth lies at {x / size[0]:.0%} of the picture's "
            f"width from the left and {y / size[1]:.0%} of its height from the top.",
            size, tuple((float(px), float(py)) for px, py in tooth["outline_px"]),
        ),),
        MarkPatch(patch, TOLERANCE, role, flank, _size_mm(truth["gear"])),
        (
            computed(f"The truth is known (an invented axle): the patch lies from {length[0]:.0%} to "
                     f"{length[1]:.0%} of the length and {height[0]:.0%} to {height[1]:.0%} of the "
                     f"height, its centre at {u:.0%} and {v:.0%}."),
            computed(f"That is {lies} for the {role} side: wanted is {zone.v[0]:.0%} to {zone.v[1]:.0%}."),
            say(rule.rule, f"What moves it: {rule.text}"),
        ),
        TOLERANCE,
        f"The borders are known; {share(TOLERANCE)} of the tooth is allowed: a patch has no sharp edge.",
        terms=("pattern", "compound", "toe", "root"),
    )  # fmt: skip


def _truth(folder: Path, question_id: str) -> dict[str, Any] | None:
    """The truth beside a photograph that can be asked about; None where it can't."""
    picture = _picture_path(folder, question_id)
    try:
        truth: dict[str, Any] = json.loads(picture.with_suffix(".json").read_text(encoding="utf-8"))
        return truth if picture.is_file() and _clearest(truth) is not None else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _picture_path(folder: Path, question_id: str) -> Path:
    _, _, place = question_id.partition("-")
    name, _, side = place.rpartition("-")
    return folder / Path(name).name / f"{Path(side).name}.jpg"


def _clearest(truth: dict[str, Any]) -> dict[str, Any] | None:
    """The wholly seen painted tooth that is largest in the picture."""
    teeth = [
        tooth
        for tooth in truth["teeth"]
        if tooth["painted"] and tooth["contact"] and tooth["fully_in_frame"]
        and min(tooth["visible_fraction"], tooth["contact"]["visible_fraction"]) >= CLEAR
    ]  # fmt: skip
    return max(teeth, key=lambda tooth: _area(tooth["outline_px"]), default=None)


def _middle(tooth: dict[str, Any]) -> Point:
    corners = list(tooth["corners_px"].values())
    return sum(c[0] for c in corners) / len(corners), sum(c[1] for c in corners) / len(corners)


def _size_mm(gear: dict[str, Any]) -> tuple[float, float]:
    """Length and mean height of a flank."""
    return gear["face_width"] / cos(radians(gear["spiral"])), (gear["depth_heel"] + gear["depth_toe"]) / 2


def _area(outline: list[Point]) -> float:
    """Area inside a closed line (shoelace formula)."""
    pairs = zip(outline, [*outline[1:], outline[0]], strict=True)
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs)) / 2


def _whole(interval: list[float]) -> tuple[float, float]:
    """Borders as the eye sees them, from the 5 and 95 % points."""
    middle, half = (interval[0] + interval[1]) / 2, (interval[1] - interval[0]) / 2 / ELLIPSE_5_95
    return max(middle - half, 0.0), min(middle + half, 1.0)
