"""A real Chromium that behaves like a phone: its width, its touch, its lost connections."""

from __future__ import annotations

import base64
import os
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
DRIVER = shutil.which("chromedriver")
needs_phone = pytest.mark.skipif(
    CHROMIUM is None or DRIVER is None, reason="chromium or its driver (chromium-driver) isn't installed"
)
_FLAGS = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-quic",
)  # fmt: skip

# Every file that the page took, and its size.
WEIGHTS = (
    "return ['navigation', 'resource'].flatMap((kind) => performance.getEntriesByType(kind))"
    ".map((entry) => [entry.name, entry.decodedBodySize])"
)


class Phone:
    """One browser. shots: folder for screenshots, None takes none; taps: how often something was tapped."""

    def __init__(self, driver: webdriver.Chrome, shots: Path | None) -> None:
        self.driver, self.shots, self.taps = driver, shots, 0

    def begin(self, origin: str) -> None:
        """As if it were new: nothing kept of the page at this origin, and the usual screen."""
        self.driver.get("about:blank")
        self.driver.execute_cdp_cmd("Network.clearBrowserCookies", {})
        self.driver.execute_cdp_cmd("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": "all"})
        self.screen()
        self.complaints()

    def screen(self, width: int = 390, dark: bool = False) -> None:
        """Another width, or a phone set to dark."""
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": width, "height": 844, "deviceScaleFactor": 2, "mobile": True})  # fmt: skip
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})
        self.driver.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": True})

    def open(self, address: str) -> None:
        self.driver.get(address)

    def find(self, selector: str) -> WebElement:
        """The first element, waited for."""
        self.until(lambda: bool(self.driver.find_elements(By.CSS_SELECTOR, selector)), selector)
        return self.driver.find_element(By.CSS_SELECTOR, selector)

    def all(self, selector: str) -> list[WebElement]:
        return self.driver.find_elements(By.CSS_SELECTOR, selector)

    def tap(self, selector: str) -> None:
        """Tap in the middle of an element, as a finger does."""
        element = self.find(selector)
        self.js("arguments[0].scrollIntoView({block: 'center'})", element)
        x, y = self.middle(element)
        self.touch([(x, y)])
        self.taps += 1

    def focus(self, selector: str) -> tuple[float, float]:
        """Bring what may be drawn anew at any moment into sight, give it the keys, and say where it is."""
        self.find(selector)
        x, y = self.js(
            "const e = document.querySelector(arguments[0]); e.scrollIntoView({block: 'center', inline: "
            "'center'}); e.focus({preventScroll: true}); const b = e.getBoundingClientRect();"
            "return [b.x + b.width / 2, b.y + b.height / 2]",
            selector,
        )
        return x, y

    def middle(self, element: WebElement) -> tuple[float, float]:
        box = self.js(
            "const b = arguments[0].getBoundingClientRect(); return [b.x, b.y, b.width, b.height]", element
        )
        return box[0] + box[2] / 2, box[1] + box[3] / 2

    def touch(self, path: list[tuple[float, float]]) -> None:
        """One finger along a path of places on the screen."""

        def send(kind: str, at: tuple[float, float] | None) -> None:
            points = [] if at is None else [{"x": at[0], "y": at[1]}]
            self.driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        send("touchStart", path[0])
        for at in path[1:]:
            send("touchMove", at)
            time.sleep(0.03)
        send("touchEnd", None)

    def choose(self, selector: str, *files: Path) -> None:
        """What the camera or the gallery gives back; the tap that opens it counts."""
        self.find(selector).send_keys("\n".join(map(str, files)))
        self.taps += 1

    def type(self, selector: str, words: str) -> None:
        """Tap a field and type."""
        self.tap(selector)
        element = self.find(selector)
        element.clear()
        element.send_keys(words)

    def js(self, script: str, *values: Any) -> Any:
        return self.driver.execute_script(script, *values)

    def until(self, holds: Callable[[], bool], what: str, seconds: float = 40) -> None:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                if holds():
                    return
            except Exception:
                if time.monotonic() > end - 1:
                    raise
            time.sleep(0.02)
        raise AssertionError(f"waited in vain for: {what}\n{self.driver.current_url}\n{self.text()[:800]}")

    def text(self) -> str:
        return str(self.js("return document.body.innerText"))

    def offline(self, lost: bool) -> None:
        """Lose the connection, or get it back."""
        if lost:
            self.driver.set_network_conditions(offline=True, latency=0, throughput=500 * 1024)
        else:
            self.driver.delete_network_conditions()

    def shot(self, name: str) -> None:
        """The whole page as a picture."""
        if self.shots is None:
            return
        wide, tall = self.js("return [innerWidth, Math.min(9000, document.documentElement.scrollHeight)]")
        clip = {"x": 0, "y": 0, "width": wide, "height": tall, "scale": 0.75}
        given = self.driver.execute_cdp_cmd(
            "Page.captureScreenshot", {"captureBeyondViewport": True, "clip": clip}
        )
        self.shots.mkdir(parents=True, exist_ok=True)
        (self.shots / f"{name}.png").write_bytes(base64.b64decode(given["data"]))

    def complaints(self) -> list[str]:
        """What the browser logged as wrong, a lost connection aside."""
        entries = self.driver.get_log("browser")  # type: ignore[no-untyped-call]
        return [e["message"] for e in entries if "ERR_INTERNET_DISCONNECTED" not in e["message"]]


@contextmanager
def phone_browser(shots: Path | None) -> Iterator[Phone]:
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM or ""
    for flag in _FLAGS:
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    # In a locale of ASCII its driver can't name a temporary folder that isn't.
    service = Service(DRIVER, env={**os.environ, "LC_ALL": "C.UTF-8"})
    driver = webdriver.Chrome(options=options, service=service)
    try:
        yield Phone(driver, shots)
    finally:
        driver.quit()
