"""A patch drawn with cursor keys, in the noun and in a real terminal; the tooth marked in its photograph."""

from __future__ import annotations

import os
import sys
import time
from io import StringIO
from pathlib import Path
from typing import cast

import numpy as np
import pytest
from test_practice_stored import CONTACT, tooth, write_photo

from contactread.cli.main import main
from contactread.practice.answers import parse_patch
from contactread.practice.history import answers_of
from contactread.practice.marked_photo import marked_photo
from contactread.practice.photo_questions import photo_question
from contactread.practice.placing import Key, Placing
from contactread.practice.question import PhotoPicture
from contactread.records.book import Book


def pressed(placing: Placing, *keys: str) -> Placing:
    for key in keys:
        placing = placing.press(cast(Key, key))
    return placing


def test_three_points_make_the_answer_that_can_be_typed() -> None:
    placing = pressed(Placing(), *["left"] * 5, *["up"] * 2, "enter", *["left"] * 10, *["down"] * 7, "enter")
    assert not placing.done and placing.set_points == ((0.4, 0.54), (0.2, 0.4))
    assert pressed(placing, "enter") == placing  # the end must lie beyond the beginning
    placing = pressed(placing, *["right"] * 20, *["up"] * 15, "enter")
    assert placing.done
    assert parse_patch(placing.answer()) == ((0.2, 0.6), (0.4, 0.7), (0.4, 0.54))


def test_back_takes_a_point_back_and_the_flank_has_ends() -> None:
    placing = pressed(Placing(), "enter", *["left"] * 99, *["up"] * 99)
    assert placing.cursor == (0.0, 1.0)
    assert pressed(placing, "back") == Placing() == pressed(Placing(), "back")


def test_the_screen_keeps_its_size() -> None:
    stages = [
        Placing(),
        pressed(Placing(), "enter"),
        pressed(Placing(), "enter", "left", "down", "enter", "up"),
    ]
    for plain in (False, True):
        sizes = {(len(p.lines(plain)), max(map(len, p.lines(plain)))) for p in stages}
        assert sizes == {(len(stages[0].lines(plain)), 79)} and len(stages[0].lines(plain)) <= 22
    assert all(line.isascii() for line in stages[2].lines(plain=True))


def test_the_tooth_is_marked_in_a_copy(tmp_path: Path) -> None:
    from PIL import Image

    write_photo(tmp_path, [tooth(CONTACT)])
    picture = photo_question("photo-fernhill-drive", tmp_path).pictures[0]
    assert isinstance(picture, PhotoPicture)
    file = marked_photo(picture, "photo-fernhill-drive", tmp_path / "marked")
    before, after = (np.asarray(Image.open(p).convert("L")).astype(int) for p in (picture.path, file))
    changed = np.abs(before - after) > 60
    assert (
        changed[95:106, 150:250].any() and changed[195:206, 150:250].any()
    )  # both long edges of the outline
    assert not changed[120:180, 130:270].any() and not changed[:60, 250:].any()


@pytest.mark.skipif(os.name == "nt", reason="a POSIX terminal")
def test_a_patch_is_drawn_in_a_terminal(tmp_path: Path) -> None:
    """The whole way: lesson, picture, keys, mark, and the answer kept by name."""
    import pty
    import select

    write_photo(tmp_path / "photos", [tooth(CONTACT)])
    child, terminal = pty.fork()
    if child == 0:  # pragma: no cover: the child becomes the command
        os.environ |= {"TERM": "xterm", "XDG_CACHE_HOME": str(tmp_path / "cache")}
        command = ["learn", "--who", "Bo", "--topic", "photo", "--questions", "1", "--consent"]
        place = ["--photos", str(tmp_path / "photos"), "--book", str(tmp_path / "book.sqlite")]
        os.execv(sys.executable, [sys.executable, "-m", "contactread.cli.main", "practice", *command, *place])
    shown = b""

    def until(words: bytes) -> None:
        nonlocal shown
        end = time.monotonic() + 40
        while words not in shown:
            assert time.monotonic() < end, shown.decode(errors="replace")
            if select.select([terminal], [], [], 1)[0]:
                shown += os.read(terminal, 65536)
        shown = shown[shown.index(words) + len(words) :]

    until(b"Enter goes on")
    os.write(terminal, b"\r")
    until(b"marked in:")
    until(b"CENTRE")
    time.sleep(0.3)
    os.write(terminal, b"\x1b[D" * 5 + b"\r" + b"\x1b[D" * 6 + b"\x1b[B" * 6 + b"\r")
    os.write(terminal, b"\x1b[C" * 12 + b"\x1b[A" * 12 + b"\r")
    until(b"RIGHT. You answered: 28-52 38-62 centre 40 50")
    until(b"Enter goes on")
    os.write(terminal, b"\r")
    until(b"1 of 1 right.")
    os.close(terminal)
    os.waitpid(child, 0)
    with Book(tmp_path / "book.sqlite") as book:
        (kept,) = answers_of(book, "Bo")
    assert kept.right and kept.given == "with consent: 28-52 38-62 centre 40 50"


@pytest.mark.skipif(os.name == "nt", reason="the cache lies elsewhere")
def test_a_question_is_asked_where_no_marked_copy_can_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Such as with a home that can't be written."""
    (tmp_path / "cache").write_bytes(b"a file in the folder's place")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr("sys.stdin", StringIO(""))
    write_photo(tmp_path / "photos", [tooth(CONTACT)])
    learn = ["practice", "learn", "--who", "Bo", "--topic", "photo", "--questions", "1"]
    place = ["--photos", str(tmp_path / "photos"), "--book", str(tmp_path / "book.sqlite")]
    main([*learn, *place])
    told = capsys.readouterr()
    assert "Where does the patch on the marked tooth lie?" in told.out
    assert "could not be marked in a copy: Not a directory." in told.out and "[system]" not in told.err
