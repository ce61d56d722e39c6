"""`contactread flags`: what can be wrong with a photo, and what to do about it."""

from __future__ import annotations

from contactread.cli import options
from contactread.cli.output import print_records, show


def flags(json: options.Json = False) -> None:
    """Explain every sign that a photo or a reading can carry, and every refusal."""
    from contactread.flags import FLAGS

    if json:
        print_records(flags=FLAGS)
        return
    for refuses, heading in ((True, "A photo is refused:"), (False, "A reading carries a sign:")):
        print(heading)
        for flag in FLAGS:
            if flag.refuses == refuses:
                show(f"\n  {flag.short}  [{flag.code}]\n    {flag.meaning}\n    {flag.next_step}")
        print()
