"""Odd streams, places and signals, each with a real process: a clear end, no traceback, sound JSON.

    python -m calibration.fuzz.streams [--only WORDS]

Prints a line for each and ends with an error where one goes wrong. A command that is ended by a signal must
be gone within 6 seconds (half of one on a free machine), leave a sound book, and nothing in the temp folder.
POSIX only; needs bash.
"""

from __future__ import annotations

import argparse
import os
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from calibration.fuzz.console import Broken, judged

SET_UP = Path(__file__).parents[2] / "sample_images" / "ash_good"
ENDS_WITHIN_S = 6.0
STOPPED = 130
RUN = f"{shlex.quote(sys.executable)} -m contactread.cli.main"
_READ = "read drive.jpg coast.jpg --axle axle.toml --backlash '0.18 mm' --no-pictures"
_PREDICT = "predict axle.toml --ring '0.1 mm' --json"


@dataclass(frozen=True)
class Odd:
    """One odd way to run a command. shell: for bash; $C is contactread. ends: exit statuses that are right.
    code: of the error that must come; "" for any or none. env: changed, None takes away. signal: sent after
    so many seconds.
    """

    name: str
    shell: str
    ends: tuple[int, ...] = (0,)
    code: str = ""
    env: dict[str, str | None] = field(default_factory=dict)
    signal: signal.Signals | None = None
    after_s: float = 0.0


def streams() -> Iterator[Odd]:
    """Closed, full and narrow streams."""
    latin: dict[str, str | None] = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    for what, words in (("flags", "flags --json"), ("predict", _PREDICT), ("settings", "settings --json")):
        yield Odd(f"{what}, stdout closed", f"$C {words} >&-", (1,), "output-closed")
        yield Odd(f"{what}, stderr closed", f"$C {words} 2>&-")
        yield Odd(f"{what}, stdout full", f"$C {words} >/dev/full", (1,), "output-failed")
        yield Odd(f"{what}, stderr full", f"$C {words} 2>/dev/full")
        yield Odd(f"{what}, reader leaves", f"$C {words} | head -c 10 >/dev/null; exit ${{PIPESTATUS[0]}}")
        yield Odd(f"{what}, in ASCII", f"$C {words}", env={"PYTHONIOENCODING": "ascii"})
        yield Odd(f"{what}, locale C", f"$C {words}", env=latin)
    yield Odd("all closed", "$C flags --json <&- >&- 2>&-", (1,))
    yield Odd("stdin closed", f"$C {_READ} --json <&-")
    yield Odd("stdin and stderr closed", f"$C {_READ} --json <&- 2>&-")
    yield Odd("both full", "$C flags >/dev/full 2>/dev/full", (1,))
    yield Odd("help, full", "$C --help >/dev/full", (1,), "output-failed")
    yield Odd("usage, all full", "$C nothing >/dev/full 2>/dev/full", (2,))
    yield Odd("read, narrow", f"$C {_READ}", env={"COLUMNS": "1", "LINES": "1"})
    yield Odd("read, no size", f"$C {_READ}", env={"COLUMNS": "0", "LINES": "-5", "TERM": None})
    yield Odd("error in ASCII", "$C axle show 'nicht-für-Ä.toml'", (1,), "axle-missing", latin)
    for name in (r"\x1b]0;x\x07.jpg", r"\u202egpj.exe.jpg", r"a\nb.jpg", r"\xff\xfe.jpg", r"\u2028.jpg"):
        for how in ("", " --json"):
            shell = f'f=$\'{name}\'; cp notes.txt "$f"; $C read "$f" --no-pictures{how}'
            yield Odd(f"name {name}{how}", shell, (3,))


