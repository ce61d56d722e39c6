"""`contactread report`: the one page for the customer or the file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from contactread.cli import options
from contactread.cli.book import chosen_job, open_book
from contactread.cli.output import print_records, write_new
from contactread.settings import load_settings


def report(
    job: options.Job = None,
    output: Annotated[
        Path | None, options.file("The new file; 'report-job-N.html' without it.", "--output", "-o")
    ] = None,
    pdf: Annotated[
        bool, options.option("Print it to a PDF (by Chromium, Chrome, Edge or extra 'pdf').", "--pdf")
    ] = False,
    book: options.Book = None,
    json: options.Json = False,
) -> None:
    """Write the one-page report of a job. An existing file is never overwritten."""
    from contactread.show.report_page import report_html, report_page

    with open_book(book) as opened:
        number = chosen_job(opened, job)
        page = report_page(opened, number, load_settings().shop or "")
    path = output or Path(f"report-job-{number}.{'pdf' if pdf else 'html'}")
    if pdf or path.suffix.lower() == ".pdf":
        from contactread.show.printing import page_as_pdf

        data = page_as_pdf(report_html(page, paper="A4"))
    else:
        data = report_html(page).encode("utf-8")
    write_new(path, data, "Name a new file with -o.")
    if json:
        print_records(report=path)
    else:
        print(path)
