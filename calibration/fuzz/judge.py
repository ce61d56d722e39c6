"""Judging one hostile case after the other in a process of its own, which may crash, hang or swell."""

from __future__ import annotations

import multiprocessing
import re
import signal
import time
import traceback
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

SLOWEST_S, MOST_MB = 10.0, 1000.0
_HUNG_S = 60.0  # after which the process is ended
_FAULTS = frozenset({"fault", "out-of-memory", "died", "hung"})
Work = Callable[[Any], str]


@dataclass(frozen=True)
class Verdict:
    """How one case ended. code: "read", "done" or the code of the refusal. mb: the process at its largest."""

    code: str
    seconds: float
    mb: float
    detail: str = ""

    @property
    def wrong(self) -> str:
        """What is wrong with it; "" where nothing is."""
        if self.code in _FAULTS:
            return f"{self.code}: {self.detail}"
        if self.seconds > SLOWEST_S:
            return f"{self.code} after {self.seconds:.1f} s"
        return f"{self.code} with {self.mb:.0f} MB" if self.mb > MOST_MB else ""


@dataclass
class Tally:
    """What came of many cases. wrong: one line for each that is a fault of ours."""

    codes: Counter[str] = field(default_factory=Counter)
    slowest: float = 0.0
    largest: float = 0.0
    wrong: list[str] = field(default_factory=list)

    def add(self, name: str, verdict: Verdict) -> None:
        self.codes[verdict.code] += 1
        self.slowest, self.largest = max(self.slowest, verdict.seconds), max(self.largest, verdict.mb)
        if verdict.wrong:
            self.wrong.append(f"{name}: {verdict.wrong}")

    def table(self, what: str) -> str:
        """The figures in words."""
        count = sum(self.codes.values())
        lines = [f"{times:7}  {code}" for code, times in self.codes.most_common()]
        lines += [
            f"{count} {what}, {len(self.wrong)} wrong; slowest {self.slowest:.1f} s"
            f" (at most {SLOWEST_S:.0f}), largest {self.largest:.0f} MB (at most {MOST_MB:.0f})",
            *self.wrong[:20],
        ]
        return "\n".join(lines)


class Judge:
    """Calls `work` on cases in another process; one that crashes or hangs is replaced."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self._begin()

    def _begin(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipe, other = context.Pipe()
        self._process = context.Process(target=_serve, args=(self._work, other), daemon=True)
        self._process.start()
        other.close()

    def __call__(self, case: Any) -> Verdict:
        began = time.monotonic()
        ended = "hung"
        try:
            self._pipe.send(case)
            if self._pipe.poll(_HUNG_S):
                verdict: Verdict = self._pipe.recv()
                return verdict
        except (EOFError, OSError):
            ended = "died"
        self.close()
        self._begin()
        return Verdict(ended, time.monotonic() - began, 0.0, f"exit status {self._process.exitcode}")

    def close(self) -> None:
        self._process.kill()
        self._process.join()
        self._pipe.close()


def _serve(work: Work, pipe: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    while True:
        try:
            case = pipe.recv()
        except EOFError:
            return
        with suppress(OSError):
            Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # the peak begins anew
        began, detail = time.monotonic(), ""
        try:
            code = work(case)
        except BaseException as error:
            code, detail = "fault", f"{error!r} at {_place(error)}"
        pipe.send(Verdict(code, time.monotonic() - began, _peak_mb(), detail))


def _place(error: BaseException) -> str:
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "contactread" in f.filename]
    return " < ".join(f"{Path(f.filename).name}:{f.lineno}" for f in reversed(frames[-4:]))


def _peak_mb() -> float:
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii")
    except OSError:
        return 0.0
    found = re.search(r"VmHWM:\s+(\d+)", status)
    return int(found[1]) / 1024 if found else 0.0
