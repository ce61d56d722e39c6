"""Every page as it is seen: on a narrow screen, in light and dark, by its weight, and under axe-core.

axe-core comes from npm when the test runs; that test skips without. Screenshots: see `test_web_phone`.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tarfile

import pytest
from phone_browser import WEIGHTS, Phone, needs_phone
from starlette.routing import Route

from calibration.web.page import SAMPLES, base_of, paired, send
from contactread.web import api
from contactread.web.app import ROUTES
from contactread.web.serve import Running

AXE = "axe-core@4.14.1"
pytestmark = [needs_phone, pytest.mark.timeout(300)]
# Routes that are no page to look at: files, and what is one whole sheet with a style of its own.
NO_PAGE = (
    "/reach", "/guide/answer.jpg", "/photos/{sha256}/picture.jpg", "/practice/class.csv",
    "/practice/class/print", "/practice/rules", "/jobs/{job}/report",
)  # fmt: skip
# Buttons, fields and stand-alone links that a gloved finger can't hit: below 44 CSS pixels either way.
SMALL_TARGETS = """
const kinds = "button, a.button, nav a, .list a, .photos a, select, textarea, summary, label.choice, " +
  ".units label, label.big, input:not([type=hidden], [type=radio], [type=checkbox])";
return [...document.querySelectorAll(kinds)].filter((each) => each.offsetParent).map((each) => {
  const box = each.getBoundingClientRect();
  return box.width < 44 || box.height < 44 ? `${each.outerHTML.slice(0, 50)} ${box.width} ${box.height}` : "";
}).filter(Boolean);
"""
# The answer is read in sunlight: 7 to 1, axe's rule for enhanced contrast, on every page.
RUN = """
const done = arguments[arguments.length - 1];
const everything = {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice",
    "wcag2aaa"], rules: {"color-contrast-enhanced": {enabled: true}, "target-size": {enabled: true}}};
const colours = {runOnly: {type: "rule", values: ["color-contrast", "color-contrast-enhanced"]}};
axe.run(document, arguments[0] ? colours : everything)
  .then((found) => done(found.violations.filter((each) => ["serious", "critical"].includes(each.impact))
    .map((each) => `${each.id}: ${each.nodes.slice(0, 3).map((node) => node.html.slice(0, 120) + " " +
      (node.any[0] ? node.any[0].message : "")).join(" | ")}`)), (error) => done([String(error)]));
"""


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


def test_every_page_fits_a_narrow_screen(hand: Phone, fresh: Running) -> None:
    for number, path in enumerate(filled_book(fresh)):
        for dark in (False, True) if hand.shots else (False,):
            hand.screen(320, dark)
            hand.open(base_of(fresh) + path)
            hand.until(lambda: hand.js("return document.readyState") == "complete", "the page")
            if not dark:
                wide = hand.js("return document.documentElement.scrollWidth")
                assert wide <= 320, (path, wide)
                small = hand.js(SMALL_TARGETS)
                assert not small, (path, small)
                weighed = hand.js(WEIGHTS)
                assert 0 < sum(size for name, size in weighed if "/picture.jpg" not in name) < 150_000, path
            words = re.sub(r"[^a-z]+", "-", path.split("?")[0]).strip("-")
            hand.shot(f"page-{number:02}-{words[:20]}-{'dark' if dark else 'light'}")


def test_no_serious_finding(axe: str, hand: Phone, fresh: Running) -> None:
    found = {}
    for path in filled_book(fresh):
        hand.open(base_of(fresh) + path)
        hand.until(lambda: hand.js("return document.readyState") == "complete", "the page")
        if "/correct" in path:
            hand.find("#lines .corner")
        hand.js(axe)
        for dark in (False, True):
            hand.screen(dark=dark)
            serious = hand.driver.execute_async_script(RUN, dark)
            if serious:
                found[path[:40], dark] = serious
    assert not found


def filled_book(page: Running) -> list[str]:
    """A book with something of everything; the addresses of all pages."""
    with paired(page) as client:
        made = client.post("/jobs", data={"vehicle": "Invented unit", "who": "Ana", "axle": "usual"})
        assert made.status_code == 303
        client.post("/jobs", data={"vehicle": "Invented wreck", "who": "Ana", "axle": "usual"})
        client.post("/jobs/2/close", data={"how": "stop", "who": "Ana", "reason": "an invented reason"})
        deep, good = (
            [send(client, SAMPLES / f"{name}/{side}.jpg").json()["sha256"] for side in ("drive", "coast")]
            for name in ("ash_too_shallow", "ash_good")
        )
        refused = send(client, SAMPLES / "refused/blurred.jpg").json()["sha256"]
        client.post("/ask", data={"job": "1", "backlash": "0.18", "unit": "mm", "photo": deep})
        for _ in range(3):
            question = re.search(r'name="question" value="([^"]+)"', client.get("/practice").text)
            assert question is not None
            client.post("/practice", data={"question": question[1], "given": "a"})
        loose = "&".join(f"photo={sha256}" for sha256 in (*good, refused))
        token = page.new_address().rsplit("/", 1)[1]
    values = {"job": "1", "number": "1", "sha256": good[0], "token": token, "name": "read"}
    pages = [
        re.sub(r"\{(\w+)\}", lambda found: values[found[1]], route.path)
        for route in ROUTES
        if isinstance(route, Route) and route not in api.ROUTES
        and "GET" in (route.methods or {"GET"}) and route.path not in NO_PAGE
    ]  # fmt: skip
    more = {"/answer": f"?{loose}&backlash=0.18+mm", "/practice/person": "?who=Ana"}
    return [
        *(path + more.get(path, "") for path in pages), f"/?{loose}", "/?job=1", "/jobs?q=invented",
        "/guide/patterns", "/guide/move", "/jobs/2", f"/photos/{refused}", f"/photos/{refused}/correct",
        "/nowhere",
    ]  # fmt: skip
