"""The README's commands exist, and continuous integration runs what the README says."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
MAIN_JOB, TESTS = "sample_images/try", "tests/run"
SCRIPTS = [
    ROOT / MAIN_JOB,
    ROOT / TESTS,
    *sorted(path for path in (ROOT / ".ci").iterdir() if path.is_file()),
]


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_scripts_can_be_run(script: Path) -> None:
    assert os.access(script, os.X_OK)
    subprocess.run(["sh", "-n", str(script)], check=True)
    assert script.read_text(encoding="utf-8").splitlines()[1].startswith("# ")


def test_first_two_commands_of_the_readme_are_scripts() -> None:
    blocks = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    assert [block.strip() for block in blocks[:2]] == [MAIN_JOB, TESTS]
    assert f"\n{TESTS}\n" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_common_ci_services_run_the_same_on_every_python_that_is_supported() -> None:
    workflow = (ROOT / ".github" / "workflows" / "checks.yml").read_text(encoding="utf-8")
    assert "- run: .ci/run\n" in workflow
    supported = re.findall(r"Python :: (3\.\d+)", (ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert re.findall(r'"(3\.\d+)"', workflow) == supported
    assert ", ".join(supported[:-1]) + f" or {supported[-1]}" in README


def checkout(folder: Path, types: str, tests: str) -> Path:
    """A folder with tests/run and, in place of what it runs, scripts of these words."""
    scripts = {"setup": "", "packages": "", "lint": "", "types": types, "test": tests}
    for path, words in {f".ci/{name}": words for name, words in scripts.items()}.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(f"#!/bin/sh\n{words}\n", encoding="utf-8")
        (folder / path).chmod(0o755)
    (folder / ".venv/bin").mkdir(parents=True)
    (folder / ".venv/bin/python").symlink_to(folder / ".ci/setup")
    (folder / "tests").mkdir()
    (folder / "tmp").mkdir()
    return Path(shutil.copy(ROOT / TESTS, folder / TESTS))


@pytest.mark.parametrize(
    ("types", "tests"), [("exit 0", "exit 0"), ("exit 1", "exit 0"), ("exit 0", "exit 1")]
)
def test_the_tests_fail_where_types_or_tests_do(tmp_path: Path, types: str, tests: str) -> None:
    run = checkout(tmp_path / "with a space", f"echo what types say; {types}", tests)
    done = subprocess.run([run], capture_output=True, text=True)
    assert done.returncode == int("exit 1" in (types, tests)), done
    assert done.stdout.endswith("what types say\n")


def test_ctrl_c_ends_what_runs_beside_the_tests(tmp_path: Path) -> None:
    # Nothing here is a shell that starts something when a signal comes: dash hears it late then.
    program = (
        "from signal import *; pthread_sigmask(SIG_BLOCK, [SIGTERM]); "
        "open('begun', 'w'); sigwait([SIGTERM]); open('ended', 'w')"
    )
    types = f'exec {shlex.quote(sys.executable)} -c "{program}"'
    run = checkout(tmp_path, types, "while ! [ -e begun ]; do sleep 0.1; done; echo >ready; exec sleep 20")
    running = subprocess.Popen(
        [run], env=os.environ | {"TMPDIR": str(tmp_path / "tmp")}, process_group=0,
        preexec_fn=partial(signal.signal, signal.SIGINT, signal.SIG_DFL),  # ignored where tests run beside
    )  # fmt: skip

    def comes(path: Path) -> bool:
        until = time.monotonic() + 20
        while not path.exists() and time.monotonic() < until:
            time.sleep(0.05)
        return path.exists()

    try:
        assert comes(tmp_path / "ready")
        os.killpg(running.pid, signal.SIGINT)
        assert running.wait(20) == 130
        assert comes(tmp_path / "ended")
        assert not list((tmp_path / "tmp").iterdir())
    finally:
        if not (tmp_path / "ended").exists():
            os.killpg(running.pid, signal.SIGKILL)
