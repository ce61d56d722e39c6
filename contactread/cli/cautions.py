"""`contactread cautions`: every caution in full."""

from __future__ import annotations

from contactread.cli import options
from contactread.cli.output import print_records


def cautions(json: options.Json = False) -> None:
    """Print every caution in full, with its sources."""
    from contactread.advice.rules import full_cautions

    listed = full_cautions()
    if json:
        print_records(cautions=[caution.to_json() for caution in listed])
        return
    import textwrap

    for number, caution in enumerate(listed, 1):
        words = f"{caution.text} [{', '.join(caution.sources)}]"
        print(textwrap.fill(words, 79, initial_indent=f"{number:2}. ", subsequent_indent="    "))
    print("\nSources by id: shared/sources.toml; 'practice' is common practice without a publication.")
