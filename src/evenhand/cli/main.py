"""The ``evenhand`` command: its subcommands, and what becomes of errors.

Every error ends as one line on stderr and an exit code: 2 for wrong use, 3 for a recording that
cannot be heard or a disk that cannot keep it, 1 for an error of Evenhand's own.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from evenhand import __version__
from evenhand.cli.exercises.convert import export
from evenhand.cli.exercises.lists import exercises
from evenhand.cli.exercises.strokes import strokes
from evenhand.cli.listen import listen, listen_all
from evenhand.cli.results import say_line
from evenhand.cli.simulate import demo, simulate
from evenhand.cli.student.heights import height_commands
from evenhand.cli.student.path import path
from evenhand.cli.student.plan import plan
from evenhand.cli.student.progress import load, progress
from evenhand.cli.student.sheet import sheet
from evenhand.cli.student.tests import bounce, ceiling, minute
from evenhand.cli.studio.safekeeping import backup, check, export_studio, import_studio, restore
from evenhand.cli.studio.serve import serve
from evenhand.cli.tracks import click, playalong
from evenhand.errors import EvenhandError

INTERRUPTED = 130

app = typer.Typer(
    name="evenhand",
    add_completion=False,
    rich_markup_mode=None,  # plain help: it comes sooner, and every terminal can show it
    pretty_exceptions_enable=False,
)
app.command("serve")(serve)
app.command("listen")(listen)
app.command("listen-all")(listen_all)
app.add_typer(exercises, name="exercises")
app.command("strokes")(strokes)
app.command("export")(export)
app.command("sheet")(sheet)
app.command("click")(click)
app.command("playalong")(playalong)
app.command("bounce")(bounce)
app.command("minute")(minute)
app.command("ceiling")(ceiling)
app.add_typer(height_commands, name="heights")
app.command("path")(path)
app.command("plan")(plan)
app.command("progress")(progress)
app.command("load")(load)
app.command("export-studio")(export_studio)
app.command("import-studio")(import_studio)
app.command("backup")(backup)
app.command("restore")(restore)
app.command("check")(check)
app.command("simulate")(simulate)
app.command("demo")(demo)


@app.callback(invoke_without_command=True)
def evenhand(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Say which version this is.")] = False,  # noqa: FBT002
) -> None:
    """Hear what a drum student's two hands did, and say it plainly.

    Recordings stay on this machine: nothing is sent anywhere.
    """
    if version:
        typer.echo(f"evenhand {__version__}")
    elif context.invoked_subcommand is None:
        typer.echo(context.get_help())


def main() -> None:
    """Run the command line and end the process with its exit code."""
    sys.exit(run(sys.argv[1:]))


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code; no error leaves as a traceback."""
    try:
        exit_code = int(app(list(arguments), standalone_mode=False) or 0)
        return _say("stopped.", exit_code) if exit_code == INTERRUPTED else exit_code
    except EvenhandError as error:
        return _say(str(error), error.exit_code)
    except typer.TyperException as error:
        return _say(error.format_message(), error.exit_code)
    except (KeyboardInterrupt, typer.Abort):  # before or after a command; inside one, Typer ends with 130
        return _say("stopped.", INTERRUPTED)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # whoever read us has gone: fine
        return 0
    except Exception as error:
        if os.environ.get("EVENHAND_DEBUG"):
            raise
        return _say(_our_own(error), 1)


def _our_own(error: Exception) -> str:
    """Say that an error is ours, and how to report it."""
    return (
        f"an error of Evenhand's own ({type(error).__name__}: {error}). Please report it with what "
        "EVENHAND_DEBUG=1 before the same command shows; the recording itself need not be sent."
    )


def _say(message: str, exit_code: int) -> int:
    """Put one line on stderr, and give the exit code on."""
    say_line(message)
    return exit_code
