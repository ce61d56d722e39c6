"""What a phone writes into a photo, its place above all, goes into no page, sheet or marked copy."""

from __future__ import annotations

import base64
import re
import struct
from pathlib import Path

import pytest

from contactread.cli.main import main
from contactread.errors import PracticeError
from contactread.practice.marked_photo import copied, marked_photo
from contactread.practice.question import PhotoPicture
from contactread.practice.sheet import _photo_svg

SET_UP = Path(__file__).parents[2] / "sample_images" / "ash_good"
SECRET = b"SECRETPLACE"


def told(side: str) -> bytes:
    """A sample photo with the secret in its EXIF, XMP, comment and after its end."""
    data = (SET_UP / f"{side}.jpg").read_bytes()
    tag = struct.pack("<HHII", 270, 2, len(SECRET), 26)  # EXIF's description
    exif = b"Exif\0\0II*\0\x08\0\0\0\x01\0" + tag + b"\0\0\0\0" + SECRET
    parts = (
        (0xE1, exif),
        (0xE1, b"http://ns.adobe.com/xap/1.0/\0<x>" + SECRET),
        (0xFE, SECRET),
        (0xED, SECRET),
    )
    marks = b"".join(
        b"\xff" + bytes([kind]) + struct.pack(">H", len(body) + 2) + body for kind, body in parts
    )
    return data[:2] + marks + data[2:] + SECRET


def said_in(data: bytes) -> bool:
    """Whether the secret, or any EXIF, lies in a file or in a picture inside it."""
    inside = [base64.b64decode(found) for found in re.findall(rb"base64,([A-Za-z0-9+/=]+)", data)]
    return any(word in part for part in (data, *inside) for word in (SECRET, b"Exif\0"))


@pytest.fixture
def photos(tmp_path: Path) -> list[Path]:
    paths = [tmp_path / f"{side}.jpg" for side in ("drive", "coast")]
    for path in paths:
        path.write_bytes(told(path.stem))
        assert said_in(path.read_bytes())
    return paths


def test_practice_hands_on_pixels_only(photos: list[Path], tmp_path: Path) -> None:
    picture = PhotoPicture(photos[0], "A photo.", None, ((100.0, 100.0), (300.0, 100.0), (200.0, 300.0)))
    assert not said_in(marked_photo(picture, "q", tmp_path / "marked").read_bytes())
    page = _photo_svg(picture).encode()
    assert b"base64," in page and not said_in(page)


def test_an_altered_original_of_the_book_is_not_shown(photos: list[Path], tmp_path: Path) -> None:
    stored = tmp_path / f"{'0' * 64}.jpg"
    photos[0].rename(stored)
    with pytest.raises(PracticeError) as caught:
        copied(PhotoPicture(stored, "A photo."))
    assert caught.value.code == "photo-altered"


def test_marked_copies_and_reports(
    photos: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CONTACTREAD_BOOK", str(tmp_path / "b.sqlite"))
    monkeypatch.setenv("CONTACTREAD_SETTINGS", str(tmp_path / "s.toml"))
    axle, names = str(SET_UP / "axle.toml"), [str(photo) for photo in photos]
    who = ["--who", "Ana"]
    for command in (
        ["read", *names, "--axle", axle, "--marked", str(tmp_path / "marked")],
        ["job", "open", "Unit 1", "--axle", axle, *who],
        ["try", "start", "--pinion-shim", "34 thou", *who],
        ["try", "photo", *names, *who],
        ["report", "-o", str(tmp_path / "report.html")],
    ):
        assert main(command) == 0
    made = [*(tmp_path / "marked").iterdir(), tmp_path / "report.html"]
    assert len(made) == 3
    assert [path.name for path in made if said_in(path.read_bytes())] == []


@pytest.mark.parametrize(
    "page", ["practice/sheet.html", "practice/class.html", "practice/rules.html", "show/report.html"]
)
def test_pages_have_a_strict_policy(page: str) -> None:
    package = Path(__file__).parents[2] / "contactread"
    text, whole = (
        path.read_text(encoding="utf-8") for path in (package / page, package / "show" / "whole_page.html")
    )
    assert text.startswith('{% extends "whole_page.html" %}')
    assert "default-src 'none'" in whole and 'content="no-referrer"' in whole
    assert "<script" not in whole and "http-equiv" not in text
    assert "<script" not in text and "http://" not in text.replace("http://www.w3.org", "")
