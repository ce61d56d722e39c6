"""`contactread serve`: the page for phones on the shop's network."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from contactread.cli import options
from contactread.cli.output import say
from contactread.errors import MissingExtraError
from contactread.settings import load_settings


def serve(
    lan: Annotated[
        bool, options.option("Let phones on the network in; without it, this computer alone.", "--lan")
    ] = False,
    address: Annotated[
        str | None, options.value("ADDRESS", "Which of this computer's addresses the code shows.")
    ] = None,
    port: Annotated[int | None, options.number("The port; usual: 8377.", least=1, most=65535)] = None,
    axle: Annotated[
        Path | None, options.file("The axle file for photos without a job; else the usual axle.")
    ] = None,
    book: options.Book = None,
) -> None:
    """Serve the page for phones: photograph both sides, see the move, keep the book.

    Prints an address and its QR code; scan it with the phone's camera. Enter prints a fresh one, Ctrl-C
    stops. Nothing leaves the shop's network.
    """
    try:
        import python_multipart  # noqa: F401
        import segno

        from contactread.web.serve import Running, listen
    except ImportError as error:
        raise MissingExtraError("web", "The page for phones") from error
    from contactread.axle_file import sound_axle_text

    axle = axle or load_settings().axle
    axle_text = None if axle is None else sound_axle_text(axle)
    running = Running(listen(lan, port, address), book, axle_text)

    def greet() -> None:
        code = running.new_address()
        print(f"\n{code}\n", flush=True)
        segno.make(code, micro=False).terminal(compact=True)
        say("Scan this with the phone's camera. It works once, for 15 minutes.")
        say("Enter: a fresh one. Ctrl-C: stop.")

    running.on_enter(greet)
    greet()
    others = running.place.addresses[1:]
    if others:
        say("Phone can't reach it? Other addresses of this computer (choose one with --address):")
        for base, why in others:
            say(f"  {base.removeprefix('http://').rsplit(':', 1)[0]}  {why}")
    if not lan:
        say("Only this computer can open it. For phones: contactread serve --lan")
    running.serve_until_stopped()
