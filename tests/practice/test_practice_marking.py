"""Marking that teaches."""

from __future__ import annotations

import random

import pytest

from contactread.errors import PracticeError
from contactread.practice.answers import parse_patch, parse_shim_change
from contactread.practice.marking import best_mark, mark, source_titles, unreadable_mark
from contactread.practice.present import lesson_lines, mark_lines, question_lines
from contactread.practice.question import Amount, Choice, MarkPatch, Question
from contactread.practice.questions import different
from contactread.practice.topics import GENERATED, TOPICS


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("thicker 0.10 mm", 0.10),
        ("thinner 4 thou", -0.1016),
        ("4 thou thinner", -0.1016),
        ("thicker by .004 in", 0.1016),
        ("+0,25 mm", 0.25),
        ("-0.1 mm", -0.1),
        ("−3 thou", -0.0762),
        ("THICKER 10 THOU", 0.254),
    ],
)
def test_shim_changes_are_read(text: str, mm: float) -> None:
    assert parse_shim_change(text) == pytest.approx(mm)


@pytest.mark.parametrize("text", ["", "0.1", "thicker", "0.10 mm", "thicker thinner 1 mm", "thicker 9 mm"])
def test_unclear_shim_changes_are_refused(text: str) -> None:
    with pytest.raises(PracticeError) as told:
        parse_shim_change(text)
    assert told.value.code == "answer-unreadable"
    assert told.value.next_step


def test_patches_are_read() -> None:
    assert parse_patch("20-55 30-70") == ((0.2, 0.55), (0.3, 0.7))
    assert parse_patch("20 to 55%, 30 to 70%") == ((0.2, 0.55), (0.3, 0.7))
    for bad in ("", "20-55", "55-20 30-70", "20-55 30-170", "x 20-55 30-70", "1 2 3 4 5"):
        with pytest.raises(PracticeError):
            parse_patch(bad)


@pytest.mark.parametrize("topic", GENERATED)
def test_the_best_answer_is_right_and_others_are_not(topic: str) -> None:
    made = next(different(topic, 31))
    best = best_mark(made)
    assert best.right and best.why
    if isinstance(made.answer, Choice):
        for option in made.answer.options:
            assert mark(made, option.key).right == (option.key == made.answer.right)
            assert mark(made, f" {option.key.upper()}) ").score in (0.0, 1.0)
    for reason in best.why:
        assert source_titles(reason.sources)


def test_any_typing_is_marked_or_refused() -> None:
    """Nothing that is typed ends in anything but a mark or a coded error."""
    rng = random.Random(1)
    signs = "abcdeABC 0123456789.,+-−–%;:/'\"thinkerou mm\u0000\u202e\U0001f69c\n\t"
    box = MarkPatch((0.2, 0.6), (0.3, 0.7), 0.08, "drive", "convex", (40.0, 9.0))
    asked = [next(different(topic, 35)) for topic in ("ends", "amount")]
    asked.append(Question("photo-x", "photo", "Where?", (), (), box, (), 0.08, "Known."))
    for _ in range(400):
        text = "".join(rng.choice(signs) for _ in range(rng.randrange(14)))
        for made in asked:
            try:
                marked = mark(made, text)
            except PracticeError as error:
                assert error.code == "answer-unreadable" and error.next_step
                marked = unreadable_mark(made, text, error)
            assert 0 <= marked.score <= 1 and mark_lines(marked)


def test_ones_own_move_is_shown_beside_the_best_one() -> None:
    made = next(different("depth", 32))
    assert isinstance(made.answer, Choice)
    wrong = next(o.key for o in made.answer.options if o.key != made.answer.right and "pinion is" in o.text)
    marked = mark(made, wrong)
    assert marked.yours is not None and marked.should is not None
    text = " ".join(marked.how_far)
    assert "of the tooth from where they belong" in text
    assert "mm" in text and "thou" in text
    assert "Hidden here: the pinion stood" in text


def test_amounts_are_marked_by_how_far_off_they_are() -> None:
    made = next(different("amount", 33))
    answer = made.answer
    assert isinstance(answer, Amount)
    assert mark(made, f"{answer.right_mm:+.4f} mm").score == 1
    assert mark(made, f"{answer.right_mm + 0.9 * answer.tolerance_mm:+.4f} mm").score == 1
    near = mark(made, f"{answer.right_mm * (1 + 2 * answer.tolerance_mm / abs(answer.right_mm)):+.4f} mm")
    assert near.score == 0.5 and not near.right
    wrong = mark(made, f"{-answer.right_mm:+.4f} mm")
    assert wrong.score == 0
    assert "It goes the wrong way." in wrong.how_far
    assert near.yours is not None and near.should is not None


def test_a_marked_patch_is_off_in_fractions_and_thousandths() -> None:
    answer = MarkPatch((0.2, 0.6), (0.3, 0.7), 0.08, "drive", "convex", (40.0, 9.0))
    made = Question("photo-x", "photo", "Where?", (), (), answer, (), 0.08, "Known.")
    assert mark(made, "20-60 30-70").score == 1
    half = mark(made, "20-80 30-70")
    assert half.score == 0.5
    assert any("heel end" in line and "8.00 mm" in line for line in half.how_far)
    assert mark(made, "60-100 0-10").score == 0
    assert half.yours is not None and half.should is not None


@pytest.mark.parametrize("topic", GENERATED)
def test_everything_fits_a_terminal(topic: str) -> None:
    made = next(different(topic, 34))
    given = made.answer.options[0].key if isinstance(made.answer, Choice) else "thicker 4 thou"
    lines = [*lesson_lines(TOPICS[topic]), *question_lines(made, 1), *mark_lines(mark(made, given))]
    assert max(len(line) for line in lines) <= 100
    plain = [*question_lines(made, 1, plain=True), *mark_lines(mark(made, given), plain=True)]
    drawn = [line for line in plain if line.startswith(("|", "+", "-"))]
    assert all(line.isascii() for line in drawn)


def test_terms_are_explained_once() -> None:
    lines = lesson_lines(TOPICS["place"], known_terms=("compound", "pattern"))
    assert any(line.startswith("  Drag:") for line in lines)
    assert not any(line.startswith("  Marking compound:") for line in lines)
