"""The instructor's table, and that practice and the belief room foresee the same."""

from __future__ import annotations

import csv
import io
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "show"))
from report_browser import sheets

from contactread.belief.forecast import foresee
from contactread.mesh.kinematics import Displacement
from contactread.practice.case import foreseen
from contactread.practice.course import standings
from contactread.practice.fleet import FLEET
from contactread.practice.history import Answered
from contactread.practice.progress import Progress, class_csv, class_lines, class_page
from contactread.practice.questions import same_test
from contactread.practice.sheet import sheet_page
from contactread.practice.topics import TOPICS

PEOPLE = [
    "Ana",
    "Bo",
    "Carla",
    "Dmitri",
    "Esra",
    "Femi",
    "Gunnar-Olof-the-Third",
    "Hana",
    "Ivo",
    "Jun",
    "Kofi",
    "Lucia",
]


def made_class(seed: int = 1) -> list[Progress]:
    rng, start, found = Random(seed), datetime(2026, 3, 2, tzinfo=UTC), []
    for name in PEOPLE:
        skill, met = rng.uniform(0.4, 1), rng.randint(3, len(TOPICS))
        history = [
            Answered(topic, topic, "a", rng.random() < skill, start + timedelta(days=day))
            for topic in list(TOPICS)[:met]
            for day in range(rng.randint(1, 40))
        ]
        right = sum(a.right for a in history)
        found.append(Progress(name, len(history), right, standings(history, list(TOPICS)), ()))
    return found


def pages_of(page: str) -> int:
    from contactread.errors import ContactreadError
    from contactread.show.printing import page_as_pdf

    try:
        return sheets(page_as_pdf(page))
    except ContactreadError as error:
        pytest.skip(f"nothing prints here: {error.code}")


@pytest.fixture(params=["a browser, where there is one", "WeasyPrint"])
def printer(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Either way to a PDF: browsers refuse to run for ordinary users on some machines."""
    if request.param == "WeasyPrint":
        monkeypatch.setattr("contactread.show.printing.browsers", list)


@pytest.mark.usefixtures("printer")
def test_a_class_of_twelve_fits_a_terminal_and_one_page() -> None:
    found = made_class()
    lines = class_lines(found)
    assert max(map(len, lines)) <= 79
    assert all(any(line.startswith(one.apprentice[:9]) for line in lines) for one in found)
    assert pages_of(class_page(found)) == 1


def test_the_table_for_a_spreadsheet_has_everybody_and_what_they_need() -> None:
    rows = list(csv.DictReader(io.StringIO(class_csv(made_class()))))
    assert [row["apprentice"] for row in rows] == PEOPLE
    assert all(row["needs next"] for row in rows)
    assert 0 <= int(rows[0]["ends known"]) <= 100


@pytest.mark.usefixtures("printer")
def test_three_questions_or_more_go_on_a_printed_page() -> None:
    """Fifteen questions, one of each topic, take five pages at most; the answers have their own."""
    page = sheet_page(same_test(1, 15), "Test")
    questions = page[: page.index('<section class="answers">')] + "</body></html>"
    assert pages_of(questions) <= 5
    assert pages_of(page) > pages_of(questions)


@pytest.mark.parametrize("axle_id", FLEET)
def test_practice_foresees_what_the_belief_room_foresees(axle_id: str) -> None:
    """The fleet's gear sets are given in full, so the belief is the mesh itself, asked directly for speed."""
    forecast = foresee(FLEET[axle_id], Displacement(0.05, 0.02), Displacement(0.15, -0.05))
    for place, outlook in (
        (Displacement(0.05, 0.02), forecast.before),
        (Displacement(0.15, -0.05), forecast.after),
    ):
        here = foreseen(axle_id, place)
        for flank in ("convex", "concave"):
            ours, theirs = here.patch(flank), outlook.patch(flank)
            assert ours is not None and theirs is not None
            assert ours.centre == pytest.approx(theirs.centre, abs=1e-6)
            assert ours.length == pytest.approx(theirs.length, abs=1e-6)


def test_the_page_has_no_markup_of_a_name(tmp_path: Path) -> None:
    bad = made_class()[0]
    page = class_page([Progress("Bo <script>", 1, 1, bad.standing, ())])
    assert "Bo &lt;script&gt;" in page and "<script" not in page
