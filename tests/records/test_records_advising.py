# mypy: disable-error-code="comparison-overlap, arg-type"
# pytest.approx stands for a number in what is compared. The parts of a try come as they are.
"""Advice on recorded tries: readings kept whole, moves from shims, the tries before."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_axle import AXLE

sys.path.insert(0, str(Path(__file__).parents[1] / "show"))
from report_shop import made_flank, made_reading

from contactread.axle import Axle, Carrier, GearSet, PinionShim
from contactread.cli.main import main
from contactread.errors import AdviceError, BookError, QuantityError
from contactread.records.advising import advise_try, history, moves_between, set_up_of
from contactread.records.book import Book
from contactread.records.measured import pattern_json, reading_of, with_measured
from contactread.records.nouns import Job, Try
from contactread.records.photos import keep_photo
from contactread.records.review_places import advise_all
from contactread.records.sheet import set_up_sheet
from contactread.records.sign_off import stop
from contactread.records.slips import replace_axle, strike_photo
from contactread.records.tries import find_try, record, start_try, tries_of
from contactread.show.sheet_text import next_step
from contactread.views import join


def attempt(shim: float, ring: float | None = None, opposite: float | None = None, **more: float) -> Try:
    built = {"ring_side_notches": None, "opposite_side_notches": None} | more
    return Try(
        id=1, job_id=1, number=1, made_by="Ana", made_at="2026-01-01T00:00:00Z", pinion_shim_mm=shim,
        ring_side_shim_mm=ring, opposite_side_shim_mm=opposite, ring_runout_mm=None, pinion_torque_nm=None,
        bearings=None, total_torque_nm=None, side_preload_mm=None, compound=None, drag=None, notes="",
        backlash_mm=(), fasteners=(), photos=(), advice=None, **built,
    )  # fmt: skip


def axle(place: str | None, **carrier: object) -> Axle:
    shim = PinionShim(place=place)
    return Axle(GearSet(11, 41, 215.0), pinion_shim=shim, carrier=Carrier(**carrier))


@pytest.mark.parametrize(("place", "pinion_mm"), [("behind_head", -0.1), ("under_cage", 0.1), (None, None)])
def test_a_thicker_pinion_shim_moves_by_its_place(place: str | None, pinion_mm: float | None) -> None:
    moves = moves_between(attempt(1.0, 6.0, 6.5), attempt(1.1, 6.0, 6.5), axle(place))
    assert moves is None if pinion_mm is None else moves == (pytest.approx(pinion_mm), 0.0)


def test_side_shims_and_notches_move_the_ring_gear() -> None:
    head = axle("behind_head")
    thicker = moves_between(attempt(1.0, 6.0, 6.5), attempt(1.0, 6.1, 6.4), head)
    assert thicker == (0.0, pytest.approx(-0.1))  # toward the pinion
    away = axle("behind_head", ring_side_thicker_moves="away")
    assert moves_between(attempt(1.0, 6.0, 6.5), attempt(1.0, 6.1, 6.4), away) == (0.0, pytest.approx(0.1))
    screwed = axle("behind_head", kind="adjusters", notch_mm=0.05)
    before = attempt(1.0, ring_side_notches=0, opposite_side_notches=0)
    after = attempt(1.0, ring_side_notches=-1, opposite_side_notches=1)
    assert moves_between(before, after, screwed) == (0.0, pytest.approx(0.05))
    unknown = axle("behind_head", kind="adjusters")
    assert moves_between(before, after, unknown) is None
    assert moves_between(attempt(1.0), attempt(1.0), head) is None


def test_a_reading_comes_back_whole() -> None:
    kept = json.loads(json.dumps(made_reading("convex", "drive", (0.4, 0.5))))
    again = reading_of(kept)
    assert json.loads(json.dumps(with_measured(again)))["measured"] == kept["measured"]
    assert again.side.centre == (0.4, 0.5) and again.side.runs_off == frozenset()
    u = np.linspace(0, 1, 5)
    expected = made_flank(2, "convex").map(u, u)
    assert np.allclose(again.teeth[2].flank.map(u, u), expected, atol=1e-3)
    assert again.teeth[0].pattern is not None
    outline = again.teeth[0].pattern.outlines[0]
    assert 12 <= len(outline) <= 24 and np.allclose(np.mean(outline, axis=0), (0.4, 0.5), atol=0.01)
    assert len(again.side.teeth) == 4 and again.side.teeth[0] == again.teeth[0].pattern


def test_a_reading_of_an_older_book_still_comes_back() -> None:
    """They kept the edges that a patch runs off, and distances in mm, in place of `clear`."""
    kept = json.loads(json.dumps(made_reading("convex", "drive", (0.4, 0.5))))
    for patch in (kept["measured"]["side"], *(tooth["pattern"] for tooth in kept["measured"]["teeth"])):
        for name in ("clear", "size_mm", "outlines"):
            del patch[name]
        patch |= {"runs_off": ["toe"], "margins_mm": {"toe": 0.2, "heel": 9.0, "top": 2.0, "root": 1.0}}
    again = reading_of(kept)
    assert again.side.runs_off == {"toe"}
    assert again.side.clear == pytest.approx((0.0, 0.4, 0.25, 0.25))


def roll(book: Book, job: Job, drive: tuple[float, float], coast: tuple[float, float], **build: float) -> Try:
    made = start_try(book, job.id, **build)
    record(book, job.id, backlash_mm=[0.16, 0.17, 0.16, 0.17])
    for flank, role, centre in (("convex", "drive", drive), ("concave", "coast", coast)):
        found = made_reading(flank, role, centre)
        keep_photo(book, f"{made.id} {role}".encode(), name="a.jpg", who="Ana", try_id=made.id, reading=found)
    return find_try(book, job.id)


def test_advice_is_kept_with_the_try_and_knows_those_before(book: Book, new_job: Callable[..., Job]) -> None:
    job = new_job()
    roll(book, job, (0.5, 0.78), (0.5, 0.8))
    advice, kept = advise_try(book, job.id)
    assert kept.advice is not None
    assert kept.advice.verdict == advice.verdict != "acceptable"
    assert kept.advice.json["headline"] == advice.headline
    roll(book, job, (0.45, 0.6), (0.45, 0.6), pinion_shim_mm=1.1)
    (earlier,) = history(tries_of(book, job.id), 2, job.axle)
    assert (earlier.pinion_mm, earlier.ring_mm) == (pytest.approx(-0.1), 0.0)
    assert earlier.setup.drive.centre == (0.5, 0.78)
    assert len(earlier.setup.backlash_mm) == 4
    assert advise_try(book, job.id)[1].number == 2


def test_a_backlash_of_an_older_book_that_can_t_be_is_told_with_its_try(
    book: Book, new_job: Callable[..., Job]
) -> None:
    job = new_job()
    roll(book, job, (0.5, 0.5), (0.5, 0.5))
    made = roll(book, job, (0.5, 0.5), (0.5, 0.5))
    with pytest.raises(QuantityError) as told:
        set_up_of(replace(made, backlash_mm=(2.0,)), job.axle)
    assert told.value.code == "backlash-impossible"
    assert told.value.message.startswith("Try 2: a backlash of 2.000 mm")
    assert f"try record {job.id} --try 2 --backlash" in told.value.next_step


def test_a_move_that_was_checked_is_no_longer_doubted(
    book: Book, new_job: Callable[..., Job], capsys: pytest.CaptureFixture[str]
) -> None:
    job = new_job()
    roll(book, job, (0.5, 0.78), (0.5, 0.8))
    with pytest.raises(BookError) as told:
        advise_try(book, job.id, last_move_checked=True)
    assert told.value.code == "last-move-unknown"
    roll(
        book, job, (0.505, 0.78), (0.505, 0.8), pinion_shim_mm=1.25
    )  # hardly an answer to a quarter millimetre
    ask = ["try", "advise", str(job.id), "--book", str(book.path)]
    assert main(ask) == 0
    assert "--last-move-checked" in capsys.readouterr().out
    assert find_try(book, job.id).advice.verdict == "check_last_move"  # type: ignore[union-attr]
    assert main([*ask, "--last-move-checked"]) == 0
    assert "--last-move-checked" not in capsys.readouterr().out
    assert find_try(book, job.id).advice.verdict != "check_last_move"  # type: ignore[union-attr]


def test_advice_needs_both_sides(book: Book, job: Job) -> None:
    start_try(book, job.id)
    with pytest.raises(BookError) as told:
        advise_try(book, job.id)
    assert told.value.code == "record-half" and "drive" in told.value.message


def test_a_side_is_kept_once_and_read_back_as_it_was(book: Book, job: Job) -> None:
    attempt = start_try(book, job.id)
    found = made_reading("convex", "drive", (0.4, 0.5))
    keep_photo(book, b"drive", name="a.jpg", who="Ana", try_id=attempt.id, reading=found)
    kept = find_try(book, job.id).photos[0].reading
    assert kept is not None and kept.centre == (0.4, 0.5)
    assert not {"pattern", "teeth", "compound", "polarity"} & kept.json.keys()
    shown, wanted = pattern_json(kept.json), found["pattern"]
    assert shown is not None and shown.keys() == wanted.keys()
    assert shown["centroid"] == wanted["centroid"] and shown["runs_off"] == wanted["runs_off"]
    again = reading_of(kept.json).to_json()
    assert {k: again[k] for k in ("teeth", "compound", "polarity")} == {
        k: found[k] for k in ("teeth", "compound", "polarity")
    }


def test_the_photos_of_a_side_speak_together(book: Book, job: Job) -> None:
    """As `contactread read` joins them; the surest alone would stay where it is."""
    made = roll(book, job, (0.50, 0.50), (0.5, 0.5))
    second = made_reading("convex", "drive", (0.53, 0.50))
    keep_photo(book, b"second", name="b.jpg", who="Ana", try_id=made.id, reading=second)
    drive = set_up_of(find_try(book, job.id), job.axle).drive
    both = [reading_of(made_reading("convex", "drive", centre)) for centre in ((0.50, 0.50), (0.53, 0.50))]
    assert drive.centre == pytest.approx(join(both)["drive"].reading.side.centre, abs=1e-4)
    assert 0.505 < drive.centre[0] < 0.525


def test_a_photo_of_both_sides_counts_for_both(book: Book, job: Job) -> None:
    drive, coast = (
        reading_of(made_reading(flank, role, (0.5, 0.5)))
        for flank, role in (("convex", "drive"), ("concave", "coast"))
    )
    made = start_try(book, job.id)
    record(book, job.id, backlash_mm=[0.16, 0.17, 0.16, 0.17])
    kept = with_measured(replace(drive, other=coast))
    keep_photo(book, b"both", name="a.jpg", who="Ana", try_id=made.id, reading=kept)
    setup = set_up_of(find_try(book, job.id), job.axle)
    assert (setup.drive.flank, setup.coast.flank) == ("convex", "concave")
    told = set_up_sheet(job, find_try(book, job.id)).missing
    assert not any("No readable photo" in words for words in told)
    (beside,) = [find_try(book, job.id).reading_of("coast")]
    assert beside is not None and beside.side == "coast" and beside.centre == (0.5, 0.5)
    assert advise_try(book, job.id)[0].verdict == "acceptable"


def test_no_shim_is_moved_by_a_reading_that_isnt_sure(book: Book, job: Job) -> None:
    made = start_try(book, job.id)
    record(book, job.id, backlash_mm=[0.16, 0.17, 0.16, 0.17])
    for flank, role, sure in (("convex", "drive", 0.45), ("concave", "coast", 0.9)):
        found = made_reading(flank, role, (0.5, 0.5)) | {"confidence": sure}
        keep_photo(book, role.encode(), name="a.jpg", who="Ana", try_id=made.id, reading=found)
    with pytest.raises(AdviceError, match="drive side is only 45% sure") as told:
        advise_try(book, job.id)
    assert told.value.code == "reading-unsure"
    # Nor does it speak in later advice.
    roll(book, job, (0.5, 0.5), (0.5, 0.5))
    assert history(tries_of(book, job.id), 2, job.axle) == []


def test_the_sheet_s_next_step_for_gears_left_alone_is_the_answer_s_own(
    book: Book, new_job: Callable[..., Job]
) -> None:
    used = new_job(condition="used", axle_text=AXLE.replace("backlash = ", "#"))
    roll(book, used, (0.5, 0.5), (0.5, 0.5))
    advice, attempt = advise_try(book, used.id)
    assert advice.verdict == "no_better_place"
    step = next_step(used, attempt)
    assert advice.reason.rstrip(".") in step and "photo" not in step and "job close" in step
    assert attempt.advice is not None
    said = {"inspections": ["To be surer, roll and photograph it once more before you seal it."]}
    again = replace(attempt.advice, json=attempt.advice.json | said)
    step = next_step(used, replace(attempt, advice=again))
    assert step.startswith("To be surer, roll") and "try photo" in step


def test_advice_that_the_try_has_outgrown_seals_nothing(book: Book, job: Job) -> None:
    made = roll(book, job, (0.5, 0.5), (0.5, 0.5))
    record(book, job.id, compound="yellow", drag="rag")

    def outgrown() -> bool:
        attempt = find_try(book, job.id)
        told = "since the last advice: ask for it again." in " ".join(set_up_sheet(job, attempt).missing)
        assert told == ("try advise" in next_step(job, attempt))
        return told

    assert advise_try(book, job.id)[0].verdict == "acceptable"
    assert not outgrown()
    record(book, job.id, ring_runout_mm=0.01)
    assert not outgrown()  # advice doesn't go by it
    record(book, job.id, backlash_mm=[0.16, 0.17, 0.16, 0.21])
    assert outgrown()
    advise_try(book, job.id)
    assert not outgrown()
    again = made_reading("convex", "drive", (0.5, 0.5))
    later = keep_photo(book, b"later", name="b.jpg", who="Ana", try_id=made.id, reading=again)
    assert outgrown()
    advise_try(book, job.id)
    assert not outgrown()
    strike_photo(book, later.id, who="Ana", reason="another gear")
    assert outgrown()


def test_no_all_clear_while_something_else_is_outside_its_limit(book: Book, job: Job) -> None:
    """Advice goes by patterns and backlash; the sheet knows runout and torques too, and both say the same."""
    roll(book, job, (0.5, 0.5), (0.5, 0.5))
    record(book, job.id, ring_runout_mm=0.09, pinion_torque_nm=4.0, bearings="new")
    advice, attempt = advise_try(book, job.id)
    assert advice.headline == "Leave the shims as they are; that is no all-clear."
    assert "Ring-gear runout is outside its limit by 0.03 mm" in " ".join(advice.answer)
    assert "Pinion turning torque is outside its limit" in " ".join(advice.answer)
    assert attempt.advice is not None and attempt.advice.verdict == "no_better_place"
    record(book, job.id, ring_runout_mm=0.01, pinion_torque_nm=2.5, bearings="new")
    assert "ask for it again" in " ".join(set_up_sheet(job, find_try(book, job.id)).missing)
    assert advise_try(book, job.id)[0].verdict == "acceptable"
    record(book, job.id, ring_runout_mm=0.09)
    assert "ask for it again" in " ".join(set_up_sheet(job, find_try(book, job.id)).missing)


def test_a_review_asks_again_only_for_advice_that_a_try_has_outgrown(book: Book, job: Job) -> None:
    roll(book, job, (0.5, 0.5), (0.5, 0.5))

    def asked() -> list[str]:
        advise_all(book, [job.id], "Ana")
        attempt = find_try(book, job.id)
        assert attempt.advice is not None
        return [advice.verdict for advice in (*attempt.earlier_advice, attempt.advice)]

    assert asked() == asked() == ["acceptable"]
    made = find_try(book, job.id)
    deep = made_reading("convex", "drive", (0.3, 0.2))
    keep_photo(book, f"{made.id} drive".encode(), name="a.jpg", who="Ana", try_id=made.id, reading=deep)
    first, second = asked()
    assert first == "acceptable" != second
    assert asked() == [first, second]
    record(book, job.id, backlash_mm=[0.16, 0.17, 0.16, 0.21])
    stop(book, job.id, who="Ana", reason="sold")
    assert asked() == [first, second]  # nobody acts on it any more


def test_a_review_leaves_what_was_said_on_an_earlier_try(book: Book, job: Job) -> None:
    for u in (0.5, 0.51):
        roll(book, job, (u, 0.5), (u, 0.5))
        advise_try(book, job.id)
    replace_axle(book, job.id, job.axle_text.replace("215 mm", "216 mm"), who="Ana", reason="measured again")
    advise_all(book, [job.id], "Ana")
    assert [len(attempt.earlier_advice) for attempt in tries_of(book, job.id)] == [0, 1]


def test_a_photo_of_an_earlier_try_under_another_name_is_no_new_look(book: Book, job: Job) -> None:
    roll(book, job, (0.5, 0.5), (0.5, 0.5))
    made = roll(book, job, (0.5, 0.5), (0.51, 0.5), pinion_shim_mm=1.1)  # the drive photo came twice
    with pytest.raises(AdviceError) as told:
        advise_try(book, job.id)
    assert told.value.code == "photo-copied" and find_try(book, job.id).advice is None
    assert "Photo 3 (a.jpg) is a copy of photo 1 of try 1" in told.value.message
    strike_photo(book, 3, who="Ana", reason="copy")
    new = made_reading("convex", "drive", (0.5, 0.52))
    keep_photo(book, b"new", name="b.jpg", who="Ana", try_id=made.id, reading=new)
    assert advise_try(book, job.id)[0].verdict
