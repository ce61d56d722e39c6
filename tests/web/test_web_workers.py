"""Worker processes with their limits; starting and stopping leaves nothing behind."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
import time
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from calibration.web.mutated_uploads import send_all
from calibration.web.page import SAMPLES, base_of, paired, send, served
from calibration.web.starts import left_over
from contactread.errors import ContactreadError
from contactread.web.workers import Workers


@pytest.fixture(scope="module")
def workers() -> Iterator[Workers]:
    found = Workers(1)
    yield found
    found.close()


def run(workers: Workers, *task: Any, **named: Any) -> Any:
    return asyncio.run(workers.run(*task, **named))


def test_a_photo_that_needs_too_much_memory_is_refused() -> None:
    out = BytesIO()
    Image.new("RGB", (9990, 9990), (90, 90, 90)).save(out, "PNG", compress_level=1)
    workers = Workers(1, memory_bytes=800_000_000)
    try:
        with pytest.raises(ContactreadError) as caught:
            run(workers, "read_bytes", out.getvalue(), "big.png", None, None)
        assert caught.value.code in ("out-of-memory", "photo-damaged", "work-ended")  # OpenCV's word
        with pytest.raises(ContactreadError) as caught:
            run(workers, "read_bytes", b"no photo", "x.jpg", None, None)  # it goes on
        assert caught.value.code == "photo-format"
    finally:
        workers.close()


def test_what_takes_too_long_is_ended(workers: Workers) -> None:
    data = (SAMPLES / "ash_good/drive.jpg").read_bytes()
    before = workers.process_ids()
    with pytest.raises(ContactreadError) as caught:
        run(workers, "read_bytes", data, "drive.jpg", None, None, seconds=0.01)
    assert caught.value.code == "work-too-long"
    assert workers.process_ids() != before
    assert run(workers, "read_bytes", data, "drive.jpg", None, None)["status"] == "read"


def test_a_worker_that_dies_is_replaced(workers: Workers) -> None:
    data = (SAMPLES / "ash_good/drive.jpg").read_bytes()
    (victim,) = workers.process_ids()
    threading.Timer(0.1, os.kill, (victim, signal.SIGKILL)).start()
    with pytest.raises(ContactreadError) as caught:
        for _ in range(50):
            run(workers, "read_bytes", data, "drive.jpg", None, None)
    assert caught.value.code == "work-ended"
    assert run(workers, "read_bytes", data, "drive.jpg", None, None)["status"] == "read"


def test_what_a_finger_waits_for_goes_first(workers: Workers) -> None:
    data = (SAMPLES / "ash_good/drive.jpg").read_bytes()
    done: list[str] = []

    async def one(name: str, urgency: int) -> None:
        await workers.run("read_bytes", data, name, None, None, urgency=urgency)
        done.append(name)

    async def several() -> None:
        await asyncio.gather(one("first", 2), one("later", 2), one("page", 1), one("finger", 0))

    asyncio.run(several())
    assert done == ["first", "finger", "page", "later"]


def test_starts_and_stops_leave_nothing(tmp_path: Path) -> None:
    """Fifty: `python -m calibration.web.starts`."""
    assert left_over(3, tmp_path) == []


def test_a_stop_in_the_middle_leaves_the_book_whole(tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    with served(book) as page, paired(page) as client:
        sending = threading.Thread(target=lambda: _try_to_send(client))
        sending.start()
        time.sleep(0.4)
    sending.join(30)
    with served(book) as page, paired(page) as client:
        assert send(client, SAMPLES / "ash_good/drive.jpg").json()["status"] == "read"
        assert client.get("/loose").status_code == 200
    unfinished = [path.name for path in tmp_path.rglob("*") if path.suffix in (".unfinished", ".tmp")]
    assert not unfinished


def _try_to_send(client: Any) -> None:
    try:
        send(client, SAMPLES / "ash_good/drive.jpg")
    except Exception:
        return


def test_mutated_uploads_are_refused_with_a_code(tmp_path: Path) -> None:
    """A few of them; `python -m calibration.web.mutated_uploads` sends ten thousand."""
    codes, _, wrong = send_all(20, 7, tmp_path)
    assert not wrong
    assert len(codes) > 3


def test_the_command_refuses_a_port_that_is_taken(page: Any, capfd: pytest.CaptureFixture[str]) -> None:
    from contactread.cli.main import main

    port = base_of(page).rsplit(":", 1)[1]
    assert main(["serve", "--port", port]) == 1
    assert "[port-taken]" in capfd.readouterr().err
