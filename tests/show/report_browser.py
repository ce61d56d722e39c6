"""A page as a browser lays it out: overflow, clipped text, contrast. Needs chromium; tests skip without."""

from __future__ import annotations

import html
import json
import os
import re
import subprocess
import tempfile
import zlib
from pathlib import Path
from typing import Any

import pytest

from contactread.show.printing import FLAGS, browsers

# A browser's sandbox works neither for root nor in every container; the pages are the tests' own.
NO_SANDBOX = "--no-sandbox"
needs_chromium = pytest.mark.skipif(
    not browsers(), reason="no browser that can print is installed (Debian: chromium)"
)

# Runs in a page around the report, which sits in a frame of the wanted width.
MEASURE = Path(__file__).with_name("report_measure.js").read_text(encoding="utf-8")


def laid_out(page: str, width: int, folder: Path) -> dict[str, Any]:
    """What the browser finds: bad (list of words), lowest contrast, texts, asked (outside requests)."""
    around = folder / f"around-{width}.html"
    frame = f'<iframe id="page" style="width:{width}px;height:5000px;border:0" srcdoc="{html.escape(page)}">'
    around.write_text(
        f"<!DOCTYPE html><meta charset='utf-8'><body>{frame}</iframe><script>{MEASURE}</script>",
        encoding="utf-8",
    )
    found = browse("--dump-dom", f"--window-size={width + 60},5100", around.as_uri()).stdout
    measured = re.search(r"<body>(\{.*\})</body>", found, re.DOTALL)
    assert measured, found[-2000:]
    result: dict[str, Any] = json.loads(html.unescape(measured[1]))
    return result


def sheets(pdf: bytes) -> int:
    """The number of sheets of a PDF."""
    return len(re.findall(rb"/Type\s*/Page[^s]", unpacked(pdf)))


def unpacked(pdf: bytes) -> bytes:
    """A PDF, and behind it the objects that it packs."""
    packed = re.findall(rb"/Type /ObjStm.*?stream\r?\n(.*?)endstream", pdf, re.DOTALL)
    return b"".join([pdf, *(zlib.decompressobj().decompress(data) for data in packed)])


def only_fonts(folder: Path, fonts: Path | None) -> Path:
    """Settings for FONTCONFIG_FILE with which a machine has the fonts of one folder alone, or none at all."""
    settings = folder / "fonts.conf"
    seen = "" if fonts is None else f"<dir>{fonts}</dir>"
    settings.write_bytes(os.fsencode(f"<fontconfig>{seen}<cachedir>{folder}/cache</cachedir></fontconfig>"))
    return settings


def browse(*arguments: str) -> subprocess.CompletedProcess[str]:
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        return subprocess.run(
            [
                str(browsers()[0]), *FLAGS, NO_SANDBOX, f"--user-data-dir={profile}",
                "--virtual-time-budget=4000", *arguments,
            ],
            capture_output=True, text=True, timeout=90, check=True, encoding="utf-8",
        )  # fmt: skip
