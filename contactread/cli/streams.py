"""Standard streams and signals as they really come: closed, full, in ASCII; ended at any moment."""

from __future__ import annotations

import os
import signal
import sys
import threading
from contextlib import suppress
from types import FrameType
from typing import Any, NoReturn, TextIO


def make_ready() -> bool:
    """Streams that take every character; whether there is a standard output at all.

    Where one is closed, its number would go to the next file that is opened, such as the shop book, and what
    a library says would be written into that. So nothing's device takes its place.
    """
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number
    heard = sys.stdout is not None
    sys.stdin = sys.stdin or _nothing("r")
    sys.stdout = sys.stdout or _nothing("w")
    sys.stderr = sys.stderr or _nothing("w")
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:  # a terminal that can't show a character must not end the job
            reconfigure(errors="backslashreplace")
    return heard


def _nothing(mode: str) -> TextIO:
    return open(os.devnull, mode, encoding="utf-8")  # type: ignore[return-value]  # noqa: PTH123


def end_on_signals() -> None:
    """SIGTERM and a terminal that goes end a command as Ctrl-C does: what is begun is put right first."""
    if threading.current_thread() is not threading.main_thread():
        return
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, _stop)
    if hasattr(signal, "setitimer"):
        signal.signal(signal.SIGALRM, _stop)
        sys.unraisablehook = _not_lost


def _not_lost(dropped: Any) -> None:
    """Python drops what is raised while it lets go of something, a Ctrl-C too; so that is raised once more.
    Without it, a command that was told to stop would go on, or wait for a lock of imports for ever.
    """
    if dropped.exc_type is KeyboardInterrupt:
        signal.setitimer(signal.ITIMER_REAL, 0.01)
    else:
        sys.__unraisablehook__(dropped)


def _stop(number: int, frame: FrameType | None) -> NoReturn:
    raise KeyboardInterrupt


def end_quietly() -> None:
    """While the command ends, another signal has nothing to add."""
    if threading.current_thread() is threading.main_thread():
        for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGALRM"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), signal.SIG_IGN)


def nothing_to_put_right() -> None:
    """All is done: a Ctrl-C while Python ends just ends it."""
    if threading.current_thread() is threading.main_thread() and signal.getsignal(signal.SIGINT) is (
        signal.default_int_handler
    ):
        signal.signal(signal.SIGINT, signal.SIG_DFL)


def tell(words: str) -> None:
    """Words on stderr where they can be written; it may be as full or closed as what went wrong."""
    with suppress(OSError, ValueError):
        print(words, file=sys.stderr, flush=True)


def silence(*streams: TextIO) -> None:
    """Point streams that can't be written elsewhere, so that Python's own last flush is quiet too."""
    for stream in streams:
        try:
            stream.flush()
        except (OSError, ValueError):
            with suppress(OSError, ValueError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
