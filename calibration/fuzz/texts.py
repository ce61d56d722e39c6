"""Hostile texts for everything that is read as text: axle files, corners, readings, manifests, answers,
settings, and what is typed after an option. Hypothesis draws them.
"""

from __future__ import annotations

import json
import os
import random
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from calibration.fuzz.console import answered

SET_UP = Path(__file__).parents[2] / "sample_images" / "ash_good"
PATTERN: dict[str, Any] = {
    "centroid": [0.4, 0.5], "length": [0.2, 0.6], "height": [0.3, 0.7], "area_fraction": 0.2, "tilt_deg": 3.0,
    "runs_off": ["toe"], "sigma": [0.02, 0.03],
}  # fmt: skip
READING: dict[str, Any] = {
    "schema": 1,
    "backlash_mm": [0.18],
    "photos": [
        {"status": "read", "flank": "convex", "side": "drive", "pattern": PATTERN},
        {"status": "read", "flank": "concave", "side": "coast", "pattern": PATTERN},
    ],
}
CORNERS = {
    "flank": "convex",
    "teeth": [
        {"toe_root": [812, 640], "toe_top": [790, 560], "heel_top": [405, 410], "heel_root": [420, 520]},
        {"toe_root": [832, 740], "toe_top": [810, 660], "heel_top": [425, 510], "heel_root": [440, 620]},
    ],
}
MANIFEST = (
    "photo,job,try,flank,who,when,pinion_shim,backlash,axle\n"
    'drive.jpg,Unit 7,1,convex,Ana,2026-03-02,"34 thou","0.15 mm; 0.16 mm",axle.toml\n'
    "coast.jpg,Unit 7,1,concave,Ana,,,,\n"
)
SETTINGS = 'person = "Ana"\nshop = "Invented shop"\nunits = "both"\n'
ANSWERS = "a\nb\n0.1 mm\n40 50 30 20\n\n"
TYPED = ("0.18 mm", "7 thou", "+3 thou", '.010"', "1/64 in", "-0.05 mm", "12 lb-in")
# Places after "=" take the hostile words in turn; "_" is a space.
COMMANDS = (
    "predict {axle} --pinion-shim =+3_thou --ring =0.1_mm --json",
    "predict {axle} --pinion =0.1_mm --backlash =0.2_mm --json",
    "read {folder}/none.jpg --backlash =0.18_mm --json",
    "job open =Unit_7 --who =Ana --axle {axle} --book {folder}/typed.sqlite --json",
    "job sheet =1 --book {folder}/typed.sqlite --json",
    "try start --pinion-shim =34_thou --who =Ana --book {folder}/typed.sqlite --json",
    "try record --backlash =0.2_mm --runout =1_thou --who =Ana --book {folder}/typed.sqlite --json",
    "ask search =unit --book {folder}/typed.sqlite --json",
    "log --job =1 --most =3 --book {folder}/typed.sqlite --json",
    "settings person =Ana --json",
    "settings units =mm",
    "axle new {folder}/new.toml --pinion-teeth =11 --ring-teeth =41 --ring-diameter =222_mm",
    "practice rules =depth",
    "practice test --seed =1 --questions =2 --topic =depth --json",
    "sums ratio =11 =41 --json",
    "=read --json",
)
WORDS = (
    "", "\0", "\x1b[2J", "\u202egpj", "\ufeff", "e\u0301", "\U0001f527", "nan", "inf", "1e999", "-0",
    "1,5 mm", "9" * 400, "../../../etc/passwd", "/dev/zero", "A" * 100_000, "${HOME}", "<script>", "\u2028",
    "١٢ mm", "'; DROP TABLE job;--", "=1+1",
)  # fmt: skip
RAW = (
    "NaN", "Infinity", "-Infinity", "1e999", "-1e-999", "9" * 5000, "0.1e400", '"\\ud800"', "[" * 3000,
    '{"a":' * 3000, "true", "null", "{}", "[]", '""', "[[0.1,0.2],[0.3]]", '{"a":1,"a":2}', "1" * 30, "0x10",
    "1_000", "inf", "nan", "1979-05-27T07:32:00Z", "'''", '"""',
)  # fmt: skip


@dataclass(frozen=True)
class Text:
    """One hostile text. kind: what it is given as."""

    kind: str
    data: bytes


def _leaves() -> st.SearchStrategy[Any]:
    numbers = st.floats() | st.integers() | st.floats(-2, 2)
    return st.none() | st.booleans() | numbers | st.text(max_size=30) | st.sampled_from(WORDS)


def _values() -> st.SearchStrategy[Any]:
    def more(inner: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
        return st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=3)

    return st.recursive(_leaves(), more, max_leaves=8)


def _places(value: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [at, *(place for key, each in inside for place in _places(each, (*at, key)))]


def _with(value: Any, place: tuple[Any, ...], new: Any) -> Any:
    if not place:
        return new
    copy = dict(value) if isinstance(value, dict) else list(value)
    copy[place[0]] = _with(copy[place[0]], place[1:], new)
    return copy


@st.composite
def _json(draw: st.DrawFn, whole: Any) -> str:
    """A sound object with a value or two replaced, some of them by what JSON doesn't allow."""
    for _ in range(draw(st.integers(1, 2))):
        place = draw(st.sampled_from(_places(whole)))
        whole = _with(whole, place, draw(_values() | st.just("@raw@")))
    return json.dumps(whole).replace('"@raw@"', draw(st.sampled_from(RAW)))


@st.composite
def _lines(draw: st.DrawFn, whole: str) -> str:
    """A sound text with lines lost, doubled, mixed up, or a value replaced."""
    lines = whole.split("\n")
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(lines) - 1))
        kind = draw(st.sampled_from(("lost", "twice", "value", "raw", "moved", "new")))
        before, mark, _ = lines[at].partition("=") if "=" in lines[at] else lines[at].partition(",")
        if kind == "lost":
            lines[at] = ""
        elif kind == "twice":
            lines.insert(at, lines[at])
        elif kind == "value":
            lines[at] = before + mark + json.dumps(draw(_leaves()))
        elif kind == "raw":
            lines[at] = before + mark + draw(st.sampled_from(RAW) | st.sampled_from(WORDS))
        elif kind == "moved":
            lines.append(lines.pop(at))
        else:
            lines.insert(at, draw(st.text(max_size=40)))
    return "\n".join(lines)


