"""How well people read patterns: bias and spread against the truth, agreement with each other, with
themselves and with the tool. Only answers kept with consent count.

Bias is the mean error with the bounds of Student's t; spread the standard deviation of the errors with those
of chi-square; both hold for normal errors. Agreement on the move is Cohen's kappa (J. Cohen, 1960); its
bounds are those of the share of equal answers (Clopper and Pearson, exact), chance agreement held at what was
seen. Agreement on the centre is the intraclass correlation ICC(A,1) of McGraw and Wong (1996): two-way,
absolute, single reader, with their bounds by F. All bounds are 95 %, two-sided. Formulas from memory; tests
hold them against general statistics libraries.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import combinations
from pathlib import Path

from contactread.axle import Role
from contactread.belief.targets import target_for
from contactread.errors import ContactreadError, PracticeError
from contactread.patch import Point
from contactread.practice.answers import parse_patch
from contactread.practice.history import CONSENTED, answers_of, apprentices
from contactread.practice.photo_questions import photo_question
from contactread.practice.question import MarkPatch, PhotoPicture, Question
from contactread.records.book import Book

TOOL = "contactread"
LEAST = 3  # answers below which nothing is worked out


@dataclass(frozen=True)
class Estimate:
    """A figure, its 95 % bounds, and the number of answers behind it; NaN where it can't be worked out."""

    value: float
    low: float
    high: float
    count: int


@dataclass(frozen=True)
class Read:
    """One reading of one photograph: the centre as it was placed. at: None for the tool."""

    reader: str
    question_id: str
    centre: Point
    at: datetime | None = None


@dataclass(frozen=True)
class Reader:
    """One reader against the truth. bias, spread: of the centre along the length and up the height."""

    name: str
    bias: tuple[Estimate, Estimate]
    spread: tuple[Estimate, Estimate]


@dataclass(frozen=True)
class Agreement:
    """Two readers, or one with himself (a == b): kappa on the move, ICC on the centre (length, height)."""

    a: str
    b: str
    kappa: Estimate
    icc: tuple[Estimate, Estimate]


@dataclass(frozen=True)
class Comparison:
    """All readers, and all pairs of them that met the same photographs. everyone: ICC of all people who read
    the same photographs, length and height; None where no two did.
    """

    readers: tuple[Reader, ...]
    pairs: tuple[Agreement, ...]
    everyone: tuple[Estimate, Estimate] | None


def kept_reads(book: Book) -> list[Read]:
    """What people marked in photographs and let be kept, oldest first."""
    found = []
    for name in apprentices(book):
        for answer in answers_of(book, name):
            if answer.topic == "photo" and answer.given.startswith(CONSENTED):
                centre = _centre(answer.given.removeprefix(CONSENTED))
                if centre is not None:
                    found.append(Read(name, answer.question_id, centre, answer.answered_at))
    return found


def tool_reads(questions: Iterable[Question]) -> list[Read]:
    """The tool's own reading of the tooth that each question asks about, where it reads one there."""
    from contactread.reading import read

    found = []
    for question in questions:
        picture, answer = question.pictures[0], question.answer
        assert isinstance(picture, PhotoPicture) and isinstance(answer, MarkPatch)
        middle = [sum(p[k] for p in picture.outline_px) / len(picture.outline_px) for k in (0, 1)]
        try:
            teeth = [t for t in read(picture.path, flank=answer.flank).teeth if t.pattern is not None]
        except ContactreadError:
            continue
        away = {math.dist(tooth.flank.map(0.5, 0.5), middle): tooth for tooth in teeth}
        nearest = away[min(away)] if away else None
        if nearest is not None and nearest.pattern is not None and min(away) < nearest.flank.height_px:
            found.append(Read(TOOL, question.id, nearest.pattern.centre))
    return found


def compare(reads: Sequence[Read], questions: Mapping[str, Question]) -> Comparison:
    """Every figure from these reads. questions: by id; reads of others are left aside.

    Raises PracticeError nothing-read.
    """
    known = [r for r in reads if r.question_id in questions]
    if not known:
        raise PracticeError(
            "nothing-read",
            "Nobody has marked a photograph and let it be kept yet.",
            "Begin with: contactread practice learn --who NAME --topic photo --consent",
        )
    names = list(dict.fromkeys(r.reader for r in known))
    first = {name: _by_photo(r for r in known if r.reader == name) for name in names}
    readers = [_reader(name, [r for r in known if r.reader == name], questions) for name in names]
    pairs = [_agreement(a, b, _both(first[a], first[b], 0, 0), questions) for a, b in combinations(names, 2)]
    pairs += [_agreement(a, a, _both(first[a], first[a], 0, 1), questions) for a in names]
    people = [name for name in names if name != TOOL]
    shared = [q for q in first[people[0]] if all(q in first[p] for p in people)] if people else []
    everyone = None
    if len(people) > 1 and len(shared) >= LEAST:
        tables = [[[first[p][q][0].centre[k] for p in people] for q in shared] for k in (0, 1)]
        everyone = icc(tables[0]), icc(tables[1])
    return Comparison(tuple(readers), tuple(p for p in pairs if p.kappa.count >= LEAST), everyone)


