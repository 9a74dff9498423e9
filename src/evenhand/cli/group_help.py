"""What a command that holds others says when it is called alone."""

from __future__ import annotations

from collections.abc import Callable

import typer


def group_help(what: str) -> Callable[[typer.Context], None]:
    """Return what shows the help of a group of commands where none of them was named."""

    def show(context: typer.Context) -> None:
        if context.invoked_subcommand is None:
            typer.echo(context.get_help())

    show.__doc__ = what
    return show
