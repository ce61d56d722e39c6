"""Settings: kept once, read by every command, never in the way when they are broken."""

from __future__ import annotations

from pathlib import Path

import pytest

from contactread.cli.main import main
from contactread.errors import ContactreadError
from contactread.settings import Settings, load_settings, save_settings, with_setting
from contactread.units import show_in, show_length, show_span, show_torque


def test_settings_come_back_as_they_were_kept(own_settings: Path) -> None:
    assert load_settings() == Settings()
    kept = Settings('Ana "B" Ü', "Invented Axles\\", "inch", Path("/a/b.toml"), None)
    assert save_settings(kept) == own_settings
    assert load_settings() == kept
    assert with_setting(kept, "person", " ").person is None


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("person = ", "settings-unreadable"),
        ("colour = 'red'", "settings-value"),
        ("units = 'yards'", "settings-value"),
    ],
)
def test_broken_settings_are_told_and_can_be_mended(own_settings: Path, text: str, code: str) -> None:
    own_settings.parent.mkdir(exist_ok=True)
    own_settings.write_text(text, encoding="utf-8")
    with pytest.raises(ContactreadError) as told:
        load_settings()
    assert told.value.code == code


def test_command_sets_shows_and_clears(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["settings", "units", "inch"]) == 0
    assert main(["settings", "person", "Ana"]) == 0
    assert "units   inch" in capsys.readouterr().out
    assert main(["settings", "units", "ell"]) == 1
    assert main(["settings", "person", "--clear"]) == 0
    assert load_settings() == Settings(units="inch")
    assert main(["settings", "person"]) == 2


def test_an_axle_file_or_folder_that_isn_t_there_is_told_when_it_is_set(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    axle = tmp_path / "axle.toml"
    assert main(["settings", "axle", str(axle)]) == 1
    assert "[axle-missing]" in capsys.readouterr().err
    axle.write_text("nothing = 1", encoding="utf-8")
    assert main(["settings", "axle", str(axle)]) == 1
    assert "[axle-invalid]" in capsys.readouterr().err
    assert load_settings() == Settings()
    assert main(["settings", "photos", str(tmp_path / "none")]) == 0  # a phone may be plugged in later
    assert "there is no folder" in capsys.readouterr().err
    assert main(["settings", "photos", str(tmp_path)]) == 0
    assert "there is no folder" not in capsys.readouterr().err


def test_units_are_shown_as_asked() -> None:
    assert (show_length(0.254), show_torque(2.82)) == ("0.254 mm (0.0100 in)", "2.82 N·m (25.0 in-lb)")
    show_in("mm")
    assert (show_length(0.254), show_span(0.13, 0.2, "mm")) == ("0.254 mm", "0.13 to 0.20 mm")
    show_in("inch")
    assert (show_length(0.254), show_torque(2.82)) == ("0.0100 in", "25.0 in-lb")
    assert show_span(0.13, 0.2, "mm") == "5.1 to 7.9 thou"
