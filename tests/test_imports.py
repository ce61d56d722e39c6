"""The one-way import rule: a room never imports a higher one, and the domain stays free of front ends."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "contactread"

# Lower rooms first; a room may import those before it, and itself.
ORDER = (
    "errors", "outside", "arrays", "units", "plausible", "settings", "flags", "facts", "axle",
    "gear_classes", "patch", "axle_file", "photo", "flank", "pattern", "mesh", "reading", "views", "belief",
    "advice", "records", "show", "practice", "handbook", "web", "cli",
)  # fmt: skip
DOMAIN = {"axle", "patch", "photo", "flank", "pattern", "mesh", "reading", "views", "belief", "advice"}
FRONT_ENDS = {"typer", "rich", "sqlite3", "jinja2", "starlette"}


def imports_of(path: Path) -> set[str]:
    """Every module that a file imports, at whatever depth of the file."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
            if node.module == "contactread":
                names.update(f"contactread.{a.name}" for a in node.names if a.name != "__version__")
    return names


def room_of(path: Path) -> str:
    relative = path.relative_to(PACKAGE)
    return relative.parts[0] if len(relative.parts) > 1 else relative.stem


FILES = [p for p in sorted(PACKAGE.rglob("*.py")) if room_of(p) not in ("__init__", "__main__")]


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_one_way(path: Path) -> None:
    room = room_of(path)
    assert room in ORDER, f"{room} has no place in the order of rooms"
    for name in imports_of(path):
        parts = name.split(".")
        assert parts[0] != "calibration", (
            f"{path.name} imports {name}: what serves training stays out of the wheel"
        )
        if parts[0] == "contactread" and len(parts) > 1:
            assert parts[1] in ORDER, f"{path.name} imports {name}"
            assert ORDER.index(parts[1]) <= ORDER.index(room), f"{path.name} imports upward: {name}"
        if room in DOMAIN:
            assert parts[0] not in FRONT_ENDS, f"{path.name} is domain and imports {name}"
