"""Worker processes: all decoding, reading and computing happens there, with a limit on memory and time.

The server itself never decodes a byte of a photo. A worker that takes too long or too much is ended and
replaced; what it worked on becomes an error with a code.
"""

from __future__ import annotations

import asyncio
import heapq
import itertools
import os
import signal
from collections import deque
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Any

from contactread.errors import ContactreadError, coded
from contactread.records.executors import cores, held_back, one_thread

MEMORY_BYTES = 2_000_000_000  # of address space: a photo of 100 million pixels with all its copies fits
MOST_WAITING = 400  # our choice: twenty phones with a dozen photos and pages each
NOW, SOON, LATER = 0, 1, 2  # a finger waits; a page waits; a photo is read
_HELD = 3  # photos that a worker keeps decoded


class _Worker:
    """One process and the pipe to it. `call` blocks, so it runs on a thread of its own."""

    def __init__(self, memory_bytes: int) -> None:
        self._memory = memory_bytes
        self._ended = False
        self.near: deque[str] = deque(maxlen=_HELD)
        self._start()

    def _start(self) -> None:
        context = get_context("spawn")
        self._pipe, other = context.Pipe()
        self._process = context.Process(
            target=_work, args=(other, self._memory), daemon=True, name="contactread-worker"
        )
        with held_back():  # Ctrl-C is the server's to handle, from the first moment
            self._process.start()
        other.close()
        self.near.clear()

    def call(self, task: str, arguments: tuple[Any, ...], seconds: float) -> Any:
        """The result. Raises what the task raised; ContactreadError work-too-long, work-ended, fault."""
        try:
            self._pipe.send((task, arguments))
            if not self._pipe.poll(seconds):
                self._replace()
                raise ContactreadError(
                    "work-too-long",
                    f"This took longer than {seconds:.0f} s, so it was stopped.",
                    "Try again; if it happens again, take another photo.",
                )
            kind, value = self._pipe.recv()
        except (EOFError, OSError) as error:
            if self._ended:
                raise _stopping() from error
            self._replace()
            raise ContactreadError(
                "work-ended",
                "The program that reads photos ended while it worked on this.",
                "Try again; if it happens again, take another photo.",
            ) from error
        if kind == "error":
            raise value
        return value

    def _replace(self) -> None:
        self.kill()
        self._clear()
        self._start()

    @property
    def process_id(self) -> int:
        return self._process.pid or 0

    def kill(self) -> None:
        """End the process, whatever it does. Who waits for it in `call` gets an error."""
        self._process.kill()

    def end(self) -> None:
        """As `kill`, for good, with nothing left behind. Nobody may be in `call` any more."""
        self.kill()
        self._clear()

    def stop(self) -> None:
        """Have `call` come back at once, without a new process."""
        self._ended = True
        self.kill()

    def _clear(self) -> None:
        self._process.join()
        self._process.close()
        self._pipe.close()


class Workers:
    """A few worker processes for one event loop. Use `close` at the end."""

    def __init__(self, count: int | None = None, memory_bytes: int = MEMORY_BYTES) -> None:
        count = count or max(2, cores())
        self.count = count
        self._idle = [_Worker(memory_bytes) for _ in range(count)]
        self._all = list(self._idle)
        self._threads = ThreadPoolExecutor(count, thread_name_prefix="contactread-worker")
        self._waiting: list[tuple[int, int, str, asyncio.Future[_Worker]]] = []
        self._turn = itertools.count()

    async def run(
        self, task: str, *arguments: Any, seconds: float = 60.0, near: str = "", urgency: int = SOON
    ) -> Any:
        """Run a function of `contactread.web.tasks` by its name. near: a photo's hash; a worker that holds
        it decoded is preferred. Raises what the task raises; ContactreadError too-busy, work-too-long,
        work-ended, fault.
        """
        worker = await self._free(near, urgency)
        if near and near not in worker.near:
            worker.near.append(near)
        try:
            loop = asyncio.get_running_loop()
            return await asyncio.shield(
                loop.run_in_executor(self._threads, self._call, loop, worker, task, arguments, seconds)
            )
        except RuntimeError as error:  # the threads are closed
            raise _stopping() from error

    def _call(
        self,
        loop: asyncio.AbstractEventLoop,
        worker: _Worker,
        task: str,
        arguments: tuple[Any, ...],
        seconds: float,
    ) -> Any:
        try:
            return worker.call(task, arguments, seconds)
        finally:
            if not loop.is_closed():
                loop.call_soon_threadsafe(self._give_back, worker)

    async def _free(self, near: str, urgency: int) -> _Worker:
        if self._idle:
            worker = next((w for w in self._idle if near and near in w.near), self._idle[0])
            self._idle.remove(worker)
            return worker
        if len(self._waiting) >= MOST_WAITING:
            raise ContactreadError(
                "too-busy", "Too many photos are waiting to be read.", "Wait a minute, then send it again."
            )
        turn: asyncio.Future[_Worker] = asyncio.get_running_loop().create_future()
        heapq.heappush(self._waiting, (urgency, next(self._turn), near, turn))
        try:
            return await turn
        except asyncio.CancelledError:
            if turn.done() and not turn.cancelled():
                self._give_back(turn.result())
            raise

    def _give_back(self, worker: _Worker) -> None:
        while self._waiting:
            *_, turn = heapq.heappop(self._waiting)
            if not turn.done():
                turn.set_result(worker)
                return
        self._idle.append(worker)

    def process_ids(self) -> list[int]:
        """Of the worker processes as they are now."""
        return [worker.process_id for worker in self._all]

    def close(self) -> None:
        """End all workers; what they were doing is dropped."""
        for worker in self._all:
            worker.stop()
        self._threads.shutdown(cancel_futures=True)
        for worker in self._all:
            worker.end()


def _stopping() -> ContactreadError:
    return ContactreadError(
        "stopping", "contactread is being stopped.", "Start it again, then send it again."
    )


def _work(pipe: Connection, memory_bytes: int) -> None:
    """The life of a worker process: one task after the other until the pipe closes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's to handle
    one_thread()
    _limit(memory_bytes)
    while True:
        try:
            task, arguments = pipe.recv()
        except (EOFError, OSError):
            return
        answer = _answer(task, arguments)
        try:
            pipe.send(answer)
        except OSError:
            return


def _answer(task: str, arguments: tuple[Any, ...]) -> tuple[str, Any]:
    import cv2

    from contactread.photo.opencv import out_of_memory
    from contactread.web import tasks

    try:
        return "done", getattr(tasks, task)(*arguments)
    except ContactreadError as error:
        return "error", error
    except (MemoryError, cv2.error) as error:
        if out_of_memory(error):
            return "error", ContactreadError(
                "out-of-memory", "The photo needs more memory than it may have.", "Use a smaller photo."
            )
        return "error", coded(error)
    except Exception as error:
        if os.environ.get("CONTACTREAD_DEBUG"):
            import traceback

            traceback.print_exc()
        return "error", coded(error)


def _limit(memory_bytes: int) -> None:
    """Bound this process's memory where the system can, and let the server go first."""
    try:
        import resource
    except ImportError:  # not on Windows
        return
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    os.nice(10)
    if hasattr(os, "SCHED_BATCH"):  # what wakes up to answer goes first
        with suppress(OSError):  # some containers forbid it
            os.sched_setscheduler(0, os.SCHED_BATCH, os.sched_param(0))
