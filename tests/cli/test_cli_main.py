"""The entry point: quick, lazy, and one shape for every error."""

from __future__ import annotations

import inspect
import json
import os
import shlex
import signal
import subprocess
import sys
import time
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

from contactread.cli import main as entry
from contactread.errors import ContactreadError, DamagedBookError

COMMANDS = [command for group in entry.COMMANDS.values() for command in group]
HEAVY = {"numpy", "cv2", "skimage", "scipy", "rich", "typer", "jinja2", "sqlite3"}


def python(*arguments: str) -> list[str]:
    return [sys.executable, *arguments]


def best_time(command: list[str], rounds: int = 5) -> float:
    """The shortest wall time of a whole process, in seconds."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        times.append(time.perf_counter() - start)
    return min(times)


def test_help_imports_nothing_heavy() -> None:
    script = "import sys, contactread.cli.main as m; m.main(['--help']); print(*sys.modules, sep='\\n')"
    out = subprocess.run(python("-c", script), check=True, capture_output=True, text=True).stdout
    loaded = {name.split(".")[0] for name in out.splitlines()}
    assert "contactread" in loaded
    assert not loaded & HEAVY


def test_help_is_quick(capsys: pytest.CaptureFixture[str]) -> None:
    ours = best_time(python("-m", "contactread.cli.main", "--help"))
    bare = best_time(python("-c", "pass"))
    with capsys.disabled():
        print(
            f"\ncontactread --help {ours * 1e3:.0f} ms, {ours / bare:.1f} x bare Python ({bare * 1e3:.0f} ms)"
        )
    # The promise is 150 ms; a busy machine slows bare Python as much, so the bar moves with it.
    assert ours < max(0.15, 6 * bare)


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert entry.main(["--help"]) == 0
    out = capsys.readouterr().out
    for command in COMMANDS:
        assert f"  {command.name} " in out
        assert command.help in out
        assert command.help.endswith(".")


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: c.name)
def test_every_command_has_help(command: entry.Command, capsys: pytest.CaptureFixture[str]) -> None:
    target = getattr(import_module(f"contactread.cli.{command.module}"), command.attribute)
    if inspect.isfunction(target):
        assert inspect.getdoc(target)
    assert entry.main([command.name, "--help"]) == 0
    out = capsys.readouterr().out
    assert f"contactread {command.name}" in out
    assert "\x1b" not in out


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert entry.main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("contactread ")


def fails_with(error: BaseException, monkeypatch: pytest.MonkeyPatch) -> None:
    def raise_it(arguments: list[str], as_json: bool) -> int:
        raise error

    monkeypatch.setattr(entry, "_dispatch", raise_it)


@pytest.mark.parametrize(
    ("error", "code", "exit_code"),
    [
        (ContactreadError("some-code", "What and why.", "Next step."), "some-code", 1),
        (DamagedBookError("book-damaged", "What and why.", "Next step."), "book-damaged", 5),
        (PermissionError(13, "Permission denied", "x.jpg"), "system", 1),
        (MemoryError(), "out-of-memory", 1),
        (ZeroDivisionError("oops"), "fault", 1),
    ],
)
def test_errors_reach_people_and_programs(
    error: Exception,
    code: str,
    exit_code: int,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    fails_with(error, monkeypatch)
    assert entry.main([]) == exit_code
    seen = capsys.readouterr()
    assert seen.out == ""
    assert seen.err.splitlines()[-1] == f"[{code}]"
    assert len(seen.err.splitlines()) == 3

    assert entry.main(["--json"]) == exit_code
    seen = capsys.readouterr()
    assert seen.err == ""
    shown = json.loads(seen.out)["error"]
    assert shown["code"] == code
    assert set(shown) == {"code", "message", "next_step"}


def test_control_characters_do_not_reach_the_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    fails_with(ContactreadError("x", "The file \x1b[2J\u202egnp.jpg is bad.", "Rename it."), monkeypatch)
    entry.main([])
    err = capsys.readouterr().err
    assert "\x1b" not in err
    assert "\u202e" not in err
    assert "\\x1b[2J\\u202egnp.jpg" in err


def test_stop_is_130(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    fails_with(KeyboardInterrupt(), monkeypatch)
    assert entry.main([]) == 130
    assert capsys.readouterr().err == "Stopped.\n"


@pytest.mark.skipif(os.name == "nt", reason="signals differ on Windows")
@pytest.mark.parametrize("when", ["imports", "ends"])
def test_a_stop_while_python_imports_or_ends_leaves_quietly(when: str) -> None:
    """Before the command line is there, and after all was said."""
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    home, name = project["project"]["scripts"]["contactread"].split(":")
    script = f"""
