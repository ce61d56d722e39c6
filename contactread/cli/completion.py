"""`contactread completion`: the script with which a shell completes commands and options."""

from __future__ import annotations

from typing import Annotated, Literal

from contactread.cli import options


def completion(
    shell: Annotated[
        Literal["bash", "zsh", "fish", "powershell"],
        options.argument("SHELL", "bash, zsh, fish or powershell."),
    ],
) -> None:
    """Print the script that lets a shell complete commands and options with the tab key.

    For bash: eval "$(contactread completion bash)", once in ~/.bashrc. For zsh the same with zsh, in ~/.zshrc
    after compinit. For fish: contactread completion fish > ~/.config/fish/completions/contactread.fish. For
    PowerShell: add what it prints to your profile.
    """
    import os

    from contactread.cli.runnable import COMPLETE, complete

    os.environ[COMPLETE] = f"source_{shell}"
    complete()
