"""Every question has one best answer by the mechanics and keeps its margin."""

from __future__ import annotations

from dataclasses import replace

import pytest
from soundness import contradictions, faults_of

from contactread.axle import ROLES
from contactread.errors import PracticeError
from contactread.facts import facts
from contactread.practice.case import Case, backlash_per_travel, ending
from contactread.practice.draw_svg import pictures_json
from contactread.practice.draw_text import text_lines
from contactread.practice.fleet import FLEET
from contactread.practice.marking import mark
from contactread.practice.plan_view import tooth_line
from contactread.practice.question import Amount, Choice, FlankPicture, GearPicture, ToothPicture
from contactread.practice.questions import different, question, same_test
from contactread.practice.topics import GENERATED, LEVELS, TOPICS

A_FEW = 2  # of each topic; python -m calibration.practice_bars checks a thousand


@pytest.mark.parametrize("topic", GENERATED)
def test_questions_are_sound_and_never_repeat(topic: str) -> None:
    stream = different(topic, 20)
    made = [next(stream) for _ in range(A_FEW)]
    for each in made:
        assert faults_of(each) == [], each.id
        assert each.margin > 0
        assert each.margin_says.endswith(".")
    assert len({each.fingerprint() for each in made}) == A_FEW


@pytest.mark.parametrize("topic", ["depth", "backlash", "shim", "used", "both"])
def test_a_wrong_key_is_found_out(topic: str) -> None:
    """The check is able to fail: a wrong option declared right or best is found out."""
    made = next(different(topic, 21))
    answer = made.answer
    assert isinstance(answer, Choice)
    for option in answer.options:
        if option.key not in answer.right:
            assert faults_of(replace(made, answer=replace(answer, right=answer.right | {option.key}))), (
                option.text
            )
            other = replace(answer, best=option.key, right=frozenset({option.key}))
            assert faults_of(replace(made, answer=other)), option.text


def test_a_wrong_amount_is_found_out() -> None:
    amount = next(different("amount", 22))
    assert isinstance(amount.answer, Amount)
    assert faults_of(replace(amount, answer=replace(amount.answer, best_mm=-amount.answer.best_mm)))


def test_words_that_contradict_their_mark_are_found_out() -> None:
    """The numbers behind the words: an outcome told better than it is doesn't pass."""
    made = next(different("depth", 22))
    assert isinstance(made.answer, Choice)
    wrong = next(o for o in made.answer.options if o.key not in made.answer.right)
    marked = mark(made, wrong.key)
    assert not contradictions(made, marked)
    assert contradictions(made, replace(marked, right=True))
    assert contradictions(made, replace(marked, about=(), ends=("Just so.",)))


def test_an_answer_against_the_chart_must_say_so() -> None:
    """This set has a small cutter: its coast patch goes against the chart (A22), and the question tells."""
    told = [q for q, _ in zip(different("cutting", 23), range(40), strict=False) if q.against_chart]
    assert told
    unsaid = faults_of(replace(told[0], against_chart=None))
    assert any("nothing is said" in fault for fault in unsaid)


def test_same_seed_is_the_same_test() -> None:
    first, second = same_test(5, 15), same_test(5, 15)
    assert [q.fingerprint() for q in first] == [q.fingerprint() for q in second]
    assert [q.answer for q in first] == [q.answer for q in second]
    assert [q.topic for q in first] == list(GENERATED)
    assert [q.id for q in first] != [q.id for q in same_test(6, 15)]
    again = question(first[4].id)
    assert again.fingerprint() == first[4].fingerprint()


@pytest.mark.parametrize(
    "question_id", ["", "depth", "depth-", "depth-x", "nothing-5", "photo-1", "depth--5"]
)
def test_unknown_questions_are_refused(question_id: str) -> None:
    with pytest.raises(PracticeError) as told:
        question(question_id)
    assert told.value.code == "question-unknown"


def test_unknown_topics_are_refused() -> None:
    with pytest.raises(PracticeError) as told:
        same_test(1, 3, ["dept"])
    assert told.value.code == "topic-unknown"


def test_every_set_of_the_fleet_belongs_in_its_target() -> None:
    for axle_id in FLEET:
        case = Case(axle_id)
        assert case.off() == 0 and ending(case).good
        for role in ROLES:
            zone = case.target.zone(role)
            u, v = case.patch(role).centre
            assert zone.u[0] < u < zone.u[1] and zone.v[0] < v < zone.v[1], (axle_id, role)


def test_backlash_per_travel_is_as_published() -> None:
    """B28: 0.005 to 0.008 in of backlash for 0.010 in of ring-gear travel; B30: about a half."""
    for axle_id in FLEET:
        assert 0.5 <= backlash_per_travel(axle_id) <= 0.8


