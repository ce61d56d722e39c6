"""Every page under axe-core, in light and dark. axe-core comes from npm when the test runs; skips without."""

from __future__ import annotations

import shutil
import subprocess
import tarfile
from pathlib import Path

import pytest
from phone_browser import Phone, needs_phone, phone_browser

from calibration.web.page import SAMPLES, base_of, served
from contactread.web.serve import Running

AXE = "axe-core@4.14.1"
PAGES = (
    "/", "/jobs", "/jobs/new", "/jobs/1", "/jobs/1/measure", "/jobs/1/close", "/jobs/1/tries/1", "/loose",
    "/more", "/help/flags", "/help/cautions", "/help/reach", "/guide", "/guide/patterns", "/guide/move",
    "/shims", "/phones", "/practice", "/nowhere", "/jobs?q=invented",
)  # fmt: skip
# The answer is read in sunlight: 7 to 1, axe's rule for enhanced contrast, on every page.
RUN = """
const done = arguments[arguments.length - 1];
axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice",
    "wcag2aaa"], rules: {"color-contrast-enhanced": {enabled: true}, "target-size": {enabled: true}}})
  .then((found) => done(found.violations.filter((each) => ["serious", "critical"].includes(each.impact))
    .map((each) => `${each.id}: ${each.nodes.slice(0, 3).map((node) => node.html.slice(0, 120) + " " +
      (node.any[0] ? node.any[0].message : "")).join(" | ")}`)), (error) => done([String(error)]));
"""

pytestmark = [needs_phone, pytest.mark.timeout(300)]


@pytest.fixture(scope="module")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The script, unchanged, from its package."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("npm isn't installed, so axe-core can't be fetched")
    folder = tmp_path_factory.mktemp("axe")
    try:
        command = [npm, "pack", AXE, "--silent"]
        packed = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=120, check=True)
    except (subprocess.SubprocessError, OSError) as error:
        pytest.skip(f"{AXE} can't be fetched from npm: {error}")
    with tarfile.open(folder / packed.stdout.split()[-1]) as archive:
        script = archive.extractfile("package/axe.min.js")
        assert script is not None
        return script.read().decode()


@pytest.mark.parametrize("dark", [False, True])
def test_no_serious_finding(axe: str, tmp_path: Path, dark: bool) -> None:
    with (
        served(tmp_path / "book.sqlite", SAMPLES / "ash_too_deep/axle.toml") as page,
        phone_browser(tmp_path, dark=dark) as phone,
    ):
        answer = filled_book(phone, page)
        found = {}
        for address in (*(base_of(page) + path for path in PAGES), *answer):
            phone.open(address)
            phone.until(lambda: phone.js("return document.readyState") == "complete", "the page")
            if "/correct" in address:
                phone.find("#lines .corner")
            phone.js(axe)
            serious = phone.driver.execute_async_script(RUN)
            if serious:
                found[address.removeprefix(base_of(page))[:40]] = serious
        assert not found


def filled_book(phone: Phone, page: Running) -> list[str]:
    """A job with a try, and loose photos beside it; the answer's address and those of its photos."""
    phone.open(page.new_address())
    phone.tap("button.answer")
    phone.find("#gallery")
    phone.open(base_of(page) + "/jobs/new")
    phone.type("input[name=vehicle]", "Invented unit")
    phone.type("input[name=who]", "Ana")
    phone.tap("button.answer")
    for setup in ("ash_too_deep", "ash_good"):
        if setup == "ash_good":
            phone.open(base_of(page) + "/")
        phone.choose("#gallery", *(SAMPLES / f"{setup}/{side}.jpg" for side in ("drive", "coast")))
        if setup == "ash_good":
            phone.choose("#gallery", SAMPLES / "refused/blurred.jpg")
        count = 3 if setup == "ash_good" else 2

        def all_there(count: int = count) -> bool:
            return len(phone.all("#photos li[data-sha256]")) == count

        phone.until(all_there, "photos")
        phone.type("#backlash", "0.18")
        phone.tap("#go")
        phone.until(lambda: bool(phone.all(".verdict h1")), "the answer")
    answer = phone.driver.current_url
    corrects = [each.get_attribute("href") or "" for each in phone.all("a[href*='/correct']")]
    photos = [address.split("/correct")[0] for address in corrects]
    return [answer, corrects[0], photos[0]]
