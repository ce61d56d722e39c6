"""A page as a browser lays it out: overflow, clipped text, contrast. Needs chromium; tests skip without."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--virtual-time-budget=4000",
)  # fmt: skip
needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason="chromium isn't installed")

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


def printed_pages(page: str, paper: str, folder: Path) -> int:
    """The number of sheets that the page prints on."""
    source, target = folder / f"{paper}.html", folder / f"{paper}.pdf"
    source.write_text(page.replace("size: auto", f"size: {paper}"), encoding="utf-8")
    browse("--no-pdf-header-footer", f"--print-to-pdf={target}", source.as_uri())
    return len(re.findall(rb"/Type\s*/Page[^s]", target.read_bytes()))


def browse(*arguments: str) -> subprocess.CompletedProcess[str]:
    assert CHROMIUM is not None
    return subprocess.run(
        [CHROMIUM, *FLAGS, *arguments],
        capture_output=True,
        text=True,
        timeout=90,
        check=True,
        encoding="utf-8",
    )
