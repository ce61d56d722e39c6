"""The entry point: a lazy table of commands, and the one place where errors meet the user.

Nothing heavy is imported here: `contactread --help` must stay as quick as Python itself. A command's
module is imported when that command runs, and typer only then.
"""

from __future__ import annotations

import errno
import gc
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from contactread.cli.streams import (
    end_on_signals,
    end_quietly,
    make_ready,
    nothing_to_put_right,
    silence,
    tell,
)

if TYPE_CHECKING:
    from contactread.errors import ContactreadError


class Command(NamedTuple):
    """One line of the table. `attribute` of `contactread.cli.<module>` is a plain function with typer
    annotations, or, for a small group, what `options.group` made.
    An int that the function returns is the exit code.
    """

    name: str
    module: str
    attribute: str
    help: str


# Headline -> commands, in the order in which a mechanic meets them.
COMMANDS: dict[str, tuple[Command, ...]] = {
    "Photos and advice": (
        Command("read", "read", "read", "Read photos: where each pattern sits, and the next shim move."),
        Command("serve", "serve", "serve", "The same on a phone: a page for the shop's network."),
        Command("guide", "guide", "guide", "The handbook: from paint to sign-off, and why charts disagree."),
        Command("flags", "flags", "flags", "What can be wrong with a photo, and what to do about it."),
        Command("cautions", "cautions", "cautions", "Every caution in full."),
    ),
    "Gear set": (
        Command("axle", "axle", "app", "Write an axle file to fill in, and show what one says."),
        Command("predict", "predict", "predict", "Foresee what a move does to both patterns and backlash."),
        Command("sums", "sums", "app", "Set-up sums: marks, depth gauge, side shims, backlash, ratio."),
    ),
    "Shop book": (
        Command("job", "job", "app", "Take an axle in hand, see its set-up sheet, correct it, close it."),
        Command("try", "tries", "app", "Start a try, read photos into it, record, ask for advice."),
        Command("photo", "slips", "photo", "Move a photo to the job it belongs to, or strike it out."),
        Command("undo", "slips", "undo", "Take back your last write to the shop book."),
        Command("log", "slips", "log", "Every write to the shop book: who, when, what."),
        Command("review", "review", "review", "Read a whole folder of photos into the shop book."),
        Command("ask", "ask", "app", "Questions to the shop book: walks, tries, shims, refusals, search."),
        Command("report", "report", "report", "Write the one-page report of a job."),
        Command("check", "keeping", "check", "Check the shop book and its photos."),
        Command("backup", "keeping", "backup", "Copy the shop book's database into its backup folder."),
        Command("restore", "keeping", "restore", "Put a backup or an exported book back."),
        Command("export", "keeping", "export", "Write the whole shop book as a folder of open files."),
        Command("import", "keeping", "import_", "Bring in an exported book: as a new one, or merged."),
    ),
    "Yourself": (
        Command("settings", "settings", "settings", "Your name, units and usual axle, set once."),
        Command("completion", "completion", "completion", "Let the shell complete commands and options."),
    ),
    "Practice": (
        Command("practice", "practice", "app", "Learn to read a pattern; tests, question sheets, progress."),
    ),
}

_UNWRITTEN = {errno.ENOSPC, errno.EFBIG, errno.EIO, errno.EBADF, getattr(errno, "EDQUOT", errno.ENOSPC)}
EXIT_DONE, EXIT_ERROR, EXIT_USAGE, EXIT_STOPPED = 0, 1, 2, 130

ABOUT = """\
contactread reads gear tooth-contact patterns from photographs and says which
shim to move next. It advises; it does not certify. The axle maker's manual has
the last word."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return the exit code: 0 done, 1 error, 2 usage, 3 some photos refused,
    5 damaged shop book, 130 stopped.
    """
    heard = make_ready()
    real = arguments is None  # a process of its own, not a call from Python
    arguments = list(sys.argv[1:] if arguments is None else arguments)
    as_json = "--json" in arguments
    try:
        if real:
            end_on_signals()
            _tune()
        code = _dispatch(arguments, as_json) if heard else _report(_unheard(), as_json=False)
        _flush()
    except KeyboardInterrupt:
        end_quietly()
        tell("Stopped.")
        code = EXIT_STOPPED
        if real:  # at once: all is put right, and Python would still wait for what runs beside
            silence(sys.stdout, sys.stderr)
            os._exit(code)
    except BrokenPipeError:  # the reader (`| head`) left
        code = EXIT_DONE
    except Exception as error:
        coded = _as_coded(error)
        if coded is not error and os.environ.get("CONTACTREAD_DEBUG"):
            raise
        code = _report(coded, as_json)
    silence(sys.stdout, sys.stderr)
    if real:
        nothing_to_put_right()
        if arguments[:1] == ["read"]:
            os._exit(code)  # all is written; a network may still load beside, for nobody
        # The process ends: to look through all that it holds for cycles would take as long as --help
        gc.freeze()
    return code


def _tune() -> None:
    """Spare a short process what only long ones gain by."""
    # Its matrices are small: for them, numpy's own threads would only wait beside it, on every processor.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Most of what it makes at first stays: modules and what is in them. Ended by a third photo.
    gc.set_threshold(20_000, 20, 20)
    gc.disable()


