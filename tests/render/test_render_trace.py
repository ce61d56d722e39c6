"""What the tracer must do, in a process of its own: one that an unsuitable LLVM can end."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from calibration.render import llvm

CHECKS = Path(__file__).with_name("trace_checks.py")
NAMES = [
    part.name
    for part in ast.parse(CHECKS.read_text(encoding="utf-8")).body
    if isinstance(part, ast.FunctionDef) and part.name.startswith("test_")
]


@pytest.fixture(scope="module")
def checked() -> str:
    """What pytest says about the checks. Skips only where this machine has nothing to trace with."""
    mitsuba = [sys.executable, "-c", "import mitsuba"]
    loaded = subprocess.run(mitsuba, capture_output=True, text=True, timeout=100, check=False)
    if loaded.returncode:
        missing = re.findall(r"(?:ImportError|ModuleNotFoundError): (.*)", loaded.stderr) or [loaded.stderr]
        pytest.skip(f"mitsuba (extra 'render') can't be loaded: {missing[0]}")
    try:
        library = llvm.choose_llvm()
    except RuntimeError as error:
        pytest.skip(str(error))
    command = [sys.executable, "-m", "pytest", "-rA", "-p", "no:cacheprovider", str(CHECKS)]
    done = subprocess.run(
        command, capture_output=True, text=True, timeout=110, check=False,
        env={**os.environ, llvm.VARIABLE: library, "PYTEST_ADDOPTS": ""},
    )  # fmt: skip
    return done.stdout + done.stderr


@pytest.mark.parametrize("name", NAMES)
def test_traced(checked: str, name: str) -> None:
    outcomes = re.findall(rf"^(PASSED|FAILED|ERROR|SKIPPED) \S*::{name}\b", checked, re.MULTILINE)
    assert outcomes and set(outcomes) == {"PASSED"}, checked[-6000:]


def test_newest_library_is_tried_first(tmp_path: Path) -> None:
    for name in ("libLLVM-15.so.1", "libLLVM.so.19.1", "libLLVM-9.so.1", "libLLVMCore.a", "libLLVMCore.so"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "libLLVM-19.so").symlink_to("libLLVM.so.19.1")
    found = llvm.libraries((f"{tmp_path}/libLLVM*",))
    assert [llvm.version_of(path.resolve())[0] for path in found] == [19, 15, 9]


def test_a_library_that_ends_its_process_is_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With nothing but useless libraries: a reason in words, and no end of this process."""
    (tmp_path / "libLLVM-15.so.1").write_bytes(b"not a library")
    monkeypatch.delenv(llvm.VARIABLE, raising=False)
    monkeypatch.setattr(llvm, "libraries", lambda: [tmp_path / "libLLVM-15.so.1"])
    with pytest.raises(RuntimeError, match=r"no LLVM library here traces a scene .*libLLVM-15\.so\.1: "):
        llvm.choose_llvm()
    monkeypatch.setattr(llvm, "libraries", lambda: [])
    with pytest.raises(RuntimeError, match="no LLVM library is installed"):
        llvm.choose_llvm()
