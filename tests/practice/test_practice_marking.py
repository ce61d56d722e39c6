"""Marking that teaches."""

from __future__ import annotations

import random

import pytest

from contactread.errors import PracticeError
from contactread.patch import Patch, told_clear
from contactread.practice.answers import parse_patch, parse_shim_change
from contactread.practice.marking import best_mark, mark, source_titles, unreadable_mark
from contactread.practice.present import MARK_LINES, SCREEN, lesson_lines, mark_lines, question_lines
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
    assert parse_patch("20-55 30-70") == ((0.2, 0.55), (0.3, 0.7), None)
    assert parse_patch("20 to 55%, 30 to 70%") == ((0.2, 0.55), (0.3, 0.7), None)
    assert parse_patch("20-55 30-70 centre 40 50") == ((0.2, 0.55), (0.3, 0.7), (0.4, 0.5))
    for bad in (
        "",
        "20-55",
        "55-20 30-70",
        "20-55 30-170",
        "x 20-55 30-70",
        "1 2 3 4 5",
        "20-55 30-70 centre 40",
    ):
        with pytest.raises(PracticeError):
            parse_patch(bad)


@pytest.mark.parametrize("topic", GENERATED)
def test_the_best_answer_is_right_and_others_are_not(topic: str) -> None:
    made = next(different(topic, 31))
    best = best_mark(made)
    assert best.right and len(best.about) == 3
    if isinstance(made.answer, Choice):
        for option in made.answer.options:
            assert mark(made, option.key).right == (option.key in made.answer.right)
            assert mark(made, f" {option.key.upper()}) ").right == (option.key in made.answer.right)
    for reason in best.about:
        assert source_titles(reason.sources)


def test_any_typing_is_marked_or_refused() -> None:
    """Nothing that is typed ends in anything but a mark or a coded error."""
    rng = random.Random(1)
    signs = "abcdeABC 0123456789.,+-−–%;:/'\"thinkerou mm\u0000\u202e\U0001f69c\n\t"
    asked = [next(different(topic, 35)) for topic in ("ends", "amount")]
    asked.append(marked_patch())
    for _ in range(400):
        text = "".join(rng.choice(signs) for _ in range(rng.randrange(14)))
        for made in asked:
            try:
                marked = mark(made, text)
            except PracticeError as error:
                assert error.code == "answer-unreadable" and error.next_step
                marked = unreadable_mark(made, text, error)
            assert mark_lines(marked)


def marked_patch() -> Question:
    patch = Patch((0.4, 0.5), (0.2, 0.6), (0.3, 0.7), 0.2, 0.0, told_clear((0.2, 0.6), (0.3, 0.7)))
    box = MarkPatch(patch, 0.08, "drive", "convex", (40.0, 9.0))
    return Question("photo-x", "photo", "Where?", (), (), box, (), 0.08, "Known.")


def test_ones_own_move_is_shown_beside_the_shops() -> None:
    made = next(different("depth", 32))
    assert isinstance(made.answer, Choice)
    wrong = next(o.key for o in made.answer.options if o.key not in made.answer.right and "Pinion" in o.text)
    marked = mark(made, wrong)
    assert marked.outcomes is not None
    assert [title for title, _ in marked.outcomes.flanks] == [
        "Yours: drive", "Yours: coast", "Shop's: drive", "Shop's: coast"
    ]  # fmt: skip
    text = " ".join(marked.ends)
    assert "backlash set again" in text and "than wanted" in text and "mm" in text and "thou" in text


def test_every_answer_that_ends_in_limits_is_right_and_the_text_says_which_the_shop_takes() -> None:
    for made, _ in zip(different("backlash", 3), range(60), strict=False):
        assert isinstance(made.answer, Choice)
        others = made.answer.right - {made.answer.best}
        if others:
            break
    else:
        pytest.fail("no question with several right answers")
    marked = mark(made, min(others))
    assert marked.right and marked.best.startswith(made.answer.best)
    assert any("so it is right" in line or "takes less apart" in line for line in marked.ends)


def test_an_amount_is_right_where_it_ends_in_limits() -> None:
    made = next(different("amount", 33))
    answer = made.answer
    assert isinstance(answer, Amount)
    assert mark(made, f"{answer.best_mm:+.4f} mm").right
    for mm in (answer.best_mm + 0.05, -answer.best_mm, 3 * answer.best_mm):
        assert mark(made, f"{mm:+.4f} mm").right == answer.leads_to(round(mm, 4)).good
    assert not mark(made, f"{-answer.best_mm:+.4f} mm").right


def test_a_marked_patch_is_off_in_fractions_and_thousandths() -> None:
    made = marked_patch()
    assert mark(made, "20-60 30-70").right and mark(made, "20-60 30-70").centre == pytest.approx((0.4, 0.5))
    off = mark(made, "20-90 30-70")
    assert not off.right
    assert any("heel end" in line and "12.00 mm" in line for line in off.ends)
    drawn = mark(made, "20-60 30-70 centre 45 50")
    assert drawn.right and drawn.centre == pytest.approx((0.45, 0.5))
    assert "5.0% of the tooth" in drawn.ends[0] and "2.00 mm" in drawn.ends[0]
    assert not mark(made, "20-60 30-70 centre 60 50").right
    assert off.outcomes is not None


@pytest.mark.parametrize("topic", GENERATED)
def test_every_question_fits_one_screen_of_80_by_24(topic: str) -> None:
    for made, _ in zip(different(topic, 34), range(3), strict=False):
        choices = made.answer.options if isinstance(made.answer, Choice) else ()
        answers = [option.key for option in choices] or ["thicker 4 thou", "thinner 0.5 mm"]
        for given in answers:
            assert len(mark_lines(mark(made, given))) <= MARK_LINES < SCREEN, (made.id, given)
        asked, marked = question_lines(made, 123), mark_lines(mark(made, answers[0]))
        assert len(asked) < SCREEN, made.id
        assert max(map(len, [*lesson_lines(TOPICS[topic]), *asked, *marked])) < 80
        assert len(lesson_lines(TOPICS[topic])) < SCREEN
        plain = [*question_lines(made, 1, plain=True), *mark_lines(mark(made, answers[0]), plain=True)]
        assert all(line.isascii() for line in plain if line.startswith(("|", "+")))


def test_terms_are_explained_once() -> None:
    lines = lesson_lines(TOPICS["place"], known_terms=("compound", "pattern"))
    assert any(line.startswith("  Drag:") for line in lines)
    assert not any(line.startswith("  Marking compound:") for line in lines)
