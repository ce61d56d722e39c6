"""The LLVM library that mitsuba's CPU backend compiles with, chosen on purpose.

Not every version will do: 15 ends the whole process at a real kernel on processors with AVX-512 ("Cannot
select ... fminimum"), though simple sums pass. So each is tried in a process of its own, newest first.
`python -m calibration.render.llvm` prints the one chosen.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

VARIABLE = "DRJIT_LIBLLVM_PATH"  # where mitsuba's compiler looks first
ROOT = Path(__file__).parents[2]
PLACES = (
    "/usr/lib/*-linux-gnu/libLLVM*.so*",
    "/usr/lib64/libLLVM*.so*",
    "/usr/lib/libLLVM*.so*",
    "/usr/lib/llvm*/lib/libLLVM*.so*",
    "/opt/homebrew/opt/llvm*/lib/libLLVM*.dylib",
    "/usr/local/opt/llvm*/lib/libLLVM*.dylib",
    "C:/Program Files/LLVM/bin/LLVM-C.dll",
)
PROBE_S = 120.0


def choose_llvm() -> str:
    """Point mitsuba at the newest library that traces a scene here; its path. A choice already made in the
    environment stays. Raises RuntimeError, saying what is missing, where none will do."""
    chosen = os.environ.get(VARIABLE)
    if chosen:
        return chosen
    found = libraries()
    if not found:
        raise RuntimeError("no LLVM library is installed here (Debian: libllvm19)")
    failed = []
    for library in found:
        trouble = trouble_with(library)
        if trouble is None:
            os.environ[VARIABLE] = str(library)
            return str(library)
        failed.append(f"{library.name}: {trouble}")
    raise RuntimeError("no LLVM library here traces a scene (Debian: libllvm19). " + "; ".join(failed))


def libraries(places: tuple[str, ...] = PLACES) -> list[Path]:
    """LLVM libraries of this machine, newest first, each once."""
    found: dict[Path, Path] = {}
    for place in places:
        start = Path(place).anchor
        for path in sorted(Path(start).glob(place[len(start) :])) if Path(start).is_dir() else []:
            if re.fullmatch(r"(lib)?LLVM(-C)?([-.][0-9.]+)?\.(so|dylib|dll)([0-9.]*)", path.name):
                found.setdefault(path.resolve(), path)
    return sorted(found, key=lambda path: (version_of(path), path.name), reverse=True)


def version_of(library: Path) -> tuple[int, ...]:
    """Version in the name of a library's file: libLLVM.so.19.1 is (19, 1), libLLVM-15.so.1 is (15, 1)."""
    return tuple(int(number) for number in re.findall(r"\d+", library.name))


def trouble_with(library: Path) -> str | None:
    """What goes wrong when a scene is traced with this library; None if nothing does. An unsuitable library
    ends its process, so another process tries it."""
    command = [sys.executable, "-m", "calibration.render.probe"]
    environment = {**os.environ, VARIABLE: str(library)}
    try:
        done = subprocess.run(
            command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=PROBE_S, check=False
        )
    except subprocess.TimeoutExpired:
        return f"took more than {PROBE_S:.0f} s"
    if done.returncode == 0:
        return None
    lines = [line for line in (done.stderr + done.stdout).splitlines() if line.strip()]
    reason = next((line for line in lines if "LLVM ERROR" in line), lines[-1] if lines else "")
    return reason.strip()[:200] or f"ended with {done.returncode}"


def main() -> int:
    try:
        print(choose_llvm())
    except RuntimeError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