def _dispatch(arguments: list[str], as_json: bool) -> int:
    if os.environ.get("_CONTACTREAD_COMPLETE"):
        from contactread.cli.runnable import complete

        complete()
        return EXIT_DONE
    name = arguments[0] if arguments else "--help"
    if name == "help" and arguments[1:] and arguments[1] not in ("--help", "-h"):
        return _dispatch([*arguments[1:], "--help"], as_json)
    if name in ("--help", "-h", "help"):
        print(help_text())
        return EXIT_DONE
    if name in ("--version", "-V"):
        from contactread import __version__

        print(f"contactread {__version__}")
        return EXIT_DONE
    command = next((c for group in COMMANDS.values() for c in group if c.name == name), None)
    if command is None:
        return _usage(_no_such_command(name), as_json)
    return _run(command, arguments[1:], as_json)


def _run(command: Command, arguments: list[str], as_json: bool) -> int:
    import typer

    from contactread.cli.runnable import runnable_of
    from contactread.settings import load_settings
    from contactread.units import show_in

    if command.name != "read":
        gc.enable()
    if command.name != "settings":  # which must be able to mend them
        show_in(load_settings().units or "both")
    # typer's own base class of usage errors; it moved between versions, so it is found by inheritance.
    usage_error: Any = next(c for c in typer.BadParameter.__mro__ if c.__name__ == "UsageError")
    runnable = runnable_of(command)
    prog_name = f"contactread {command.name}"
    try:
        result = runnable.main(arguments, prog_name=prog_name, standalone_mode=False)
    except usage_error as error:
        path = error.ctx.command_path if error.ctx else prog_name
        # typer puts the class of the exception before the words of a choice that doesn't exist
        return _usage(error.format_message().replace("Value error, ", ""), as_json, f"{path} --help")
    except typer.Abort:  # a question left unanswered
        return EXIT_STOPPED
    except SystemExit as error:  # how typer ends where the reader of its output left
        raise BrokenPipeError from error
    code = result if isinstance(result, int) else EXIT_DONE
    if code == EXIT_STOPPED:  # typer turns Ctrl-C into this exit code
        raise KeyboardInterrupt
    return code


def help_text() -> str:
    """What `contactread --help` prints."""
    width = max((len(c.name) for group in COMMANDS.values() for c in group), default=0)
    lines = [ABOUT, "", "Usage: contactread COMMAND [OPTIONS]", ""]
    for headline, group in COMMANDS.items():
        if group:
            lines += [headline, *(f"  {c.name:<{width}}  {c.help}" for c in group), ""]
    lines += [
        "contactread help COMMAND   what a command takes and does; so does COMMAND --help",
        "contactread --version      the version; so does -V",
    ]
    return "\n".join(lines)


def _no_such_command(name: str) -> str:
    from difflib import get_close_matches

    from contactread.show.text import printable

    known = [c.name for group in COMMANDS.values() for c in group]
    close = get_close_matches(name, known, n=1)
    hint = f" Did you mean '{close[0]}'?" if close else ""
    return f"There is no command '{printable(name)}'.{hint}"


def _usage(message: str, as_json: bool, help_command: str = "contactread --help") -> int:
    from contactread.errors import ContactreadError

    error = ContactreadError("usage", message.strip(), f"See: {help_command}")
    _report(error, as_json)
    return EXIT_USAGE


def _as_coded(error: Exception) -> ContactreadError:
    """The error as one with a code; what isn't ours becomes a system error or a fault of contactread."""
    from contactread.errors import ContactreadError, coded

    if isinstance(error, ContactreadError):
        return error
    if isinstance(error, ImportError):
        from contactread.photo.opencv import is_opencv, opencv_missing

        if is_opencv(error):
            return opencv_missing(error)
    if isinstance(error, OSError) and not error.filename and error.errno in _UNWRITTEN:
        return _unprintable(error)
    if isinstance(error, OSError) and error.strerror:
        place = f" ({error.filename})" if error.filename else ""
        return ContactreadError(
            "system", f"The system refused a file or folder: {error.strerror}{place}.",
            "Check that the place exists, that you may write there, and that the disk has room.",
        )  # fmt: skip
    if isinstance(error, UnicodeEncodeError):  # bytes of another encoding may name a file, but are no words
        return ContactreadError(
            "words-unreadable", "Some words aren't text in this system's encoding; nothing was written.",
            "Type them in a terminal of UTF-8; rename a file or folder that is named so.")  # fmt: skip
    from contactread.photo.opencv import out_of_memory

    if out_of_memory(error):
        return ContactreadError("out-of-memory", "The computer ran out of memory.",
                                "Close other programs, or use a smaller photo.")  # fmt: skip
    return coded(error)


def _report(error: ContactreadError, as_json: bool) -> int:
    """Show the error once: for people on stderr, for programs as an object on stdout."""
    from contactread.cli.output import fitted, print_json
    from contactread.show.text import printable

    try:
        if as_json and error.code != "output-failed":
            print_json({"error": error.to_json()})
            return error.exit_code
    except OSError as full:  # nothing more can be printed there: the person is told beside it
        error = _unprintable(full)
    lines = [printable(line) for line in error.message.splitlines()]
    text = "\n".join([*lines, printable(error.next_step), f"[{error.code}]"])
    tell(fitted(text, sys.stderr))
    return error.exit_code


def _flush() -> None:
    """Bring out what was printed. Raises ContactreadError output-failed, BrokenPipeError."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        raise _unprintable(error) from error


def _unheard() -> ContactreadError:
    from contactread.errors import ContactreadError

    return ContactreadError(
        "output-closed",
        "The standard output is closed, so nothing could be answered; nothing was done.",
        "Run it again with its output in a terminal, a file or a pipe.",
    )


def _unprintable(error: OSError) -> ContactreadError:
    from contactread.errors import ContactreadError

    return ContactreadError(
        "output-failed",
        f"The answer can't be written: {error.strerror or error}.",
        "Give the output another place, or make room there, and run it again.",
    )


if __name__ == "__main__":
    sys.exit(main())
