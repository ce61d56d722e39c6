"""A line of the table of commands as something to run, to ask for help, to complete and to write about."""

from __future__ import annotations

import os
import re
from importlib import import_module
from typing import Any

import typer
from typer.main import get_command

from contactread.cli.main import COMMANDS, Command

COMPLETE = "_CONTACTREAD_COMPLETE"  # what a shell sets when it asks what could come next
_SETTINGS = {"help_option_names": ["-h", "--help"], "max_content_width": 100}


def runnable_of(command: Command) -> Any:
    """The command, or the small group of commands, that this line stands for."""
    target = getattr(import_module(f"contactread.cli.{command.module}"), command.attribute)
    if isinstance(target, typer.Typer):
        app = target
        app.info.context_settings = _SETTINGS
    else:
        # Plain help without completion options: rich would cost more to import than all the rest.
        app = typer.Typer(add_completion=False, rich_markup_mode=None)
        app.command(context_settings=_SETTINGS)(target)
    runnable: Any = get_command(app)
    for each in (runnable, *getattr(runnable, "commands", {}).values()):
        _in_our_words(each)
        each.short_help = (each.help or "").split("\n\n")[0]  # in full: typer would cut it off
    return runnable


def complete() -> None:
    """Answer a shell that asks, by COMPLETE, for its script or for what could come next: with nothing
    where that fails, for a person is typing.
    """
    app = typer.Typer(rich_markup_mode=None)
    app.callback()(lambda: None)
    group: Any = get_command(app)
    group.params = []
    for each in (c for commands in COMMANDS.values() for c in commands):
        runnable = runnable_of(each)
        runnable.short_help = each.help
        group.add_command(runnable, each.name)
    try:
        group.main([], prog_name="contactread", complete_var=COMPLETE)
    except Exception:
        if not os.environ[COMPLETE].startswith("complete_"):
            raise


def arguments_of(runnable: Any) -> list[Any]:
    """The command's arguments, without its options."""
    return [each for each in runnable.params if each.param_type_name == "argument"]


def argument_name(argument: Any) -> str:
    """The argument's one name: PHOTO."""
    name: str = argument.metavar or argument.name.upper()
    return name.strip("[]") if name.count("[") == 1 and name.startswith("[") and name.endswith("]") else name


def usage_of(argument: Any) -> str:
    """The argument as a line of usage shows it: PHOTO, [PHOTO], PHOTO... or [PHOTO...]."""
    name = argument_name(argument) + ("..." if argument.nargs != 1 else "")
    name = name.replace("......", "...")
    return name if argument.required or "[" in name else f"[{name}]"


def _without_x(record: tuple[str, str] | None) -> tuple[str, str] | None:
    """A range as people say it: 1 to 200."""
    if record is None:
        return None
    said = re.sub(r"([\d.]+)<=x<=([\d.]+)", r"\1 to \2", record[1])
    return record[0], re.sub(r"x>=([\d.]+)", r"from \1", said)


def _in_our_words(runnable: Any) -> None:
    """Usage and arguments without the types that Python knows them by."""
    arguments = arguments_of(runnable)
    for each in arguments:
        each.get_help_record = lambda ctx, each=each: (argument_name(each), each.help or "")
    for each in runnable.params:
        if each.param_type_name == "option":
            each.get_help_record = lambda ctx, told=each.get_help_record: _without_x(told(ctx))
    if arguments:
        runnable.collect_usage_pieces = lambda ctx: ["[OPTIONS]", *map(usage_of, arguments)]
