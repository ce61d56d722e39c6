"""The commands of practice, as a person, a pipe and a program use them."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from contactread.cli.main import main
from contactread.practice.history import answers_of, apprentices
from contactread.practice.question import Choice
from contactread.practice.questions import same_test
from contactread.records.book import Book

EASY = ["--topic", "ends", "--topic", "sides", "--topic", "place"]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "book.sqlite"


def answers(tmp_path: Path, lines: list[str]) -> Path:
    file = tmp_path / "answers.txt"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def run(*arguments: str, given: str | None = None, **more: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "contactread.cli.main", "practice", *arguments]
    return subprocess.run(command, input=given, capture_output=True, text=True, timeout=60, **more)  # type: ignore[call-overload,no-any-return]


def test_a_test_is_marked_from_a_file_of_answers(
    tmp_path: Path, book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    right = []
    for made in same_test(3, 3, ["ends", "sides", "place"]):
        assert isinstance(made.answer, Choice)
        right.append(made.answer.best)
    file = answers(tmp_path, [right[0], "zz", right[2]])
    place = ["--book", str(book), "--who", "Bo", "--answers", str(file)]
    assert main(["practice", "test", "--seed", "3", "--questions", "3", *EASY, *place]) == 0
    out = capsys.readouterr().out
    assert "2 of 3 right." in out
    assert "zz (not readable)" in out
    with Book(book) as opened:
        kept = answers_of(opened, "Bo")
    assert [a.right for a in kept] == [True, False, True]
    assert {a.test for a in kept} == {3}


def test_json_gives_the_questions_and_no_answer(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["practice", "test", "--seed", "4", "--questions", "3", *EASY, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == 1 and len(found["questions"]) == 3 and found["answered"] == 0
    assert all(q["mark"] is None and q["pictures"][0]["svg"].startswith("<svg") for q in found["questions"])


def test_json_marks_what_is_answered(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = answers(tmp_path, ["a", "b"])
    arguments = ["--seed", "4", "--questions", "3", *EASY, "--json", "--answers", str(file)]
    assert main(["practice", "test", *arguments]) == 0
    found = json.loads(capsys.readouterr().out)
    marks = [q["mark"] for q in found["questions"]]
    assert found["answered"] == 2
    assert marks[0]["right"] in (True, False) and marks[0]["about"] and marks[2] is None


def test_the_course_goes_on_where_it_was(
    tmp_path: Path, book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = answers(tmp_path, ["a"])
    learn = ["practice", "learn", "--who", "Bo", "--book", str(book), "--questions", "2"]
    assert main([*learn, "--answers", str(file)]) == 0
    first = capsys.readouterr().out
    assert "New: The ends and edges of the tooth" in first
    assert "Toe: The inner end" in first
    assert main([*learn, "--answers", str(file)]) == 0
    assert "New: The ends and edges" not in capsys.readouterr().out
    with Book(book) as opened:
        assert len(answers_of(opened, "Bo")) == 2


def test_piped_answers_and_closed_stdin_end_by_themselves(book: Path) -> None:
    place = ["--who", "Bo", "--book", str(book), "--questions", "4"]
    done = run("learn", *place, given="a\nb\n")
    assert done.returncode == 0
    assert "of 2 right." in done.stdout
    assert "2 answers are kept for Bo." in done.stderr
    closed = run("learn", *place, stdin=subprocess.DEVNULL)
    assert closed.returncode == 0
    with Book(book) as opened:
        assert len(answers_of(opened, "Bo")) == 2


@pytest.mark.skipif(os.name == "nt", reason="signals of a POSIX terminal")
def test_stopping_keeps_what_was_answered(book: Path) -> None:
    command = [sys.executable, "-m", "contactread.cli.main", "practice", "learn", "--who", "Bo"]
    process = subprocess.Popen(
        [*command, "--book", str(book), "--questions", "5"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # a background shell ignores it
    )  # fmt: skip
    assert process.stdin is not None and process.stdout is not None
    process.stdin.write("a\n")
    process.stdin.flush()
    for line in process.stdout:
        if line.startswith("Question 2"):
            break
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=30)
    assert process.returncode == 130
    assert "1 answer is kept for Bo." in told
    with Book(book) as opened:
        assert len(answers_of(opened, "Bo")) == 1


def test_progress_for_the_trainer(tmp_path: Path, book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["practice", "progress", "--book", str(book)]) == 1
    assert "book-missing" in capsys.readouterr().err
    file = answers(tmp_path, ["a", "b"])
    for who in ("Ana", "Bo <script>"):
        arguments = ["--who", who, "--book", str(book), "--answers", str(file), "--questions", "2"]
        assert main(["practice", "test", "--seed", "1", *EASY, *arguments]) == 0
    capsys.readouterr()
    page = tmp_path / "progress.html"
    assert main(["practice", "progress", "--book", str(book), "--page", str(page)]) == 0
    text = page.read_text(encoding="utf-8")
    assert "Bo &lt;script&gt;" in text and "<script" not in text
    assert "http" not in text.replace("http-equiv", "")
    assert main(["practice", "progress", "--book", str(book), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [a["apprentice"] for a in found["apprentices"]] == ["Ana", "Bo <script>"]
    assert main(["practice", "progress", "--book", str(book), "--who", "Nobody"]) == 1
    assert "nothing-answered" in capsys.readouterr().err
    with Book(book) as opened:
        assert apprentices(opened) == ["Ana", "Bo <script>"]


def test_errors_say_what_to_do(tmp_path: Path, book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    at = ["--book", str(book)]
    assert main(["practice", "test", "--seed", "1", "--topic", "nothing"]) == 1
    assert "topic-unknown" in capsys.readouterr().err
    assert main(["practice", "learn", "--who", "Bo", "--topic", "nothing", *at]) == 1
    assert "topic-unknown" in capsys.readouterr().err
    assert main(["practice", "learn", "--who", "  ", *at]) == 1
    assert "record-half" in capsys.readouterr().err
    assert main(["practice", "test", "--seed", "1", "--answers", str(tmp_path / "no.txt")]) == 1
    assert "answers-unreadable" in capsys.readouterr().err
    assert main(["practice", "sheet", str(tmp_path / "a.html"), "--question", "depth-x"]) == 1
    assert "question-unknown" in capsys.readouterr().err
    assert main(["practice", "test", "--seed", "-1"]) == 2
    assert main(["practice", "sheet", str(tmp_path / "no" / "a.html"), "--questions", "1"]) == 1
    assert "system" in capsys.readouterr().err


def test_one_level_only(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["--seed", "4", "--level", "2", "--questions", "4", "--json"]
    assert main(["practice", "test", *arguments]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [q["topic"] for q in found["questions"]] == ["place", "place", "edges", "edges"]


def test_topics_are_listed(capsys: pytest.CaptureFixture[str], book: Path) -> None:
    assert main(["practice", "topics", "--book", str(book)]) == 0
    out = capsys.readouterr().out
    assert "Level 1: The tooth" in out and "what-if" in out
    assert not book.exists()
    assert main(["practice", "topics", "--json", "--book", str(book)]) == 0
    assert json.loads(capsys.readouterr().out)["topics"][0]["id"] == "ends"


def test_rules_are_told_with_who_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["practice", "rules", "both-high", "A10", "toe"]) == 0
    out = capsys.readouterr().out
    assert "both-high: High on both flanks" in out and "A10: TM 10-3930-653-14&P" in out and "Toe:" in out
    assert main(["practice", "rules", "--html", str(tmp_path / "rules.html")]) == 0
    assert 'id="both-high"' in (tmp_path / "rules.html").read_text(encoding="utf-8")
    assert main(["practice", "rules", "nothing"]) == 1
    assert "rule-unknown" in capsys.readouterr().err
