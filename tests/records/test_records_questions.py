"""Questions against small books whose answers are counted by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from made_axle import AXLE
from records_shop import reading, refusal

from contactread.errors import BookError
from contactread.records import questions
from contactread.records.book import Book
from contactread.records.nouns import Job
from contactread.records.photos import keep_photo
from contactread.records.sign_off import check_list, sign_off, stop
from contactread.records.tries import record, start_try


def column(answer: questions.Answer, name: str) -> list[Any]:
    return [row[answer.columns.index(name)] for row in answer.rows]


def close(book: Book, job: Job, shims: list[float], when: str, who: str = "Ana") -> None:
    """A signed-off job with one try for each shim."""
    for shim in shims:
        start_try(book, job.id, pinion_shim_mm=shim)
    sign_off(book, job.id, who=who, confirmed=check_list(), despite="a test", when=when, sure=True)


def photo(book: Book, job: Job, name: str, found: dict[str, Any], number: int = 1) -> None:
    tries = book.value("SELECT id FROM try WHERE job_id = ? AND number = ?", job.id, number)
    keep_photo(book, f"{job.id} {name}".encode(), name=name, who="Ana", try_id=tries, reading=found)


@pytest.fixture
def shop(book: Book, new_job: Callable[..., Job]) -> Book:
    """Four jobs signed off, one stopped, one open."""
    other = AXLE.replace("Fernhill 21", "Fernhill 30")
    close(book, new_job(who="Ana"), [1.00, 1.10], "2026-01-10T12:00+00:00")
    close(book, new_job(who="Ben"), [1.00], "2026-01-20T12:00+00:00")
    close(book, new_job(who="Ana"), [0.90, 1.00, 1.20, 1.30], "2026-02-03T12:00+00:00")
    close(book, new_job(who="Ana", axle_text=other), [2.0, 1.9], "2026-02-04T12:00+00:00")
    stopped = new_job(who="Ben")
    start_try(book, stopped.id)
    stop(book, stopped.id, who="Ben", reason="Cracked case")
    start_try(book, new_job(who="Ben").id)
    return book


def test_tries_per_job_over_time_and_person(shop: Book) -> None:
    assert questions.tries_per_job(shop).rows == (
        ("2026-01", 2, 3, 1.5, 1, 2), ("2026-02", 2, 6, 3.0, 0, 4),
    )  # fmt: skip
    by_person = questions.tries_per_job(shop, period="all", by_person=True)
    assert [(row[1], row[2], row[3]) for row in by_person.rows] == [("Ana", 3, 8), ("Ben", 1, 1)]
    later = questions.tries_per_job(shop, period="year", since="2026-02-01")
    assert later.rows == (("2026", 2, 6, 3.0, 0, 4),)


def test_start_and_final_shims_by_kind(shop: Book) -> None:
    answer = questions.start_shims(shop)
    assert column(answer, "axle") == ["Fernhill 21", "Fernhill 30"]
    assert column(answer, "jobs") == [3, 1]
    assert column(answer, "start_mean_mm")[0] == pytest.approx((1.0 + 1.0 + 0.9) / 3)
    assert column(answer, "final_mean_mm")[0] == pytest.approx((1.1 + 1.0 + 1.3) / 3)
    assert column(answer, "final_median_mm") == pytest.approx([1.1, 1.9])
    assert column(answer, "change_mean_mm")[1] == pytest.approx(-0.1)
    assert column(answer, "final_least_mm")[0] == 1.0 and column(answer, "final_most_mm")[0] == 1.3


def test_median_of_an_even_number_lies_between(book: Book, new_job: Callable[..., Job]) -> None:
    for shim in (1.0, 1.2, 1.6, 1.0):
        close(book, new_job(), [shim], "2026-01-10")
    assert column(questions.start_shims(book), "final_median_mm") == pytest.approx([1.1])


def test_axles_of_unknown_gears_are_of_no_one_kind(book: Book, new_job: Callable[..., Job]) -> None:
    for shim in (1.0, 2.0):
        close(book, new_job(axle_text='[gears]\nring_diameter = "215 mm"\n'), [shim], "2026-01-10")
    assert not questions.start_shims(book).rows


def test_refused_photos_count_by_their_newest_reading(book: Book, job: Job) -> None:
    start_try(book, job.id)
    photo(book, job, "a.jpg", refusal("too-dark"))
    photo(book, job, "b.jpg", refusal("too-dark"))
    photo(book, job, "c.jpg", reading())
    photo(book, job, "b.jpg", reading())  # read after all
    photo(book, job, "d.jpg", refusal("too-blurred"))
    assert questions.refusals(book).rows == (("too-blurred", 1), ("too-dark", 1))
    answer = questions.refused_photos(book)
    assert column(answer, "photo") == ["d.jpg", "a.jpg"]
    assert column(answer, "why") == ["The photo is too blurred."] * 2


def test_runout_hints_by_pattern_swing_and_backlash(book: Book, new_job: Callable[..., Job]) -> None:
    def with_spread(length: float, swing: list[float] | None = None) -> dict[str, Any]:
        found = reading()
        found["pattern"] |= {"spread": {"length": length, "height": 0.01}, "wave": swing}
        return found

    quiet, scattered, swinging, uneven = (new_job() for _ in range(4))
    for job in (quiet, scattered, swinging, uneven):
        start_try(book, job.id)
    photo(book, quiet, "a.jpg", with_spread(0.02, [0.01, 0.01]))
    record(book, quiet.id, backlash_mm=[0.15, 0.19])
    photo(book, scattered, "a.jpg", with_spread(0.09))
    photo(book, swinging, "a.jpg", with_spread(0.02, [0.01, 0.10]))
    record(book, uneven.id, backlash_mm=[0.15, 0.21, 0.18])
    answer = questions.runout_hints(book)
    assert column(answer, "job") == [uneven.id, swinging.id, scattered.id]
    assert column(answer, "backlash_spread_mm")[0] == pytest.approx(0.06)
    assert column(answer, "pattern_swing_height") == [None, 0.1, None]
    assert column(questions.runout_hints(book, backlash=0.03), "job")[-1] == quiet.id


def test_walk_gives_each_try(book: Book, job: Job) -> None:
    for number, (u, v) in enumerate([(0.6, 0.7), (0.4, 0.5)], 1):
        start_try(book, job.id, pinion_shim_mm=1.0 + number / 10)
        record(book, job.id, backlash_mm=[0.15, 0.17])
        photo(book, job, f"{number}.jpg", reading("drive", (u, v)), number)
    answer = questions.walk(book, job.id)
    assert column(answer, "pinion_shim_mm") == [1.1, 1.2]
    assert column(answer, "drive_u") == [0.6, 0.4] and column(answer, "coast_u") == [None, None]
    assert column(answer, "backlash_mean_mm") == pytest.approx([0.16, 0.16])


@pytest.mark.parametrize(
    ("words", "found_in"),
    [
        ("seven", ["job"]),
        ("sev", ["job"]),
        ("KRÄN", ["job"]),
        ("kran seven", ["job"]),
        ("fernhill", ["job"]),
        ("tallow", ["try"]),
        ("img 77", ["photo"]),
        ("blurred", ["reading"]),
        ("cracked", ["sign-off"]),
        ("absent", []),
    ],
)
def test_search_by_anything(book: Book, new_job: Callable[..., Job], words: str, found_in: list[str]) -> None:
    job = new_job(vehicle="Krän seven", notes="whines")
    start_try(book, job.id)
    record(book, job.id, compound="tallow and chalk")
    photo(book, job, "IMG_77.jpg", refusal())
    stop(book, job.id, who="Ben", reason="Cracked case")
    answer = questions.search(book, words)
    assert column(answer, "found_in") == found_in
    assert set(column(answer, "job")) <= {job.id}


def test_search_needs_a_word(book: Book) -> None:
    with pytest.raises(BookError) as told:
        questions.search(book, ' "*( ')
    assert told.value.code == "search-words"