def places() -> Iterator[Odd]:
    """Odd places, names and limits."""
    homeless: dict[str, str | None] = {
        "HOME": None, "XDG_DATA_HOME": None, "XDG_CONFIG_HOME": None, "CONTACTREAD_BOOK": None,
        "CONTACTREAD_SETTINGS": None,
    }  # fmt: skip
    yield Odd("no HOME", f"$C {_READ} --json", env=homeless)
    yield Odd("HOME isn't there", "$C settings --json", env=homeless | {"HOME": "/nonexistent"})
    yield Odd("the folder is gone", "mkdir d; cd d; rmdir ../d; $C flags --json")
    yield Odd("the folder is gone, read", "mkdir d; cd d; rmdir ../d; $C read x.jpg --json", (3, 1))
    yield Odd("temp folder isn't there", f"$C {_READ} --json", env={"TMPDIR": "/nonexistent"})
    yield Odd("book path isn't UTF-8", "$C job list --json --book $'b\\xff.sqlite'", (0, 1))
    opened = "job open U --who Ana --axle axle.toml --json"
    yield Odd("book path isn't UTF-8, written", f"$C {opened} --book $'b\\xff.sqlite'", (0, 1))
    yield Odd("clip isn't UTF-8", "cp drive.jpg $'c\\xff.mp4'; $C read $'c\\xff.mp4' --json", (3,))
    yield Odd(
        "clip is a list", "printf '#EXTM3U\\nfile:///etc/passwd\\n' > c.mp4; $C read c.mp4 --json", (3,)
    )
    moved = f"$C {opened} --book $'b\\xff.sqlite' >&2 && $C export $'o\\xff' --book $'b\\xff.sqlite' >&2"
    yield Odd("bundle isn't UTF-8", f"{moved} && $C import $'o\\xff' --book $'n\\xff.sqlite' --json")
    yield Odd("restored from a pipe", "mkfifo p; $C restore p --json", (1,), "restore-nothing")
    blocked = "printf 'import socket\\nsocket.socket.connect = None\\n' > sitecustomize.py"
    yield Odd("sockets blocked", f"{blocked}; PYTHONPATH=$PWD:$PYTHONPATH $C {_READ} --json")
    yield Odd("book is a pipe", f"mkfifo p; $C {opened} --book p", (1, 5))
    yield Odd("book is a device", f"$C {opened} --book /dev/full", (1, 5))
    yield Odd("settings are a device", "$C job list --json", (1,), env={"CONTACTREAD_SETTINGS": "/dev/zero"})
    for kind in ("--axle", "--corners"):
        for file in ("/dev/zero", "pipe", "."):
            yield Odd(f"{kind} {file}", f"mkfifo pipe; $C read drive.jpg {kind} {file} --json", (1, 3))
    yield Odd("reading /dev/zero", "$C predict axle.toml --ring '0.1 mm' --reading /dev/zero --json", (1,))
    yield Odd("python -O", f"{shlex.quote(sys.executable)} -O -m contactread.cli.main {_READ} --json")
    yield Odd("one core", f"taskset -c 0 $C {_READ} --json")
    yield Odd("1 GB of addresses", f"ulimit -v 1000000; $C {_READ} --json")
    yield Odd("60 open files", f"ulimit -n 60; $C {_READ} --json")


def signals() -> Iterator[Odd]:
    """Signals at odd moments."""
    review = "review photos --who Ana --axle axle.toml --yes"
    whole = {
        "review": f"exec $C {review}",
        "read": f"exec $C {_READ}",
        "predict": f"exec $C {_PREDICT}",
        "serve": "exec $C serve",
        "practice": "exec $C practice learn --who Bo < <(sleep 60)",
    }
    for number in (signal.SIGINT, signal.SIGTERM):
        for what, shell in whole.items():
            for after in (0.4, 1.2, 3.0) if what == "review" else (0.5, 1.5):
                yield Odd(
                    f"{number.name} in {what} after {after} s", shell, (0, 3, STOPPED), "", {}, number, after
                )
    yield Odd("SIGHUP in review", whole["review"], (0, 3, STOPPED), "", {}, signal.SIGHUP, 1.5)


