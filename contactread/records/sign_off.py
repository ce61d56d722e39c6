"""Closing a job: signed off as done, or stopped."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import asdict

from contactread.errors import BookError
from contactread.facts import facts
from contactread.records.book import Book
from contactread.records.doubts import closing_doubts, date_doubts, refuse_doubts
from contactread.records.jobs import find_job, find_open_job, refuse_closed, writer
from contactread.records.nouns import Job
from contactread.records.sheet import Sheet, set_up_sheet
from contactread.records.tries import tries_of
from contactread.records.words import line, moment, paragraph


def check_list() -> dict[str, str]:
    """The lines that a person confirms before the cover goes on: code to words."""
    return {code: entry["words"] for code, entry in facts("sign_off")["confirm"].items()}


def sign_off(
    book: Book,
    job_id: int,
    *,
    who: str,
    confirmed: Collection[str],
    despite: str = "",
    when: str | None = None,
    sure: bool = False,
) -> Job:
    """Close a job as done on its newest try. confirmed: codes of `check_list`, all of them.

    Where the sheet still misses something, `despite` must say why the job is closed all the same; the
    reason and what was missing stay with the job and are printed in its report.
    Raises `BookError` record-half, record-value, record-doubt, job-missing, job-closed.
    """
    job = find_open_job(book, job_id)
    attempts = tries_of(book, job_id)
    sheet = set_up_sheet(job, attempts[-1] if attempts else None)
    if not attempts:
        raise BookError("record-half", "The job has no try, so there is nothing to sign off.",
                        "Start a try, or close the job as stopped with --stopped REASON.")  # fmt: skip
    _refuse_open(job, sheet, despite)
    _refuse_unconfirmed(confirmed)
    lines = check_list()
    values = {"job_id": job_id, "outcome": "done", "final_try_id": attempts[-1].id}
    values |= {"signed_by": line(who, "name of the person", required=True)}
    values |= {"signed_at": signed_at(book, job, when, sure), "reason": paragraph(despite, "reason")}
    values |= {"left_open": json.dumps([*sheet.outside, *sheet.missing])}
    with book.writing(f"job {job_id} signed off", who=str(values["signed_by"]), job_id=job_id):
        find_open_job(book, job_id)
        book.insert("sign_off", values)
        for code, words in lines.items():
            book.insert("check_list", {"job_id": job_id, "item": code, "words": words})
    return find_job(book, job_id)


def stop(
    book: Book, job_id: int, *, who: str, reason: str, when: str | None = None, sure: bool = False
) -> Job:
    """Close a job that doesn't get its cover here. Raises `BookError` as `sign_off`."""
    job = find_open_job(book, job_id)
    words = paragraph(reason, "reason", required=True)
    values = {"job_id": job_id, "outcome": "stopped", "final_try_id": None, "reason": words}
    values |= {"signed_by": line(who, "name of the person", required=True), "left_open": "[]"}
    values["signed_at"] = signed_at(book, job, when, sure)
    with book.writing(f"job {job_id} stopped", who=str(values["signed_by"]), job_id=job_id):
        find_open_job(book, job_id)
        book.insert("sign_off", values)
    return find_job(book, job_id)


def reopen(book: Book, job_id: int, *, who: str | None, reason: str) -> Job:
    """Open a closed job again; its sign-off stays on the record. Raises `BookError` record-half,
    job-missing, job-open, job-struck."""
    job = find_job(book, job_id)
    if job.sign_off is None:
        refuse_closed(job)
        raise BookError("job-open", f"Job {job_id} is open already.", "Go on with it.")
    words = paragraph(reason, "reason", required=True)
    person = writer(job, who)
    signed = json.dumps(asdict(job.sign_off), ensure_ascii=False)
    values = {"job_id": job_id, "reopened_by": person, "reopened_at": book.stamp(), "reason": words}
    with book.writing(f"job {job_id} reopened: {words[:80]}", who=person, job_id=job_id):
        book.delete("check_list", job_id=job_id)
        book.delete("sign_off", job_id=job_id)
        book.insert("reopening", values | {"signed": signed})
    return find_job(book, job_id)


def signed_at(book: Book, job: Job, when: str | None, sure: bool) -> str:
    """The moment of a sign-off. Raises `BookError` record-value, record-doubt."""
    at = moment(when, book.clock())
    order = [] if when is None else closing_doubts(at, job, tries_of(book, job.id))
    refuse_doubts([*date_doubts(at, book), *order], sure)
    return at


def sheet_json(sheet: Sheet) -> dict[str, object]:
    """The sheet for ``--json``."""
    return asdict(sheet) | {"ready": sheet.ready}


def _refuse_open(job: Job, sheet: Sheet, despite: str) -> None:
    if sheet.ready or despite.strip():
        return
    still = "\n".join(f"  - {sentence}" for sentence in (*sheet.outside, *sheet.missing))
    raise BookError(
        "record-half",
        f"Job {job.id} is not ready for its cover:\n{still}",
        "Put this right, or give --despite REASON; both then stay on the record.",
    )


def _refuse_unconfirmed(confirmed: Collection[str]) -> None:
    lines = check_list()
    unknown = sorted(set(confirmed) - set(lines))
    if unknown:
        raise BookError("record-value", f"The check-list has no line '{unknown[0][:60]}'.",
                        f"Its lines are: {', '.join(lines)}.")  # fmt: skip
    open_lines = [f"  - {code}: {words}" for code, words in lines.items() if code not in confirmed]
    if open_lines:
        raise BookError(
            "record-half",
            "The check-list isn't complete:\n" + "\n".join(open_lines),
            "Look at each one on the axle itself, then confirm it with --confirm CODE.",
        )
