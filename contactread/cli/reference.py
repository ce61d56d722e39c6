"""Every command with its arguments and options, as a page of the reference and as a manual page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from contactread import __version__
from contactread.cli.main import ABOUT, COMMANDS
from contactread.cli.runnable import argument_name, arguments_of, runnable_of, usage_of
from contactread.handbook import reference


class Described(NamedTuple):
    """One command. words: as typed after contactread. usage: what follows. says: its help, in paragraphs.
    parts: (arguments or option, what it does) in order.
    """

    words: str
    usage: str
    says: list[str]
    parts: list[tuple[str, str]]


def described() -> Iterator[tuple[str, Described]]:
    """Headline and command, for every command and every one of a group."""
    for headline, group in COMMANDS.items():
        for each in group:
            runnable = runnable_of(each)
            for name, command in _leaves(each.name, runnable):
                yield headline, _describe(name, command)


def _leaves(words: str, runnable: Any) -> Iterator[tuple[str, Any]]:
    inner = getattr(runnable, "commands", None)
    if not inner:
        yield words, runnable
        return
    for name, command in inner.items():
        yield from _leaves(f"{words} {name}", command)


def _describe(words: str, command: Any) -> Described:
    parts = [(argument_name(each), each.help or "") for each in arguments_of(command)]
    for option in command.params:
        if option.param_type_name == "option" and "--help" not in option.opts:
            parts.append((_option(option), _option_help(option)))
    says = [" ".join(each.split()) for each in (command.help or "").split("\n\n")]
    usage = " ".join(["[OPTIONS]", *map(usage_of, arguments_of(command))])
    return Described(words, usage, says, parts)


def _option(option: Any) -> str:
    names = ", ".join(sorted(option.opts, key=len))
    if option.secondary_opts:
        return f"{names} / {', '.join(option.secondary_opts)}"
    if option.is_flag or getattr(option, "count", False):
        return names
    described = getattr(option, "type_descriptor", None) or getattr(option, "type", None)
    choices = getattr(described, "choices", None) or ()
    words = "|".join(str(getattr(choice, "value", choice)) for choice in choices)
    kind = option.metavar or words or option.name.upper()
    return f"{names} {kind}"


def _option_help(option: Any) -> str:
    more = [] if not option.required else ["Needed."]
    if option.envvar:
        more.append(f"Variable: {option.envvar}.")
    return " ".join([option.help or "", *more]).strip()


def commands_page() -> str:
    """Every command, argument and option, as Markdown."""
    lines = ["# Commands", "", *ABOUT.splitlines(), "", "Each takes `-h` or `--help`, too."]
    last = ""
    for headline, each in described():
        if headline != last:
            lines += ["", f"## {headline}"]
            last = headline
        lines += ["", f"### contactread {each.words}", "", f"`contactread {each.words} {each.usage}`", ""]
        lines += "\n\n".join(map(reference.safe, each.says)).splitlines()
        lines += ["", *(f"- `{name}`: {reference.safe(says)}" for name, says in each.parts)]
    return "\n".join(lines) + "\n"


REFERENCE: dict[str, tuple[str, Callable[[], str]]] = {
    "commands": ("Every command, argument and option", commands_page),
    "errors": ("Every error code", reference.errors_page),
    "signs": ("Every sign of a photo", reference.signs_page),
    "settings": ("Settings and variables", reference.settings_page),
    "axle-file": ("Every key of the axle file", reference.axle_page),
    "json": ("Every field of --json", reference.json_page),
    "names": ("Every public name of the library", reference.names_page),
}


def manual_page() -> str:
    """The manual page (man, section 1), in roff."""
    lines = [
        f'.TH CONTACTREAD 1 "" "contactread {__version__}" "User Commands"',
        ".nh",  # no word is broken at the end of a line
        ".ad l",
        ".SH NAME",
        "contactread \\- read gear tooth\\-contact patterns and advise the next shim move",
        ".SH SYNOPSIS",
        ".B contactread",
        ".I COMMAND",
        "[OPTIONS]",
        ".SH DESCRIPTION",
        _roff(" ".join(ABOUT.split())),
    ]
    last = ""
    for headline, each in described():
        if headline != last:
            lines.append(f'.SH "{_roff(headline.upper())}"')
            last = headline
        lines += [f'.SS "contactread {_roff(each.words)} {_roff(each.usage)}"']
        lines += ["\n.PP\n".join(map(_roff, each.says))]
        for name, says in each.parts:
            lines += [".TP", f".B {_roff(name)}", _roff(says)]
    lines += [
        ".SH EXIT STATUS",
        "0 done, 1 error, 2 usage, 3 some photos refused, 5 damaged shop book, 130 stopped.",
    ]
    lines.append(".SH ENVIRONMENT")
    for name, says in reference.VARIABLES.items():
        lines += [".TP", f".B {_roff(name)}", _roff(says) + "."]
    lines += [".SH SEE ALSO", "contactread guide, the handbook."]
    return "\n".join(lines) + "\n"


def _roff(text: str) -> str:
    """Words as roff takes them literally."""
    safe = text.replace("\\", "\\e").replace("-", "\\-").replace("'", "\\(aq")
    return f"\\&{safe}" if safe.startswith(".") else safe
