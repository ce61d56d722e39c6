"""The facts of `shared/`: read once from the files that travel with the package."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

_HERE = Path(__file__).parent
# An installed package carries the folder inside itself; a checkout has it beside the package.
FOLDER = _HERE / "shared" if (_HERE / "shared").is_dir() else _HERE.parent / "shared"


@cache
def facts(name: str) -> dict[str, Any]:
    """The contents of ``shared/<name>.toml``; each entry carries the id of its source.

    Do not change what is returned: it is the same object for every caller.
    """
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
