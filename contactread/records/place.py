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


def own_folder(folder: Path) -> None:
    """Make a folder that only its owner may enter; one that exists stays as its owner set it."""
    if not folder.is_dir():
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)


def sync_folder(folder: Path) -> None:
    """Make a rename inside `folder` durable, where the system allows syncing folders."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
