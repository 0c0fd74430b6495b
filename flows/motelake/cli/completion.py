"""Completion of commands, views and parameters in the shell."""

import click
from click.shell_completion import BashComplete, get_completion_class

from motelake.cli.commands import motelake


class _Bash(BashComplete):
    """No space after name=, where the value follows."""

    source_template = BashComplete.source_template.replace(
        "COMPREPLY+=($value)",
        "COMPREPLY+=($value)\n            [[ $value == *= ]] && compopt -o nospace",
    )


@click.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion(shell: str) -> None:
    """Print what makes the shell complete commands, views and their parameters.

    \b
    Example: motelake completion bash > ~/.local/share/bash-completion/completions/motelake
    Example: motelake completion zsh > ~/.zfunc/_motelake
    Example: motelake completion fish > ~/.config/fish/completions/motelake.fish
    """
    kind = _Bash if shell == "bash" else get_completion_class(shell)
    if kind is not None:
        click.echo(kind(motelake, {}, "motelake", "_MOTELAKE_COMPLETE").source())
