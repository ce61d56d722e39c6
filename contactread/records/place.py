"""Where the shop book lies, and what lies beside it."""

from __future__ import annotations

import os
from pathlib import Path

VARIABLE = "CONTACTREAD_BOOK"


def default_place() -> Path:
    """The book's file where nobody says otherwise: the environment variable, else the user's data folder."""
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named).expanduser()
    import platformdirs

    return Path(platformdirs.user_data_dir("contactread", appauthor=False)) / "shop-book.sqlite"


def photo_folder(book: Path) -> Path:
    """The folder of original photos that belongs to a book."""
    return book.with_name(f"{book.stem}-photos")


def backup_folder(book: Path) -> Path:
    """The folder of backups that belongs to a book."""
    return book.with_name(f"{book.stem}-backups")
