"""Where a review's photos are read: worker processes here, or a Dask cluster that is already running."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from typing import Any, TypeVar

from contactread.errors import BookError, MissingExtraError

T = TypeVar("T")


def local(workers: int | None = None) -> ProcessPoolExecutor:
    """Worker processes on this machine, one thread each; as many as there are cores, unless told.

    Where the block that uses them is left by an error, such as Ctrl-C, they end at once: a photo that was
    being read is read again next time.
    """
    return _Local(workers or cores(), mp_context=get_context("spawn"), initializer=_begin)


class _Local(ProcessPoolExecutor):
    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        # Ctrl-C goes to every process of a terminal. One that begins while it is held back never gets it;
        # here it comes a moment later.
        with held_back():
            return super().submit(fn, *args, **kwargs)

    def __exit__(self, kind: Any, error: Any, trace: Any) -> None:
        if kind is not None:
            processes = list((getattr(self, "_processes", None) or {}).values())
            self.shutdown(wait=False, cancel_futures=True)
            for process in processes:
                process.terminate()
        self.shutdown()


@contextmanager
def held_back() -> Iterator[None]:
    """Hold Ctrl-C back, here until it is over, in processes that begin meanwhile for good."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def cluster(address: str) -> Iterator[Executor]:
    """The workers of a running Dask cluster. They need contactread, but not this machine's files.

    Raises `MissingExtraError`; `BookError` cluster-unreachable.
    """
    try:
        import distributed
    except ImportError:
        raise MissingExtraError("cluster", "Reading photos on a Dask cluster") from None
    try:
        connect: Any = distributed.Client
        client = connect(address, timeout="10s")
    except (OSError, ValueError) as error:
        raise BookError(
            "cluster-unreachable",
            f"No Dask cluster answers at {address}: {error}.",
            "Check the address, such as tcp://10.0.0.5:8786, and that its scheduler is running.",
        ) from error
    try:
        yield client.get_executor(pure=False)
    finally:
        client.close()


def cores() -> int:
    """The cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _begin() -> None:
    """What a worker process does first."""
    one_thread()
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """A killed review can't tell its workers to go: they wait for its end themselves."""
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def one_thread() -> None:
    """Leave the other cores to the other workers."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[name] = "1"
    import cv2

    cv2.setNumThreads(1)
