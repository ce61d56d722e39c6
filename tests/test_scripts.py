"""The README's commands exist, and continuous integration runs what the README says."""

from __future__ import annotations

import os
import re
import subprocess
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
