"""What holds for every test: nobody's own settings are read or changed, nor sums that are kept."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from contactread.units import show_in


@pytest.fixture(autouse=True)
def own_settings(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A place for settings that is empty at first; units as unset."""
    place = tmp_path_factory.getbasetemp() / "no-settings" / "settings.toml"
    monkeypatch.setenv("CONTACTREAD_SETTINGS", str(place))
    monkeypatch.setenv("CONTACTREAD_CACHE", str(Path(__file__) / "nowhere"))
    yield place
    place.unlink(missing_ok=True)
    show_in("both")
