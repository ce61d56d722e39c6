"""The reference names every command, option, error, setting, key, field and name; what is missing fails."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import pytest

import contactread
from calibration.errors_page import coded_errors, errors_page
from contactread.axle_file.keys import tables
from contactread.cli.main import COMMANDS, main
from contactread.cli.reference import REFERENCE, described, manual_page
from contactread.cli.runnable import runnable_of
from contactread.flags import FLAGS
from contactread.settings import HELP, Settings

SAMPLES = Path(__file__).parents[2] / "sample_images"


def page(name: str) -> str:
    return REFERENCE[name][1]()


def every_parameter() -> list[tuple[str, Any]]:
    """(words, parameter) of every command, as typer knows them."""
    found = []
    for command in (c for group in COMMANDS.values() for c in group):
        runnable = runnable_of(command)
        for name, each in getattr(runnable, "commands", {"": runnable}).items():
            found += [(f"{command.name} {name}".strip(), parameter) for parameter in each.params]
    return found


def test_every_command_and_option_is_described_and_has_words() -> None:
    text, manual = page("commands"), manual_page().replace("\\-", "-")
    listed = {each.words: each for _, each in described()}
    for words, parameter in every_parameter():
        assert f"### contactread {words}\n" in text
        assert f"contactread {words} " in manual
        assert listed[words].says, words
        if "--help" in parameter.opts:
            continue
        assert parameter.help and parameter.help.strip().endswith((".", ")", '"')), (
            f"{words}: {parameter.name} has no words"
        )
        if parameter.param_type_name == "option":
            names = {name for part, _ in listed[words].parts for name in part.replace(",", " ").split()}
            assert {*parameter.opts, *parameter.secondary_opts} <= names, words


def test_help_speaks_without_pythons_types_and_breaks_no_word(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    for each in [d for _, d in described()]:
        assert main([*each.words.split(), "--help"]) == 0
        shown = capsys.readouterr().out
        for typed in ("<str>", "<int>", "<float>", "<path>", "list[", "range>", "[[", "{", "<=x", "x>="):
            assert typed not in shown, f"{each.words}: {typed}"
        assert all(len(line) <= 80 for line in shown.splitlines()), each.words
        words = set(shown.split())
        for says in (*each.says, *(says for _, says in each.parts)):
            assert set(says.replace("Needed.", "").partition("Variable:")[0].split()) <= words, each.words


def test_help_of_a_command_and_the_short_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    assert all(len(line) <= 80 for line in capsys.readouterr().out.splitlines())
    for words in (["read"], ["try", "record"], ["sums"]):
        assert main([*words, "--help"]) == 0
        shown = capsys.readouterr().out
        assert main(["help", *words]) == 0
        assert capsys.readouterr().out == shown
    assert main(["help", "nonsense"]) == 2
    capsys.readouterr()
    assert main(["-V"]) == 0
    assert capsys.readouterr().out == f"contactread {contactread.__version__}\n"


def test_every_error_has_its_code_in_the_reference() -> None:
    found, unread = coded_errors()
    assert unread == [], "the code of these errors can't be read from the source"
    assert page("errors") == errors_page(), "python -m calibration.errors_page writes the page anew"
    for error in found:
        assert f"## {error.code}\n" in page("errors")
        assert error.message and error.next_step, error
    codes = {error.code for error in found}
    for known in ("usage", "fault", "photo-missing", "photo-not-a-file", "job-missing", "extra-missing"):
        assert known in codes
    assert {flag.code for flag in FLAGS if flag.refuses} <= codes


def test_the_words_that_callers_give_a_helper_are_in_the_reference() -> None:
    told = [(error.message, error.next_step) for error in coded_errors()[0] if error.code == "record-half"]
    assert ("Only one side of the ring gear is given, so nothing was recorded.",
            "Give both sides, with --ring-… and --opposite-….") in told  # fmt: skip
    assert any(message.startswith("The axle file is missing") for message, _ in told)
    assert ("…, so nothing was recorded.", "…") not in told


def test_words_that_a_function_names_or_chooses_are_in_the_reference() -> None:
    """Only what is made of what was given stays open: doubts, what is missing, a wrong command line."""
    found = coded_errors()[0]
    assert not [error for error in found if error.next_step == "…"]
    assert {error.code for error in found if error.message == "…"} == {"record-doubt", "record-half", "usage"}
    jobs = [(error.message, error.next_step) for error in found if error.code == "job-which"]
    assert ("No job is open.", "Open one with 'contactread job open', or give a number.") in jobs
    assert len(jobs) == 2, "words chosen by one question go together"
    assert "torque-unit" in {error.code for error in found}, "the caller gives a part of the code"


def test_every_sign_setting_key_and_name_is_in_the_reference() -> None:
    assert all(f"`{flag.code}`" in page("signs") for flag in FLAGS)
    assert set(HELP) == {field.name for field in dataclasses.fields(Settings)}
    assert all(f"`{name}`" in page("settings") for name in HELP)
    text = page("axle-file")
    assert all(f"`{key.name} = " in text for table in tables() for key in table.keys)
    assert all(f"## {name}\n" in page("names") for name in contactread.__all__)


def test_every_variable_of_the_environment_is_in_the_reference() -> None:
    import re

    source = Path(contactread.__file__).parent
    used = {
        v
        for path in source.rglob("*.py")
        for v in re.findall(r'"(CONTACTREAD_[A-Z_]+)"', path.read_text(encoding="utf-8"))
    }
    assert all(f"`{name}`" in page("settings") for name in used)


def test_the_manual_page_is_roff_that_breaks_no_word() -> None:
    text = manual_page()
    assert text.startswith('.TH CONTACTREAD 1 ""')
    assert ".nh" in text.splitlines()[:3]
    for line in text.splitlines():
        assert not line.startswith("'") and (
            not line.startswith(".") or line[1:3].isupper() or line[1:3] in ("nh", "ad", "B ", "I ")
        )
