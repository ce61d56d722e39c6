# mypy: disable-error-code="comparison-overlap"
# pytest.approx stands for a number in what is compared.
"""Jobs, tries, photos, readings, the set-up sheet and the sign-off."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any

import pytest
from made_axle import AXLE
from records_shop import reading, refusal

from contactread.errors import BookError
from contactread.records.book import Book
from contactread.records.jobs import find_job, list_jobs, open_job
from contactread.records.limits import check
from contactread.records.nouns import Fastener, Job
from contactread.records.photos import keep_advice, keep_photo
from contactread.records.sheet import set_up_sheet
from contactread.records.sign_off import check_list, sign_off, stop
from contactread.records.tries import find_try, record, start_try, tries_of


def refused(code: str) -> Any:
    return pytest.raises(BookError, check=lambda error: error.code == code)


def test_a_job_comes_back_as_it_was_opened(book: Book) -> None:
    job = open_job(
        book, vehicle="  Unit\n7 ", axle_text=AXLE, who="Ana", gear_set="set 12-4", condition="used",
        when="2026-01-05T10:00+01:00", notes="two lines\nof notes",
    )  # fmt: skip
    assert find_job(book, job.id) == job
    assert (job.vehicle, job.kind, job.condition) == ("Unit 7", "Fernhill 21", "used")
    assert job.opened_at == "2026-01-05T09:00:00Z"
    assert job.axle.gears.condition == "used"
    assert job.axle.limits.backlash_mm == pytest.approx((0.13, 0.20))


@pytest.mark.parametrize("missing", ["vehicle", "who"])
def test_half_a_job_is_refused(book: Book, missing: str) -> None:
    values = {"vehicle": "Unit 7", "who": "Ana"} | {missing: " \t"}
    with refused("record-half"):
        open_job(book, axle_text=AXLE, vehicle=values["vehicle"], who=values["who"])
    assert list_jobs(book) == []


def test_first_try_takes_the_shims_of_the_axle_file_and_the_next_those_before(book: Book, job: Job) -> None:
    first = start_try(book, job.id)
    assert (first.number, first.pinion_shim_mm, first.made_by) == (1, pytest.approx(1.0), "Ana")
    assert (first.ring_side_shim_mm, first.opposite_side_shim_mm) == pytest.approx((6.0, 6.5))
    second = start_try(book, job.id, who="Ben", pinion_shim_mm=1.08, compound="yellow")
    third = start_try(book, job.id)
    assert (second.number, second.ring_side_shim_mm, second.made_by) == (2, pytest.approx(6.0), "Ben")
    assert (third.pinion_shim_mm, third.compound) == (1.08, "yellow")


def test_half_a_try_is_refused(book: Book, new_job: Callable[..., Job]) -> None:
    bare = "[gears]\npinion_teeth = 11\nring_teeth = 41\nring_diameter = '215 mm'\n"
    job = new_job(axle_text=bare)
    with refused("record-half"):
        start_try(book, job.id)
    with refused("record-half"):
        start_try(book, job.id, pinion_shim_mm=1.0, ring_side_shim_mm=6.0)
    assert tries_of(book, job.id) == []
    start_try(book, job.id, pinion_shim_mm=1.0)
    with refused("record-half"):
        record(book, job.id, backlash_mm=[0.15], pinion_torque_nm=2.5)
    with refused("record-half"):
        record(book, job.id)
    assert find_try(book, job.id).backlash_mm == ()


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -0.1, 6.0])
def test_impossible_numbers_are_refused_whole(book: Book, job: Job, value: float) -> None:
    start_try(book, job.id)
    with refused("record-value"):
        record(book, job.id, backlash_mm=[0.15, value], ring_runout_mm=0.05)
    with refused("record-value"):
        record(book, job.id, backlash_mm=[0.15], ring_runout_mm=value)
    attempt = find_try(book, job.id)
    assert (attempt.backlash_mm, attempt.ring_runout_mm) == ((), None)


def test_replaced_values_are_kept_as_corrections(book: Book, job: Job) -> None:
    start_try(book, job.id)
    bolts = Fastener("cap bolts", 60.0, 70.0, None)
    record(book, job.id, backlash_mm=[0.15, 0.16], ring_runout_mm=0.05, fasteners=[bolts])
    record(book, job.id, tightened_nm={"cap bolts": 65.0})  # what wasn't known yet is no correction
    attempt = record(
        book, job.id, who="Ben", backlash_mm=[0.17], ring_runout_mm=0.05,
        fasteners=[Fastener("cap bolts", 60.0, 75.0, 65.0)],
    )  # fmt: skip
    assert attempt.backlash_mm == (0.17,)
    assert attempt.fasteners == (Fastener("cap bolts", 60.0, 75.0, 65.0),)
    kept = [tuple(r) for r in book.rows("SELECT field, old_value, corrected_by FROM correction")]
    assert kept == [
        ("backlash_mm", "[0.15, 0.16]", "Ben"), ("fastener cap bolts", "[60.0, 70.0, 65.0]", "Ben"),
    ]  # fmt: skip


def test_photos_are_kept_byte_for_byte_under_their_sha256(book: Book, job: Job) -> None:
    attempt = start_try(book, job.id)
    data = b"\xff\xd8 a picture"
    photo = keep_photo(book, data, name="IMG_1.JPG", who="Ana", try_id=attempt.id, reading=reading())
    assert photo.sha256 == hashlib.sha256(data).hexdigest()
    stored = book.photos.place(photo.sha256, photo.suffix)
    assert (stored.suffix, stored.read_bytes()) == (".jpg", data)
    again = keep_photo(book, data, name="copy.jpg", who="Ana", try_id=attempt.id, reading=refusal())
    assert again.id == photo.id
    assert again.reading is not None and again.reading.refusal == "too-blurred"
    assert len(list(book.photos.files())) == 1
    assert find_try(book, job.id).photos == (again,)
    second = start_try(book, job.id)
    with refused("photo-in-another-try"):
        keep_photo(book, data, name="IMG_1.JPG", who="Ana", try_id=second.id, reading=reading())


def test_an_unfiled_photo_finds_its_try_later(book: Book, job: Job) -> None:
    loose = keep_photo(book, b"loose", name="a.png", who="Ana", try_id=None, reading=reading())
    attempt = start_try(book, job.id)
    assert keep_photo(book, b"loose", name="a.png", who="Ana", try_id=attempt.id, reading=None) == loose
    assert find_try(book, job.id).photos == (loose,)


def test_a_failed_reading_row_keeps_neither_photo_nor_file(book: Book) -> None:
    with pytest.raises(KeyError):
        keep_photo(book, b"bad", name="a.png", who="Ana", try_id=None, reading={"status": "read"})
    assert list(book.photos.files()) == []
    assert book.photos.unfinished() == []
    assert book.value("SELECT count(*) FROM photo") == 0


def test_check_names_the_number_that_was_missed() -> None:
    assert check("Backlash", "mm", (0.13, 0.20), (0.13, 0.20)).verdict == "within"
    high = check("Backlash", "mm", (0.15, 0.23), (0.13, 0.20))
    assert (high.verdict, high.missed_by) == ("outside", pytest.approx(0.03))
    low = check("Backlash", "mm", (0.10, 0.21), (0.13, 0.20))
    assert low.missed_by == pytest.approx(-0.03)
    assert check("Ring-gear runout", "mm", (0.06,), (None, 0.06)).verdict == "within"
    assert check("Ring-gear runout", "mm", (0.0,), None).verdict == "no limit"
    assert check("Ring-gear runout", "mm", (), (None, 0.06)).verdict == "not measured"


def finish(book: Book, job: Job, **changed: Any) -> None:
    """A try on which nothing is missing."""
    attempt = start_try(book, job.id, compound="yellow", drag="rag on the ring gear")
    measured: dict[str, Any] = {
        "backlash_mm": [0.15, 0.16, 0.17, 0.16], "ring_runout_mm": 0.04, "pinion_torque_nm": 1.5,
        "bearings": "used", "total_torque_nm": 2.8, "fasteners": [Fastener("cap bolts", 60.0, 70.0, 65.0)],
    } | changed  # fmt: skip
    record(book, job.id, **measured)
    for side in ("drive", "coast"):
        data = f"{job.id} {attempt.number} {side}".encode()
        keep_photo(book, data, name=f"{side}.jpg", who="Ana", try_id=attempt.id, reading=reading(side))
    keep_advice(
        book, attempt.id, verdict="acceptable", pinion_shim_change_mm=None, ring_move_mm=None, advice={}
    )


def test_sheet_says_what_is_missing_and_what_is_outside(book: Book, job: Job) -> None:
    assert set_up_sheet(job, None).missing == ("No try is recorded yet.",)
    attempt = start_try(book, job.id)
    sheet = set_up_sheet(job, attempt)
    assert not sheet.ready
    for words in ("Backlash isn't measured.", "Ring-gear runout isn't measured.", "drive side", "coast side",
                  "compound", "held back", "No fastener torque"):  # fmt: skip
        assert any(words in sentence for sentence in sheet.missing), words
    finish(book, job, pinion_torque_nm=2.5)
    sheet = set_up_sheet(job, find_try(book, job.id))
    assert sheet.missing == ()
    assert sheet.outside == ("Pinion turning torque is outside its limit by 0.50 N·m (4.4 in-lb).",)
    record(book, job.id, bearings="new")
    assert set_up_sheet(job, find_try(book, job.id)).ready


def test_two_places_of_backlash_are_too_few(book: Book, job: Job) -> None:
    finish(book, job, backlash_mm=[0.15, 0.16])
    (missing,) = set_up_sheet(job, find_try(book, job.id)).missing
    assert "2 places" in missing and "4" in missing


def test_sign_off_refuses_what_is_open_and_keeps_what_was_confirmed(book: Book, job: Job) -> None:
    with refused("record-half"):
        sign_off(book, job.id, who="Ana", confirmed=check_list())
    finish(book, job)
    with refused("record-half"):
        sign_off(book, job.id, who="Ana", confirmed=list(check_list())[1:])
    with refused("record-value"):
        sign_off(book, job.id, who="Ana", confirmed=["unheard-of"])
    assert find_job(book, job.id).sign_off is None
    closed = sign_off(book, job.id, who="Ana", confirmed=check_list()).sign_off
    assert closed is not None
    assert (closed.outcome, closed.final_try, closed.left_open) == ("done", 1, ())
    assert closed.confirmed == check_list()
    for change in (
        lambda: start_try(book, job.id),
        lambda: record(book, job.id, backlash_mm=[0.1]),
        lambda: sign_off(book, job.id, who="Ana", confirmed=check_list()),
        lambda: stop(book, job.id, who="Ana", reason="x"),
    ):
        with refused("job-closed"):
            change()


def test_sign_off_despite_something_keeps_reason_and_what_was_open(book: Book, job: Job) -> None:
    finish(book, job, ring_runout_mm=0.09)
    with refused("record-half"):
        sign_off(book, job.id, who="Ana", confirmed=check_list())
    closed = sign_off(book, job.id, who="Ana", confirmed=check_list(), despite="Customer's wish").sign_off
    assert closed is not None
    assert closed.reason == "Customer's wish"
    assert closed.left_open == ("Ring-gear runout is outside its limit by 0.03 mm (1.2 thou).",)


def test_stopping_needs_a_reason(book: Book, job: Job) -> None:
    with refused("record-half"):
        stop(book, job.id, who="Ana", reason="  ")
    closed = stop(book, job.id, who="Ana", reason="Cracked case").sign_off
    assert closed is not None and closed.outcome == "stopped"


def test_unknown_numbers(book: Book, job: Job) -> None:
    with refused("job-missing"):
        find_job(book, 99)
    with refused("try-missing"):
        find_try(book, job.id)
    start_try(book, job.id)
    with refused("try-missing"):
        record(book, job.id, 2, backlash_mm=[0.1])