@st.composite
def _bytes(draw: st.DrawFn, text: st.SearchStrategy[str]) -> bytes:
    """A text as a file has it: in UTF-8 or not, cut, spoilt, with a mark before it."""
    data = draw(text).encode("utf-8", "surrogatepass")
    kind = draw(st.sampled_from(("sound",) * 6 + ("cut", "spoilt", "marked", "wide", "latin", "null")))
    at = draw(st.integers(0, max(len(data) - 1, 0)))
    if kind == "cut":
        return data[:at]
    if kind == "spoilt":
        return data[:at] + draw(st.binary(min_size=1, max_size=8)) + data[at + 1 :]
    if kind == "marked":
        return b"\xef\xbb\xbf" + data
    if kind == "wide":
        return data.decode("utf-8", "replace").encode("utf-16")
    if kind == "latin":
        return data.decode("utf-8", "replace").encode("latin-1", "replace")
    return data + b"\0" if kind == "null" else data


def texts() -> st.SearchStrategy[Text]:
    """Hostile texts of every kind."""
    axle = (SET_UP / "axle.toml").read_text(encoding="utf-8")
    kinds: dict[str, st.SearchStrategy[str]] = {
        "axle": _lines(axle) | st.text(max_size=200),
        "foreseen": _lines(axle),
        "reading": _json(READING),
        "corners": _json(CORNERS),
        "manifest": _lines(MANIFEST) | st.text(max_size=200),
        "settings": _lines(SETTINGS) | st.text(max_size=100),
        "answers": _lines(ANSWERS) | st.text(max_size=200),
        "typed": st.text(max_size=60) | st.sampled_from(WORDS) | _lines("\n".join(TYPED)),
    }
    weights = (
        "typed",
        "axle",
        "axle",
        "reading",
        "reading",
        "reading",
        "corners",
        "corners",
        "manifest",
        "settings",
    )
    return st.sampled_from((*weights, "foreseen", "answers", "typed", "typed")).flatmap(
        lambda kind: _bytes(kinds[kind]).map(lambda data: Text(kind, data))
    )


def give(case: tuple[Text, str]) -> str:
    """Give a text to the command that takes it; how it ended. Raises Broken."""
    text, place = case
    folder = Path(place)
    if not (folder / "drive.jpg").exists():
        for name in ("drive.jpg", "coast.jpg", "axle.toml"):
            shutil.copy(SET_UP / name, folder)
    os.environ["CONTACTREAD_SETTINGS"] = str(folder / "settings.toml")
    os.environ["CONTACTREAD_BOOK"] = str(folder / "book.sqlite")
    (folder / "settings.toml").unlink(missing_ok=True)
    file = folder / ("settings.toml" if text.kind == "settings" else "given")
    file.write_bytes(text.data)
    return _GIVEN[text.kind](folder, file, text.data)


def _typed(folder: Path, file: Path, data: bytes) -> str:
    """The words in one place of a command that takes words or numbers."""
    words = data.decode("utf-8", "replace").replace("\0", "")
    chance = random.Random(data)
    line = [part.format(axle=folder / "axle.toml", folder=folder) for part in chance.choice(COMMANDS).split()]
    chosen = chance.choice([at for at, part in enumerate(line) if part.startswith("=")])
    given = [
        words if at == chosen else part.removeprefix("=").replace("_", " ") if part[0] == "=" else part
        for at, part in enumerate(line)
    ]
    return answered(_joined(given, line))


def _joined(given: list[str], line: list[str]) -> list[str]:
    """An option and its value as one word, so that no value looks like an option."""
    out: list[str] = []
    for word, part in zip(given, line, strict=True):
        if part.startswith("=") and out and out[-1].startswith("--"):
            out[-1] += f"={word}"
        else:
            out.append(word)
    return out


_GIVEN: dict[str, Callable[[Path, Path, bytes], str]] = {
    "axle": lambda folder, file, data: answered(["axle", "show", str(file), "--json"]),
    "foreseen": lambda folder, file, data: answered(["predict", str(file), "--ring", "0.1 mm", "--json"]),
    "reading": lambda folder, file, data: answered(
        ["predict", str(folder / "axle.toml"), "--reading", str(file), "--ring", "0.1 mm", "--json"]
    ),
    "corners": lambda folder, file, data: answered(
        ["read", str(folder / "drive.jpg"), "--corners", str(file), "--json"]
    ),
    "manifest": lambda folder, file, data: answered(
        ["review", str(folder), "--manifest", str(file), "--dry-run", "--json"]
    ),
    "settings": lambda folder, file, data: answered(
        random.Random(data).choice((["settings", "--json"], ["settings"], ["flags", "--json"]))
    ),
    "answers": lambda folder, file, data: answered(
        ["practice", "test", "--seed", "1", "--questions", "2", "--answers", str(file), "--json"]
    ),
    "typed": _typed,
}
