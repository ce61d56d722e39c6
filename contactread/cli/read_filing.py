"""`contactread read --file`: what was read goes into a job of the shop book in the same go."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from contactread.errors import AdviceError, BookError, PhotoError

if TYPE_CHECKING:
    from contactread.advice.answer import Advice
    from contactread.axle import Axle
    from contactread.cli.reading_job import Result
    from contactread.records.nouns import Try


def job_to_file_into(book: Path | None, job: int | None, photos: Sequence[Path]) -> tuple[int, Axle]:
    """The job, the open one where none is named, and its axle. Raises as `open_job_id`, `find_job`,
    `refuse_after_move`."""
    from contactread.cli.book import chosen_job, open_book
    from contactread.records.jobs import find_open_job
    from contactread.records.photos import refuse_after_move
    from contactread.records.tries import tries_of

    with open_book(book) as opened:
        number = chosen_job(opened, job)
        for newest in tries_of(opened, number)[-1:]:
            refuse_after_move(opened, newest, photos)
        return number, find_open_job(opened, number).axle


def file_results(
    book: Path | None,
    job: int,
    results: Sequence[Result],
    backlash_mm: Sequence[float],
    *,
    advise: bool,
    json: bool,
    sure: bool = False,
) -> tuple[Advice | AdviceError | None, Try]:
    """Keep the photos with what was read of each, and the backlash; then advice that knows the tries before,
    kept with the try. None where the try lacks a side or `advise` is False; the refusal where what all photos
    of the try say together is none to advise on, though these alone may be. sure: an odd backlash is right.

    A photo that shows both flanks is kept as a photo of the surer one, with what was read from the other.
    """
    from contactread.cli.book import asked_again, open_book
    from contactread.records.advising import advise_try
    from contactread.records.file_readings import file_readings

    photos = [kept for result in _one_each(results) if (kept := _kept(result)) is not None]
    with open_book(book, write=True) as opened:
        attempt = asked_again(
            lambda sure: file_readings(opened, photos, job_id=job, backlash_mm=backlash_mm, sure=sure),
            sure=sure,
            json=json,
        )
        if not advise:
            return None, attempt
        try:
            return advise_try(opened, job, attempt.number)
        except AdviceError as error:
            return error, attempt
        except BookError as error:
            if error.code != "record-half":
                raise
            return None, attempt


def _one_each(results: Sequence[Result]) -> list[Result]:
    """The surest result of each photo."""
    rising = sorted(results, key=lambda each: each.reading.confidence if each.reading else 0.0)
    best = {result.path: result for result in rising}
    return [result for result in results if best[result.path] is result]


def _kept(result: Result) -> tuple[str, bytes, dict[str, object]] | None:
    """File name, bytes and reading; None for a file that isn't there to be kept."""
    from contactread.photo.intake import read_photo_bytes
    from contactread.records.measured import with_measured

    try:
        data = read_photo_bytes(result.path)
    except PhotoError:
        return None
    found = result.to_json() if result.reading is None else with_measured(result.reading)
    return result.path.name, data, found | {"path": result.path.name}
