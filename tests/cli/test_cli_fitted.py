"""Lines on a screen are broken between words; elsewhere they stay as they are."""

from __future__ import annotations

import io

import pytest

from contactread.cli.output import fitted


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_long_lines_break_between_words_and_stay_indented(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    words = "  built with: " + "0.864 mm (0.0340 in) " * 8 + "behind-the-ring-gear"
    text = f"Job 1\n\n{words}\nshort"
    shown = fitted(text, Screen()).split("\n")
    assert max(map(len, shown)) <= 80 and len(shown) > 5
    assert shown[:2] == ["Job 1", ""] and shown[-1] == "short"
    assert all(line.startswith("    ") for line in shown[3:-1])
    assert " ".join(" ".join(shown[2:-1]).split()) == " ".join(words.split())
    assert fitted(text, io.StringIO()) == text


def test_a_word_longer_than_the_screen_is_left_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    path = "/" + "a" * 120
    assert path in fitted(f"Put back: {path} 3 jobs.", Screen())