def test_a_hidden_depth_is_undone_by_its_own_travel() -> None:
    """A4, A10: high means too far out; the move back, with backlash set again, puts both patterns right."""
    belongs = Case("juniper")
    case = Case("juniper", 0.3).with_backlash(belongs.backlash_mm)
    assert all(case.patch(role).centre[1] > belongs.patch(role).centre[1] + 0.05 for role in ROLES)
    back = case.moved(pinion_mm=-0.3).with_backlash(belongs.backlash_mm)
    assert back.off() < 0.005
    assert back.backlash_mm == pytest.approx(belongs.backlash_mm, abs=0.002)


def test_letters_stand_where_the_answer_says() -> None:
    for made, _ in zip(different("ends", 3), range(6), strict=False):
        (picture,) = made.pictures
        assert isinstance(picture, ToothPicture) and isinstance(made.answer, Choice)
        word = made.prompt.removeprefix("Which letter marks the ").split(" of ")[0].removesuffix(" edge")
        assert dict(picture.letters)[word].lower() == made.answer.best  # type: ignore[index]


@pytest.mark.parametrize("hand", ["left", "right"])
@pytest.mark.parametrize("clock", [0, 75, 200, 310])
def test_the_hollow_side_is_drawn_hollow(hand: str, clock: int) -> None:
    """The middle of a curved line lies on the bulging side of the straight line between its ends."""
    line = tooth_line(clock, hand)  # type: ignore[arg-type]
    hollow = tooth_line(clock, hand, 0.1)[len(line) // 2]  # type: ignore[arg-type]
    (x0, y0), (xm, ym), (x1, y1) = line[0], line[len(line) // 2], line[-1]

    def side(x: float, y: float) -> float:
        return (x1 - x0) * (y - ym) - (y1 - y0) * (x - xm)

    chord = ((x0 + x1) / 2, (y0 + y1) / 2)
    assert side(*chord) * side(*hollow) > 0
    assert x0**2 + y0**2 < x1**2 + y1**2  # toe first


def test_reverse_rotation_swaps_the_roles() -> None:
    for made, _ in zip(different("sides", 4), range(12), strict=False):
        (picture,) = made.pictures
        assert isinstance(picture, GearPicture) and isinstance(made.answer, Choice)
        asked = made.prompt.split(" side ")[0].rsplit(" ", 1)[1]
        flank = "concave" if ("reverse" in made.given[0]) == (asked == "drive") else "convex"
        text = made.answer.option(made.answer.best).text
        assert text.startswith(f"Side {dict(picture.letters)[flank]}, the {flank} flank")  # type: ignore[index]


def test_a_question_about_the_role_does_not_show_it() -> None:
    made = next(different("reverse", 4))
    shown = "\n".join(line for picture in made.pictures for line in text_lines(picture)).lower()
    assert "convex flank" in shown and "drive" not in shown and "coast" not in shown
    assert "drive" not in pictures_json(made)[0]["svg"].lower()


def test_place_words_match_the_drawn_patch() -> None:
    for made, _ in zip(different("place", 4), range(6), strict=False):
        (picture,) = made.pictures
        assert isinstance(picture, FlankPicture) and isinstance(made.answer, Choice)
        u, v = picture.flanks[0][1].centre
        text = made.answer.option(made.answer.best).text.lower()
        assert ("toe" in text) == (u < 0.4) and ("heel" in text) == (u > 0.6)
        assert text.startswith("low") == (v < 0.4) and text.startswith("high") == (v > 0.6)


def test_the_ground_is_whole() -> None:
    assert {topic.level for topic in TOPICS.values()} == set(LEVELS)
    assert list(TOPICS.values()) == sorted(TOPICS.values(), key=lambda topic: topic.level)
    for topic in TOPICS.values():
        assert topic.lesson.endswith(".")
        assert all(term in facts("glossary") for term in topic.terms)
        assert max(len(s.split()) for s in topic.lesson.replace("?", ".").replace(":", ".").split(".")) <= 24


def test_nobody_is_told_the_answer_with_the_question() -> None:
    made = next(different("amount", 9))
    text = str(made.to_json())
    assert "best_mm" not in text and "'right'" not in text
    assert isinstance(made.answer, Amount)
    assert f"{abs(made.answer.best_mm):.2f} mm" not in made.prompt


def test_guesses_are_counted_honestly() -> None:
    """The chance that a topic states for somebody who knows nothing is no less than that of its questions."""
    for topic in GENERATED:
        if topic in ("depth", "faults", "amount"):
            continue  # always one of five, always one of four
        made = [q for q, _ in zip(different(topic, 50), range(8), strict=False)]
        assert sum(q.guess for q in made) / len(made) <= TOPICS[topic].guess + 0.06, topic
