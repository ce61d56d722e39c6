"""An installed contactread has every room and every file that a checkout has."""

from __future__ import annotations

import tomllib
from fnmatch import fnmatch
from pathlib import Path

ROOT = Path(__file__).parents[1]
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]


def test_every_package_is_listed() -> None:
    found = {
        ".".join(path.parent.relative_to(ROOT).parts) for path in ROOT.glob("contactread/**/__init__.py")
    }
    assert set(SETTINGS["packages"]) == found | {"contactread.shared"}


def test_every_data_file_is_listed() -> None:
    wanted = [p.rpartition("/")[2] for patterns in SETTINGS["package-data"].values() for p in patterns]
    for folder in ("contactread", "shared"):
        for path in (ROOT / folder).rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts and path.suffix not in (".py", ".md"):
                assert any(fnmatch(path.name, pattern) for pattern in wanted), (
                    f"{path} would not be installed"
                )


def test_pages_that_a_command_reads_are_listed() -> None:
    for page in ("contactread/handbook/errors.md", "contactread/records/SCHEMA.md"):
        assert (ROOT / page).is_file()
        package, _, name = page.replace("/", ".", 1).rpartition("/")
        assert name in SETTINGS["package-data"][package], f"{page} would not be installed"
