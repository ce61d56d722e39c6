"""Slips: undone, corrected, moved, merged, struck out, reopened; nothing is lost, and the log tells all."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from made_axle import AXLE
from records_shop import reading

from contactread.errors import BookError
from contactread.records import slips
from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.corrections import corrections_of
from contactread.records.doubts import unsaid_moves
from contactread.records.file_readings import file_readings
from contactread.records.jobs import find_job, list_jobs, open_job, open_job_id
from contactread.records.nouns import Job, Try
from contactread.records.photos import keep_advice, keep_photo, refuse_after_move
from contactread.records.questions import start_shims, walk
from contactread.records.sign_off import check_list, reopen, sign_off, stop
from contactread.records.tries import find_try, record, start_try, tries_of
from contactread.records.undo import entries, undo


def refused(code: str) -> Any:
    return pytest.raises(BookError, check=lambda error: error.code == code)


def test_undo_takes_back_the_last_of_a_person_and_can_be_taken_back(book: Book, job: Job) -> None:
    start_try(book, job.id, who="Ana")
    record(book, job.id, who="Ana", ring_runout_mm=0.05)
    record(book, job.id, who="Ana", ring_runout_mm=0.5, backlash_mm=[0.15])
    before = find_try(book, job.id)
    taken = undo(book, who="ana")
    assert (taken.what, taken.who) == (f"recorded on job {job.id}, try 1", "Ana")
    now = find_try(book, job.id)
    assert (now.ring_runout_mm, now.backlash_mm, corrections_of(book, job.id)) == (0.05, (), ())
    undo(book, number=entries(book)[0].number)
    assert find_try(book, job.id) == before
    with refused("undo-done"):
        undo(book, number=entries(book)[0].undoes)
    assert check_book(book).clean


def test_undo_of_everything_leaves_an_empty_book_and_the_log(book: Book, job: Job) -> None:
    attempt = start_try(book, job.id)
    photo = keep_photo(book, b"drive", name="a.jpg", who="Ana", try_id=attempt.id, reading=reading())
    for _ in range(3):
        undo(book, who="Ana")
    with refused("undo-nothing"):
        undo(book, who="Ana")
    assert list_jobs(book) == [] and book.value("SELECT count(*) FROM words") == 0
    assert book.photos.holds(photo.sha256, photo.suffix)  # undo of undo can bring it back
    found = check_book(book)
    assert found.clean and not found.orphans and len(entries(book)) == 6
    for number in (6, 5, 4):
        undo(book, number=number)
    assert find_try(book, job.id).photos == (photo,) and check_book(book).clean
    assert open_job(book, vehicle="Unit 8", axle_text=AXLE, who="Ana").id == job.id + 1  # never used twice


def test_undo_is_refused_where_others_built_upon_it(book: Book, job: Job) -> None:
    start_try(book, job.id, who="Ana")
    record(book, job.id, who="Ben", ring_runout_mm=0.05)
    with refused("undo-built-upon"):
        undo(book, who="Ana")
    assert find_try(book, job.id).ring_runout_mm == 0.05
    undo(book, who="Ben")
    undo(book, who="Ana")
    assert tries_of(book, job.id) == []


def test_a_job_is_corrected_and_what_stood_there_is_kept(book: Book, job: Job) -> None:
    found = slips.correct_job(
        book, job.id, who="Ben", vehicle="Unit 8", customer="Invented Farm", mileage="84,000 km",
        condition="used", when="2026-01-02",
    )  # fmt: skip
    assert (found.vehicle, found.customer, found.condition) == ("Unit 8", "Invented Farm", "used")
    kept = {(c.field, c.old, c.new) for c in corrections_of(book, job.id)}
    assert ("vehicle", "Unit 7", "Unit 8") in kept and not any(field == "customer" for field, *_ in kept)
    assert book.value("SELECT count(*) FROM words WHERE words MATCH 'farm'") == 1
    with refused("record-half"):
        slips.correct_job(book, job.id, who="Ben", vehicle=" ")


def test_an_axle_file_is_replaced_and_advice_keeps_its_own(book: Book, job: Job) -> None:
    attempt = start_try(book, job.id)
    kept: dict[str, Any] = {"verdict": "acceptable", "pinion_shim_change_mm": None, "ring_move_mm": None}
    keep_advice(book, attempt.id, **kept, advice={"n": 1}, words="As given.")
    slips.replace_axle(book, job.id, AXLE.replace('"0.20 mm"', '"0.25 mm"'), who="Ana")
    keep_advice(book, attempt.id, **kept, advice={"n": 2})
    found = find_try(book, job.id)
    assert found.advice is not None and found.advice.axle_version == 2
    (earlier,) = found.earlier_advice
    assert (earlier.axle_version, earlier.words, earlier.json) == (1, "As given.", {"n": 1})
    assert find_job(book, job.id).axle.limits.backlash_mm == pytest.approx((0.13, 0.25))


def test_a_photo_in_the_wrong_job_is_moved(book: Book, new_job: Callable[..., Job]) -> None:
    wrong, right = new_job(), new_job()
    first, second = start_try(book, wrong.id), start_try(book, right.id)
    photo = keep_photo(book, b"drive", name="a.jpg", who="Ana", try_id=first.id, reading=reading())
    slips.move_photo(book, photo.id, right.id, who="Ben")
    assert find_try(book, wrong.id).photos == () and len(find_try(book, right.id).photos) == 1
    keep_photo(book, b"drive", name="a.jpg", who="Ana", try_id=second.id, reading=None)
    slips.strike_photo(book, photo.id, who="Ben", reason="shows another axle")
    (struck,) = find_try(book, right.id).photos
    assert struck.struck == "shows another axle" and find_try(book, right.id).reading_of("drive") is None
    undo(book, who="Ben")
    assert find_try(book, right.id).reading_of("drive") is not None


def test_a_try_is_moved_and_jobs_are_merged(book: Book, new_job: Callable[..., Job]) -> None:
    one, two = new_job(customer="Invented Farm"), new_job()
    for job in (one, one, two):
        start_try(book, job.id, pinion_shim_mm=1.0 + job.id / 10)
    moved = slips.move_try(book, one.id, 1, two.id, who="Ben")
    assert (moved.job_id, moved.number) == (two.id, 2)
    assert [t.number for t in tries_of(book, one.id)] == [2]
    assert start_try(book, one.id).number == 3
    merged = slips.merge_jobs(book, one.id, two.id, who="Ben", reason="one axle")
    assert [t.number for t in tries_of(book, two.id)] == [1, 2, 3, 4]
    assert merged.customer == "Invented Farm" and find_job(book, one.id).struck == f"merged into job {two.id}"
    with refused("job-struck"):
        start_try(book, one.id)
    undo(book, who="Ben")
    assert [t.number for t in tries_of(book, one.id)] == [2, 3]
    assert check_book(book).clean


def test_a_struck_try_or_job_counts_no_more(book: Book, new_job: Callable[..., Job]) -> None:
    job, other = new_job(), new_job()
    start_try(book, job.id, pinion_shim_mm=1.0)
    start_try(book, job.id, pinion_shim_mm=1.3)
    slips.strike_try(book, job.id, 2, who="Ana", reason="wrong axle")
    third = start_try(book, job.id)
    assert (third.number, third.pinion_shim_mm) == (3, 1.0)
    assert [row[0] for row in walk(book, job.id).rows] == [1, 3]
    assert len(tries_of(book, job.id, struck=True)) == 3
    sign_off(book, job.id, who="Ana", confirmed=check_list(), despite="a test")
    assert len(start_shims(book).rows) == 1
    slips.strike_job(book, other.id, who="Ana", reason="opened twice")
    assert [j.id for j in list_jobs(book, open_only=True)] == []
    with refused("job-which"):
        open_job_id(book)


def test_a_closed_job_is_reopened_and_its_report_can_tell(book: Book, job: Job) -> None:
    start_try(book, job.id)
    record(book, job.id, ring_runout_mm=0.05)
    signed = sign_off(book, job.id, who="Ana", confirmed=check_list(), despite="a test").sign_off
    with refused("undo-built-upon"):
        undo(book, number=3)
    with refused("record-half"):
        reopen(book, job.id, who="Ben", reason=" ")
    again = reopen(book, job.id, who="Ben", reason="came back")
    assert again.sign_off is None and again.reopened[0].signed == signed
    record(book, job.id, who="Ben", ring_runout_mm=0.06)
    assert [(c.field, c.after_sign_off) for c in corrections_of(book, job.id)] == [("ring_runout_mm", True)]
    undo(book, who="Ben")
    undo(book, who="Ben")
    assert find_job(book, job.id).sign_off == signed


def test_a_measurement_is_struck_out(book: Book, job: Job) -> None:
    start_try(book, job.id)
    record(book, job.id, backlash_mm=[0.15], pinion_torque_nm=2.5, bearings="new")
    found = record(book, job.id, cleared=["backlash", "pinion-torque"], made_by="Ben", reason="another axle")
    assert (found.backlash_mm, found.pinion_torque_nm, found.bearings, found.made_by) == (
        (),
        None,
        None,
        "Ben",
    )
    kept = {(c.field, c.old, c.new) for c in corrections_of(book, job.id)}
    assert {("backlash_mm", "[0.15]", None), ("pinion_torque_nm", "2.5", None)} <= kept
    with refused("record-value"):
        record(book, job.id, cleared=["colour"])


@pytest.mark.parametrize(
    "slip",
    [
        lambda book, job: start_try(book, job, pinion_shim_mm=34.0),
        lambda book, job: record(book, job, backlash_mm=[0.15, 1.5]),
        lambda book, job: record(book, job, backlash_mm=[0.15, 0.007]),  # 0.007 in, written as mm
        lambda book, job: record(book, job, ring_runout_mm=2.0),
        lambda book, job: record(book, job, ring_runout_mm=0.003),  # 0.003 in, written as mm
        lambda book, job: record(book, job, pinion_shim_mm=40.0),
        lambda book, job: start_try(book, job, when="2031-01-01"),
        lambda book, job: start_try(book, job, when="0206-01-01"),
        lambda book, job: slips.correct_job(book, job, who="Ana", when="2031-01-01"),
    ],
)
def test_what_can_hardly_be_is_asked_again_before_it_is_written(
    book: Book, new_job: Callable[..., Job], slip: Callable[[Book, int], Any]
) -> None:
    job = new_job()
    start_try(book, job.id, pinion_shim_mm=0.86)
    before = book.value("SELECT count(*) FROM entry")
    with refused("record-doubt"):
        slip(book, job.id)
    assert book.value("SELECT count(*) FROM entry") == before
    assert record(book, job.id, pinion_shim_mm=34.0, sure=True).pinion_shim_mm == 34.0


def test_a_try_s_date_out_of_order_is_asked_again(book: Book, job: Job) -> None:
    start_try(book, job.id)  # on 2 March 2026
    start_try(book, job.id)
    slips_of_date: tuple[tuple[Callable[[], Any], str], ...] = (
        (lambda: start_try(book, job.id, when="2026-03-01"), "before try 2, 2026-03-02"),
        (lambda: record(book, job.id, 2, when="2026-03-01"), "before try 1, 2026-03-02"),
        (lambda: record(book, job.id, 1, when="2026-03-03"), "after try 2, 2026-03-02"),
    )
    for slip, words in slips_of_date:
        with pytest.raises(BookError, match=words) as told:
            slip()
        assert told.value.code == "record-doubt"
    assert start_try(book, job.id, when="2026-03-02").number == 3  # a day has no order
    assert start_try(book, job.id, when="2026-03-01", sure=True).number == 4
    start_try(book, job.id)
    later = start_try(book, job.id, when="2026-03-01", shims_unknown=True, as_before=False)  # of a manifest
    assert later.number == 6


def test_a_clock_that_went_back_is_noticed_when_a_try_is_started(place: Path) -> None:
    now = [datetime(2026, 3, 10, 8, tzinfo=UTC)]
    with Book(place, write=True, clock=lambda: now[0]) as book:
        job = open_job(book, vehicle="Unit 7", axle_text=AXLE, who="Ana").id
        start_try(book, job)
        now[0] -= timedelta(days=3)
        with pytest.raises(BookError, match="2026-03-07 lies before try 1, 2026-03-10") as told:
            start_try(book, job)
        assert told.value.code == "record-doubt"
        assert start_try(book, job, sure=True).number == 2


def test_dates_of_a_job_its_first_try_and_its_end_are_held_against_each_other(book: Book, job: Job) -> None:
    day_before: dict[str, Any] = {"who": "Ana", "when": "2026-03-01"}  # the job is of 2 March
    for slip, words in (
        (lambda: start_try(book, job.id, when="2026-03-01"), "before job 1, 2026-03-02"),
        (lambda: stop(book, job.id, reason="sold", **day_before), "before job 1, 2026-03-02"),
    ):
        with pytest.raises(BookError, match=words):
            slip()
    start_try(book, job.id)
    for slip, words in (
        (lambda: record(book, job.id, when="2026-03-01"), "before job 1, 2026-03-02"),
        (
            lambda: slips.correct_job(book, job.id, who="Ana", when="2026-03-03", sure=False),
            "after try 1, 2026-03-02",
        ),
        (
            lambda: sign_off(book, job.id, confirmed=[*check_list()], despite="x", **day_before),
            "before try 1",
        ),
    ):
        with pytest.raises(BookError, match=words) as told:
            slip()
        assert told.value.code == "record-doubt"
    assert stop(book, job.id, reason="sold", sure=True, **day_before).sign_off


def test_photos_are_read_into_the_open_job_in_one_go(book: Book, job: Job) -> None:
    photos = [(f"{side}.jpg", side.encode(), reading(side)) for side in ("drive", "coast")]
    attempt = file_readings(book, photos, backlash_mm=[0.15, 0.16])
    assert (attempt.number, len(attempt.photos), attempt.backlash_mm) == (1, 2, (0.15, 0.16))
    assert undo(book, who="Ana").what == f"2 photos read into job {job.id}"
    assert tries_of(book, job.id) == []


def test_numbers_beyond_sixty_three_bits_are_refused(book: Book) -> None:
    with refused("record-value"):
        find_job(book, 2**70)


ADVISED = {
    "moves": [
        {"shims": [{"part": "pinion_shim", "change": {"mm": -0.24}, "notches": None}]},
        {"shims": [{"part": "ring_side_shim", "change": {"mm": 0.1}, "notches": None},
                   {"part": "opposite_shim", "change": {"mm": -0.1}, "notches": None}]},
    ]
}  # fmt: skip


def advised(book: Book, job: Job) -> Try:
    attempt = start_try(book, job.id)
    keep_photo(book, b"drive", name="a.jpg", who="Ana", try_id=attempt.id, reading=reading())
    kept: dict[str, Any] = {"verdict": "move_both", "pinion_shim_change_mm": -0.24, "ring_move_mm": -0.1}
    keep_advice(book, attempt.id, **kept, advice=ADVISED, words="Move.", who="Ana")
    return find_try(book, job.id)


def test_photos_after_a_move_are_not_put_with_those_before_it(book: Book, job: Job, tmp_path: Path) -> None:
    attempt, old, new = advised(book, job), tmp_path / "old.jpg", tmp_path / "new.jpg"
    old.write_bytes(b"drive")
    new.write_bytes(b"drive, after the move")
    refuse_after_move(book, attempt, [old])  # the same command once more
    with refused("photos-after-move"):
        refuse_after_move(book, attempt, [old, new])
    refuse_after_move(book, start_try(book, job.id), [new])


def test_a_build_that_becomes_what_was_advised_on_its_try_is_asked_again(book: Book, job: Job) -> None:
    advised(book, job)  # on a pinion shim of 1.00 mm
    with pytest.raises(BookError, match="such a change was advised on try 1") as told:
        record(book, job.id, pinion_shim_mm=0.77)
    assert told.value.code == "record-doubt"
    assert record(book, job.id, pinion_shim_mm=1.02).pinion_shim_mm == 1.02  # a correction


def test_a_new_try_that_is_silent_on_an_advised_move_is_told(book: Book, job: Job) -> None:
    attempt = advised(book, job)
    told = unsaid_moves(attempt, {"pinion_shim_mm": 0.76})
    assert "side shim behind the ring gear and opposite side shim" in told and "on try 1" in told
    whole = {"pinion_shim_mm": 0.76, "ring_side_shim_mm": 6.1, "opposite_side_shim_mm": 6.4}
    assert not unsaid_moves(attempt, whole) and not unsaid_moves(attempt, {}), "all as before: another look"
