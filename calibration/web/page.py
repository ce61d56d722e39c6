"""A page running in this process, and phones that are paired with it; tests use it, too."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx

from contactread.web.serve import Running, listen

SAMPLES = Path(__file__).parents[2] / "sample_images"


@contextmanager
def served(book: Path, axle: Path | None = None, workers: int = 2) -> Iterator[Running]:
    """A page on loopback, on any free port."""
    text = None if axle is None else axle.read_text(encoding="utf-8")
    page = Running(listen(False, None), book, text, workers)
    thread = threading.Thread(target=page.serve_until_stopped)
    thread.start()
    until = time.monotonic() + 30
    while not page.server.started and time.monotonic() < until:
        time.sleep(0.01)
    try:
        yield page
    finally:
        page.stop()
        thread.join(30)
        assert not thread.is_alive()


@contextmanager
def started(book: Path, axle: Path) -> Iterator[str]:
    """A page in a process of its own, as the command starts it; its first address with a token."""
    command = [
        sys.executable,
        "-m",
        "contactread.cli.main",
        "serve",
        "--book",
        str(book),
        "--axle",
        str(axle),
    ]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        try:
            assert process.stdout is not None
            address = next(line.strip() for line in process.stdout if "/pair/" in line)
            threading.Thread(target=process.stdout.read, daemon=True).start()
            yield address
        finally:
            process.terminate()


def pair_by(address: str) -> httpx.Client:
    """A browser that was paired by an address with a token."""
    base = address.split("/pair/")[0]
    headers = {"origin": base, "sec-fetch-site": "same-origin"}
    client = httpx.Client(base_url=base, headers=headers, timeout=900, trust_env=False)
    for _ in range(100):
        try:
            if client.post(address.removeprefix(base)).status_code == 303:
                return client
        except httpx.ConnectError:
            time.sleep(0.1)
    raise AssertionError("the page didn't start")


def base_of(page: Running) -> str:
    return page.place.addresses[0][0]


@contextmanager
def paired(page: Running, pair: bool = True) -> Iterator[httpx.Client]:
    """A browser as far as the server can tell."""
    base = base_of(page)
    headers = {"origin": base, "sec-fetch-site": "same-origin"}
    with httpx.Client(base_url=base, headers=headers, timeout=60, trust_env=False) as client:
        if pair:
            answer = client.post(page.new_address().removeprefix(base))
            assert answer.status_code == 303
        yield client


def send(client: httpx.Client, path: Path, job: int | None = None) -> httpx.Response:
    query = {"name": path.name} | ({} if job is None else {"job": str(job)})
    return client.post("/api/v1/photos", params=query, content=path.read_bytes())