def mean_and_spread(errors: Sequence[float]) -> tuple[Estimate, Estimate]:
    """The mean (Student's t) and the standard deviation (chi-square) of errors, with their bounds."""
    from scipy.stats import chi2, t

    n = len(errors)
    mean = sum(errors) / n
    if n < LEAST:
        return Estimate(mean, math.nan, math.nan, n), Estimate(math.nan, math.nan, math.nan, n)
    sd = math.sqrt(sum((e - mean) ** 2 for e in errors) / (n - 1))
    half = float(t.ppf(0.975, n - 1)) * sd / math.sqrt(n)
    low, high = (sd * math.sqrt((n - 1) / float(chi2.ppf(q, n - 1))) for q in (0.975, 0.025))
    return Estimate(mean, mean - half, mean + half, n), Estimate(sd, low, high, n)


def kappa(a: Sequence[str], b: Sequence[str]) -> Estimate:
    """Cohen's kappa of two readers' answers to the same photographs, in the same order."""
    from scipy.stats import binomtest

    n = len(a)
    equal = sum(x == y for x, y in zip(a, b, strict=True))
    counts = Counter(a), Counter(b)
    chance = sum(counts[0][word] * counts[1][word] for word in counts[0]) / n**2 if n else 1.0
    if n < LEAST or chance >= 1:
        return Estimate(math.nan, math.nan, math.nan, n)
    bounds = binomtest(equal, n).proportion_ci(0.95, "exact")
    value, low, high = ((p - chance) / (1 - chance) for p in (equal / n, bounds.low, bounds.high))
    return Estimate(value, low, high, n)


def icc(table: Sequence[Sequence[float]]) -> Estimate:
    """ICC(A,1) of a table: one row a photograph, one column a reader."""
    import numpy as np
    from scipy.stats import f

    x = np.array(table, float)
    n, k = x.shape
    if n < LEAST or k < 2:
        return Estimate(math.nan, math.nan, math.nan, n)
    rows, columns, mean = x.mean(axis=1), x.mean(axis=0), x.mean()
    msr = k * float(((rows - mean) ** 2).sum()) / (n - 1)
    msc = n * float(((columns - mean) ** 2).sum()) / (k - 1)
    mse = float(((x - rows[:, None] - columns + mean) ** 2).sum()) / ((n - 1) * (k - 1))
    whole = msr + (k - 1) * mse + k * (msc - mse) / n
    if whole <= 0:
        return Estimate(math.nan, math.nan, math.nan, n)
    value = (msr - mse) / whole
    if mse == 0 and msc == 0:
        return Estimate(value, value, value, n)
    a, b = k * value / (n * (1 - value)), 1 + k * value * (n - 1) / (n * (1 - value))
    freedom = (a * msc + b * mse) ** 2 / ((a * msc) ** 2 / (k - 1) + (b * mse) ** 2 / ((n - 1) * (k - 1)))
    upper, lower = float(f.ppf(0.975, n - 1, freedom)), float(f.ppf(0.975, freedom, n - 1))
    rest = k * msc + (k * n - k - n) * mse
    low = n * (msr - upper * mse) / (upper * rest + n * msr)
    return Estimate(value, low, n * (lower * msr - mse) / (rest + n * lower * msr), n)


def move_of(centre: Point, role: Role) -> str:
    """The pinion move that the chart gives for a patch placed there: toward, away or none (A10)."""
    low, high = target_for(None).zone(role).v
    return "toward" if centre[1] > high else "away" if centre[1] < low else "none"


def questions_of(reads: Iterable[Read], folder: Path | None = None) -> dict[str, Question]:
    """The questions that were read, by id; those whose photograph is gone are left out."""
    found = {}
    for question_id in dict.fromkeys(r.question_id for r in reads):
        try:
            found[question_id] = photo_question(question_id, folder)
        except PracticeError:
            continue
    return found


def _centre(given: str) -> Point | None:
    try:
        length, height, centre = parse_patch(given)
    except PracticeError:
        return None
    return centre or (sum(length) / 2, sum(height) / 2)


def _by_photo(reads: Iterable[Read]) -> dict[str, list[Read]]:
    grouped: dict[str, list[Read]] = {}
    for each in reads:
        grouped.setdefault(each.question_id, []).append(each)
    return grouped


def _both(
    a: dict[str, list[Read]], b: dict[str, list[Read]], which_a: int, which_b: int
) -> list[tuple[Read, Read]]:
    """What two readers read of the same photographs; which: the first time, the second time."""
    return [
        (a[q][which_a], b[q][which_b]) for q in a if q in b and len(a[q]) > which_a and len(b[q]) > which_b
    ]


def _reader(name: str, reads: Sequence[Read], questions: Mapping[str, Question]) -> Reader:
    errors: tuple[list[float], list[float]] = [], []
    for each in reads:
        answer = questions[each.question_id].answer
        assert isinstance(answer, MarkPatch)
        for axis in (0, 1):
            errors[axis].append(each.centre[axis] - answer.patch.centre[axis])
    (bias_u, spread_u), (bias_v, spread_v) = (mean_and_spread(e) for e in errors)
    return Reader(name, (bias_u, bias_v), (spread_u, spread_v))


def _agreement(
    a: str, b: str, both: Sequence[tuple[Read, Read]], questions: Mapping[str, Question]
) -> Agreement:
    def move(each: Read) -> str:
        answer = questions[each.question_id].answer
        assert isinstance(answer, MarkPatch)
        return move_of(each.centre, answer.role)

    moves = [move(x) for x, _ in both], [move(y) for _, y in both]
    tables = ([(x.centre[axis], y.centre[axis]) for x, y in both] for axis in (0, 1))
    u, v = (icc(t) if t else Estimate(math.nan, math.nan, math.nan, 0) for t in tables)
    return Agreement(a, b, kappa(*moves), (u, v))