import atexit, os, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
from {home} import {name}

class Stops:
    def find_spec(self, name, *_):
        if name == "contactread.cli.main":
            os.kill(os.getpid(), signal.SIGINT)

if "{when}" == "imports":
    sys.meta_path.insert(0, Stops())
else:
    atexit.register(os.kill, os.getpid(), signal.SIGINT)
sys.argv[1:] = ["--version"]
sys.exit({name}())
"""
    done = subprocess.run(python("-c", script), capture_output=True, text=True, timeout=30)
    told = (130, "Stopped.\n") if when == "imports" else (-signal.SIGINT, "")
    assert (done.returncode, done.stderr) == told


_HEARD = "threading.Timer(0.1, os.kill, (os.getpid(), signal.SIGINT)).start()"
_DROPPED = """def gone(ref):
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.1)
    held = set()
    ref = weakref.ref(held, gone)
    del held"""


@pytest.mark.skipif(os.name == "nt", reason="signals differ on Windows")
@pytest.mark.parametrize("stop", [_HEARD, _DROPPED], ids=["heard", "where Python drops it"])
def test_a_stopped_command_leaves_quietly(stop: str) -> None:
    """A real Ctrl-C while a command runs; also where Python lets go of something and drops what is raised."""
    script = f"""
import os, signal, sys, threading, time, weakref
import contactread.axle_file as axle_file
from contactread.cli.main import main

signal.signal(signal.SIGINT, signal.default_int_handler)  # what runs in the background ignores it

def wait(path):
    {stop}
    threading.Event().wait(20)

axle_file.load_axle = wait
sys.argv[1:] = ["axle", "show", "x.toml"]
sys.exit(main())
"""
    done = subprocess.run(python("-c", script), capture_output=True, text=True, timeout=30)
    assert done.returncode == 130
    assert done.stderr == "Stopped.\n"
    assert done.stdout == ""


def test_unknown_command_is_a_usage_error(capsys: pytest.CaptureFixture[str]) -> None:
    assert entry.main(["no-such-thing"]) == 2
    assert "no-such-thing" in capsys.readouterr().err


def test_usage_errors_point_to_the_command_that_was_meant(capsys: pytest.CaptureFixture[str]) -> None:
    assert entry.main(["sums", "ratio", "41", "11"]) == 2
    assert "See: contactread sums ratio --help" in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="pipes break differently on Windows")
def test_broken_pipe_is_quiet() -> None:
    command = f"{shlex.quote(sys.executable)} -m contactread.cli.main --help"
    done = subprocess.run(["sh", "-c", f"{command} | :"], capture_output=True, text=True)
    assert done.stderr == ""


def test_cautions_and_flags_are_printed_in_full(capsys: pytest.CaptureFixture[str]) -> None:
    from contactread.facts import facts
    from contactread.flags import FLAGS

    assert entry.main(["cautions"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    for caution in facts("cautions").values():
        assert caution["full"] in out
        assert all(source in out for source in caution["sources"])
    assert entry.main(["cautions", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["cautions"]) == len(facts("cautions"))

    assert entry.main(["flags"]) == 0
    out = capsys.readouterr().out
    for flag in FLAGS:
        assert flag.code in out
        assert flag.meaning in out
        assert flag.next_step in out
    assert entry.main(["flags", "--json"]) == 0
    assert [flag["code"] for flag in json.loads(capsys.readouterr().out)["flags"]] == [f.code for f in FLAGS]


def test_words_that_are_no_text_are_refused_and_nothing_is_left(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Bytes of another encoding reach a program as half characters, which no file can hold."""
    monkeypatch.setenv("CONTACTREAD_SETTINGS", str(tmp_path / "settings.toml"))
    assert entry.main(["settings", "person", "J\udcfcrgen"]) == 1
    assert "[words-unreadable]" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
