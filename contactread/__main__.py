"""What the command `contactread` runs first: a Ctrl-C is heard before anything else is imported."""

from __future__ import annotations

import os
import signal
import sys


def main() -> int:
    """Run one command; see `contactread.cli.main.main`, which hears signals itself as soon as it is there."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _stopped)
    from contactread.cli.main import main as run

    return run()


def _stopped(*_: object) -> None:
    """Nothing is begun yet, so there is nothing to put right."""
    try:
        os.write(2, b"Stopped.\n")
    finally:
        os._exit(130)


if __name__ == "__main__":
    sys.exit(main())
