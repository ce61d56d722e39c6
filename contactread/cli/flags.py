"""`contactread flags`: what can be wrong with a photo, and what to do about it."""

from __future__ import annotations

from typing import Annotated

import typer


def flags(
    json: Annotated[bool, typer.Option("--json", help="Print an object for programs.")] = False,
) -> None:
    """Explain every sign that a photo or a reading can carry, and every refusal."""
    from contactread.cli.output import print_json, show
    from contactread.flags import FLAGS

    if json:
        from dataclasses import asdict

        print_json({"schema": 1, "flags": [asdict(flag) for flag in FLAGS]})
        return
    for refuses, heading in ((True, "A photo is refused:"), (False, "A reading carries a sign:")):
        print(heading)
        for flag in FLAGS:
            if flag.refuses == refuses:
                show(f"\n  {flag.short}  [{flag.code}]\n    {flag.meaning}\n    {flag.next_step}")
        print()
