"""How long a phone waits for its answer: alone beside `read`, and twenty phones at once.

    python -m calibration.web.phones_at_once [--phones 20]

Prints each figure beside its bar; ends with an error where one is missed. Everything runs on this machine,
the phones too, so leave it alone meanwhile.

The best single wait stands beside the best `read`. The longest of many waits stands beside the middle one of
ten single ones, half of them before and half after: what else the machine does then weighs alike on both. Two
cores that share all work perfectly give 20 phones a wait of 20 times half of the processor time that one
phone costs, over its single wait.
"""

from __future__ import annotations

import argparse
import itertools
import re
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from contextlib import closing
from io import BytesIO
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

import httpx

from calibration.web.page import SAMPLES, pair_by, started

AXLE = SAMPLES / "ash_too_deep/axle.toml"
SIZE = (3464, 3464)  # 12 million pixels, in the shape of the samples
MOST_SINGLE, MOST_WAIT, MOST_OTHER_S = 1.5, 20.0, 0.2


def large(number: int) -> list[bytes]:
    """Both photos of a set-up at 12 million pixels; each number gives other bytes."""
    from PIL import Image

    found = []
    for side in ("drive", "coast"):
        with Image.open(SAMPLES / f"ash_too_deep/{side}.jpg") as photo:
            out = BytesIO()
            photo.convert("RGB").resize(SIZE).save(out, "JPEG", quality=88, comment=str(number).encode())
            found.append(out.getvalue())
    return found


def read_warm(photos: Sequence[bytes]) -> float:
    """Seconds that reading both and advising takes in a warm process, the best of five."""
    import contactread

    axle = contactread.load_axle(AXLE)
    best = float("inf")
    for _ in range(6):
        began = time.perf_counter()
        drive, coast = (contactread.read(data, axle=axle) for data in photos)
        contactread.advise(contactread.pair(drive, coast, (0.18,)), axle)
        best = min(best, time.perf_counter() - began)
    return best


def answered(client: httpx.Client, photos: Sequence[bytes]) -> float:
    """Seconds from sending both photos, side by side as the page does, until the answer's page is here."""
    hashes: list[str] = ["", ""]

    def send(place: int) -> None:
        answer = client.post("/api/v1/photos", params={"name": "photo.jpg"}, content=photos[place])
        hashes[place] = answer.raise_for_status().json()["sha256"]

    began = time.perf_counter()
    threads = [threading.Thread(target=send, args=(place,)) for place in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    query = [("photo", sha256) for sha256 in hashes] + [("backlash", "0.18 mm")]
    client.get("/answer", params=tuple(query)).raise_for_status()
    return time.perf_counter() - began


def main() -> int:
    parser = argparse.ArgumentParser(description="How long phones wait for their answer.")
    parser.add_argument("--phones", type=int, default=20)
    count = parser.parse_args().phones
    photos = [large(number) for number in range(count + 11)]
    missed = False
    with tempfile.TemporaryDirectory() as folder, started(Path(folder) / "book.sqlite", AXLE) as address:
        with closing(pair_by(address)) as client:
            answered(client, photos.pop())  # what a first photo loads is loaded
            singles = [answered(client, photos.pop()) for _ in range(5)]
            warm = read_warm(photos[0])
            missed |= _say("two photos to the answer, times `read` warm", min(singles) / warm, MOST_SINGLE)
            waits, others, failed = _together(client, photos[:count])
            singles += [answered(client, photos.pop()) for _ in range(5)]
        missed |= len(waits) < count or bool(failed)
        print(f"{count} phones at once: {len(waits)} answered; other pages failed {len(failed)} times")
        for page in failed[:3]:
            print(page)
        single = statistics.median(singles)
        missed |= _say("longest wait, times the single one", max(waits) / single, MOST_WAIT)
        missed |= _say("other pages meanwhile, slowest in s", max(others), MOST_OTHER_S)
        best = max(waits) / min(singles)
        print(
            f"(single {single:.2f} s, at best {min(singles):.2f} s: {best:.1f} times; warm read {warm:.2f} s;"
        )
        print(f"other pages' median {statistics.median(others):.3f} s)")
    return int(missed)


def _another(client: httpx.Client) -> httpx.Client:
    """Another phone, paired as people do it: by the code on a paired one's page."""
    code = re.search(r"http://[^<\s]+/pair/[\w-]+", client.get("/phones").text)
    assert code is not None
    return pair_by(code[0])


def _together(
    client: httpx.Client, photos: Sequence[Sequence[bytes]]
) -> tuple[list[float], list[float], list[str]]:
    """The wait of each phone; how long other pages took meanwhile, and which failed."""
    waits: list[float] = []
    phones = [_another(client) for _ in photos]

    def one(phone: httpx.Client, both: Sequence[bytes]) -> None:
        with closing(phone):
            waits.append(answered(phone, both))

    context = get_context("spawn")
    here, there = context.Pipe()
    cookies = dict(client.cookies)
    looking = context.Process(target=look_around, args=(there, str(client.base_url), cookies), daemon=True)
    looking.start()
    here.recv()
    threads = [threading.Thread(target=one, args=each) for each in zip(phones, photos, strict=True)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    here.send("enough")
    others, failed = here.recv()
    looking.join()
    return waits, others, failed


def look_around(pipe: Connection, base: str, cookies: dict[str, str]) -> None:
    """Load one page after the other, about twenty a second, until told to stop; send how long each took and
    which failed. In a process of its own: who looks must not wait for the threads that play the phones.
    """
    others: list[float] = []
    failed: list[str] = []
    with httpx.Client(base_url=base, cookies=cookies, timeout=60, trust_env=False) as client:
        pipe.send("here")
        for path in itertools.cycle(("/", "/jobs", "/more")):
            began = time.perf_counter()
            answer = client.get(path)
            others.append(time.perf_counter() - began)
            if answer.status_code != 200:
                failed.append(f"{path}: {answer.status_code} {answer.text}")
            if pipe.poll(0.05):
                break
    pipe.send((others, failed))


def _say(what: str, found: float, most: float) -> bool:
    print(f"{what}: {found:.2f} (at most {most:g}){'  MISSED' if found > most else ''}")
    return found > most


if __name__ == "__main__":
    sys.exit(main())