def tried(odd: Odd) -> str:
    """Run one; how it ended. Raises Broken."""
    with tempfile.TemporaryDirectory() as place:
        folder, temp = Path(place, "work"), Path(place, "temp")
        temp.mkdir()
        _furnish(folder)
        env: dict[str, str] = {**os.environ, "TMPDIR": str(temp), "PYTHONPATH": str(Path.cwd())}
        env |= {"CONTACTREAD_BOOK": str(folder / "b.sqlite"), "CONTACTREAD_SETTINGS": str(folder / "s.toml")}
        changed = {**env, **odd.env}
        process = subprocess.Popen(
            ["bash", "-c", odd.shell.replace("$C ", f"{RUN} ")], cwd=folder,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            env={k: v for k, v in changed.items() if v is not None},
            start_new_session=True, preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )  # fmt: skip
        took = _signalled(process, odd)
        out, err = (data.decode("utf-8", "replace") for data in process.communicate(timeout=60))
        return _ended(odd, process.returncode, out, err, took, folder, temp)


def _furnish(folder: Path) -> None:
    (folder / "photos").mkdir(parents=True)
    for name in ("drive.jpg", "coast.jpg", "axle.toml"):
        shutil.copy(SET_UP / name, folder)
    (folder / "notes.txt").write_text("no photo\n", encoding="ascii")
    for number, photo in enumerate(sorted(SET_UP.parent.glob("*/*.jpg"))[:8]):
        shutil.copy(photo, folder / "photos" / f"{number}.jpg")


def _signalled(process: subprocess.Popen[bytes], odd: Odd) -> float:
    """Send the signal as a terminal does, to all that runs there; the seconds until the command ended."""
    if odd.signal is None:
        return 0.0
    time.sleep(odd.after_s)
    began = time.monotonic()
    if process.poll() is None:
        if odd.signal == signal.SIGINT:
            os.killpg(process.pid, odd.signal)
        else:
            process.send_signal(odd.signal)
    try:
        process.wait(20)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
    return time.monotonic() - began


def _ended(odd: Odd, status: int, out: str, err: str, took: float, folder: Path, temp: Path) -> str:
    arguments = ["--json"] if "--json" in odd.shell else ["any"]
    if odd.signal and status == -odd.signal and not err:
        return "ended before it began, or once it had"
    quiet = status == STOPPED or odd.code.startswith("output-") or "|" in odd.shell or ">&-" in odd.shell
    if status not in odd.ends:
        raise Broken(f"exit status {status}: {err[-300:]!a}")
    if odd.code and odd.code.startswith("output-") and f"[{odd.code}]" not in err:
        raise Broken(f"not told: {err[-300:]!a}")
    if "Traceback" in err or "Exception ignored" in err:
        raise Broken(ascii(err[-600:]))
    if not quiet and not (odd.signal or "/dev/full" in odd.shell):
        code = judged(arguments, status, out, err)
        if odd.code not in ("", code):
            raise Broken(f"{code}, not {odd.code}")
    if took > ENDS_WITHIN_S:
        raise Broken(f"ended after {took:.1f} s")
    left = sorted(path.name for path in temp.iterdir())
    left += [path.name for path in folder.rglob("*") if "unfinished" in path.name]
    if left:
        raise Broken(f"left behind: {left}")
    if odd.signal and (folder / "b.sqlite").exists():
        for words in ("job open U --who Ana --axle axle.toml", "check"):  # the next write, then all of it
            command = [*shlex.split(RUN), *words.split(), "--book", str(folder / "b.sqlite")]
            check = subprocess.run(command, cwd=folder, capture_output=True, text=True)
            if check.returncode:
                raise Broken(f"the book isn't sound: {check.stdout[-300:]}{check.stderr[-300:]}")
    return f"ended with {status}" + (f" within {took:.1f} s" if odd.signal else "")


def main() -> int:
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=raw)
    parser.add_argument("--only", default="", help="those whose name has these words")
    asked = parser.parse_args()
    chosen = [odd for odd in (*streams(), *places(), *signals()) if asked.only in odd.name]
    wrong = 0
    for odd in chosen:
        try:
            words = tried(odd)
        except Broken as error:
            words, wrong = f"WRONG: {error}", wrong + 1
        print(f"{odd.name!a:45} {words}", flush=True)
    print(f"{len(chosen)} odd streams, places and signals, {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
