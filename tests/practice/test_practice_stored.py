"""Questions from photographs with truth, and from the shop's own jobs."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from made_axle import AXLE

from contactread.errors import PracticeError
from contactread.practice.catalog import Catalog
from contactread.practice.marking import mark
from contactread.practice.photo_questions import SAMPLES, photo_ids, photo_question
from contactread.practice.question import MarkPatch, PhotoPicture
from contactread.practice.sheet import sheet_page
from contactread.practice.shop_questions import make_question_of, shop_ids, shop_question
from contactread.records.book import Book
from contactread.records.jobs import open_job
from contactread.records.photos import keep_photo
from contactread.records.sign_off import check_list, sign_off
from contactread.records.tries import record, start_try


def tooth(contact: dict[str, Any] | None, **more: Any) -> dict[str, Any]:
    outline = [[100.0, 100.0], [300.0, 100.0], [300.0, 200.0], [100.0, 200.0]]
    corners = dict(zip(("toe_root", "heel_root", "heel_top", "toe_top"), outline, strict=True))
    whole = {"painted": True, "visible_fraction": 1.0, "fully_in_frame": True}
    return {"outline_px": outline, "corners_px": corners, "contact": contact} | whole | more


def write_photo(folder: Path, teeth: list[dict[str, Any]]) -> None:
    """A made-up picture of nothing with its truth: enough to ask and mark."""
    from PIL import Image

    place = folder / "fernhill"
    place.mkdir(parents=True, exist_ok=True)
    Image.new("RGB", (400, 300), "grey").save(place / "drive.jpg")
    gear = {"face_width": 32.0, "spiral": 30.0, "depth_heel": 10.0, "depth_toe": 8.0}
    truth = {"width": 400, "height": 300, "side": "drive", "flank_shown": "convex", "gear": gear}
    (place / "drive.json").write_text(json.dumps(truth | {"teeth": teeth}), encoding="utf-8")


CONTACT = {"centroid_uv": [0.4, 0.5], "u_5_95": [0.3, 0.5], "v_5_95": [0.4, 0.6], "visible_fraction": 1.0}


def test_a_photograph_becomes_a_question(tmp_path: Path) -> None:
    write_photo(tmp_path, [tooth(None), tooth(CONTACT)])
    assert photo_ids(tmp_path) == ("photo-fernhill-drive",)
    made = photo_question("photo-fernhill-drive", tmp_path)
    assert isinstance(made.answer, MarkPatch)
    # The whole patch is wider than its 5 and 95 % points by 1 / 0.805, as of an ellipse.
    assert made.answer.patch.length == pytest.approx((0.4 - 0.1 / 0.805, 0.4 + 0.1 / 0.805))
    assert mark(made, "28-52 38-62").right
    assert not mark(made, "60-90 38-62").right
    page = sheet_page([made], "One photograph")
    assert "data:image/jpeg;base64," in page and "<polygon" in page
    assert Catalog(None, tmp_path).question(made.id).fingerprint() == made.fingerprint()


@pytest.mark.parametrize(
    "teeth",
    [
        [],
        [tooth(None)],
        [tooth(CONTACT, visible_fraction=0.5)],
        [tooth(CONTACT, fully_in_frame=False)],
        [tooth(CONTACT, painted=False)],
        [{"nonsense": 1}],
    ],
)
def test_photographs_without_a_clear_tooth_are_left_out(tmp_path: Path, teeth: list[dict[str, Any]]) -> None:
    write_photo(tmp_path, teeth)
    assert photo_ids(tmp_path) == ()
    with pytest.raises(PracticeError) as told:
        photo_question("photo-fernhill-drive", tmp_path)
    assert told.value.code == "question-unknown"


def test_an_id_never_leaves_its_folder(tmp_path: Path) -> None:
    write_photo(tmp_path / "inside", [tooth(CONTACT)])
    (tmp_path / "empty").mkdir()
    with pytest.raises(PracticeError):
        photo_question("photo-../inside/fernhill-drive", tmp_path / "empty")


def test_the_projects_own_photographs_are_asked_about() -> None:
    ids = photo_ids()
    if not ids:
        pytest.skip(f"no photographs with truth in {SAMPLES.name}")
    for question_id in ids:
        made = photo_question(question_id)
        answer = made.answer
        assert isinstance(answer, MarkPatch)
        (u0, u1), (v0, v1) = answer.patch.length, answer.patch.height
        assert mark(made, f"{u0:.0%}-{u1:.0%} {v0:.0%}-{v1:.0%}").right
        assert isinstance(made.pictures[0], PhotoPicture)


def reading(side: str, centre: tuple[float, float]) -> dict[str, Any]:
    u, v = centre
    pattern: dict[str, Any] = {"centroid": [u, v], "length": [u - 0.2, u + 0.2], "height": [v - 0.2, v + 0.2]}
    pattern |= {"area_fraction": 0.2, "runs_off": [], "spread": {"length": 0.01, "height": 0.02}}
    return {
        "path": "x.jpg", "status": "read", "refusal": None, "side": side, "confidence": 0.9, "flags": [],
        "flank": "convex" if side == "drive" else "concave", "teeth": [], "pattern": pattern,
    }  # fmt: skip


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """One job: try 1 high on both flanks, then the pinion 0.20 mm deeper, signed off."""
    with Book(tmp_path / "book.sqlite", write=True) as opened:
        job = open_job(opened, vehicle="Unit 7", axle_text=AXLE, who="Ana")
        for number, (shim, height) in enumerate(((1.00, 0.75), (1.20, 0.50)), 1):
            attempt = start_try(opened, job.id)
            record(opened, job.id, pinion_shim_mm=shim, backlash_mm=[0.15, 0.16, 0.15, 0.16])
            for side in ("drive", "coast"):
                data = f"{number} {side}".encode()
                keep_photo(opened, data, name=f"{side}.jpg", who="Ana", try_id=attempt.id,
                           reading=reading(side, (0.5, height)))  # fmt: skip
        yield opened


def test_a_job_that_was_signed_off_becomes_a_question(book: Book) -> None:
    with pytest.raises(PracticeError) as told:
        make_question_of(book, 1, 1, who="Ana")
    assert told.value.code == "case-not-proved"
    sign_off(book, 1, who="Ana", confirmed=check_list(), despite="Only a test")
    assert make_question_of(book, 1, 1, who="Ana") == "shop-1-1"
    assert shop_ids(book) == ("shop-1-1",)
    made = shop_question(book, "shop-1-1")
    best = mark(made, made.answer.best)  # type: ignore[union-attr]
    assert best.right and "pinion toward the ring gear" in best.best
    assert "-0.20 mm" in best.about[2].text and best.about[2].sources == ("shop",)
    assert len(made.pictures) == 3
    assert "shop" in Catalog(book).topics()
    with pytest.raises(PracticeError) as told:
        make_question_of(book, 1, 2, who="Ana")
    assert told.value.code == "case-not-proved"


def test_the_shop_may_say_itself_what_was_right(book: Book) -> None:
    make_question_of(book, 1, 1, who="Ana", right="inspect", says="A burr lay under the ring gear.")
    made = shop_question(book, "shop-1-1")
    assert "A burr lay under the ring gear." in made.about[2].text
    assert "No shim cures this" in mark(made, "e").best
    make_question_of(book, 1, 1, who="Ana", right="gear_away")  # said again: replaced, not doubled
    assert len(shop_ids(book)) == 1


@pytest.mark.parametrize("question_id", ["shop-9-9", "shop-1", "shop-x-y", "shop--1"])
def test_unknown_shop_questions(book: Book, question_id: str) -> None:
    with pytest.raises(PracticeError) as told:
        shop_question(book, question_id)
    assert told.value.code == "question-unknown"


def test_a_try_without_both_readings_is_refused(book: Book) -> None:
    start_try(book, 1)
    with pytest.raises(PracticeError) as told:
        make_question_of(book, 1, 3, who="Ana", right="inspect")
    assert told.value.code == "case-not-readable"
