"""The ``evenhand`` command: its subcommands, and what becomes of errors.

Every error ends as one line on stderr and an exit code: 2 for wrong use, 3 for a recording that
cannot be heard or a disk that cannot keep it, 1 for an error of Evenhand's own.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Annotated

import typer

from evenhand import __version__
from evenhand.cli.results import say_line
from evenhand.errors import EvenhandError

INTERRUPTED = 130

# The commands in the help's order, and where each stands; only the one that is asked for is loaded.
COMMANDS = {
    "serve": "studio.serve:serve",
    "work": "studio.work:work",
    "listen": "listen:listen",
    "listen-all": "listen:listen_all",
    "hear-folder": "studio.folder:hear_folder",
    "watch": "watch:watch",
    "lifting": "watch:lifting",
    "labels": "watch:labels",
    "strokes": "exercises.strokes:strokes",
    "export": "exercises.lists:export",
    "sheet": "student.sheet:sheet",
    "click": "tracks:click",
    "playalong": "tracks:playalong",
    "bounce": "student.tests:bounce",
    "minute": "student.tests:minute",
    "ceiling": "student.tests:ceiling",
    "path": "student.weeks:path",
    "plan": "student.weeks:plan",
    "progress": "student.weeks:progress",
    "load": "student.weeks:load",
    "hear-again": "studio.batch:hear_again",
    "table": "studio.safekeeping:table",
    "export-studio": "studio.safekeeping:export_studio",
    "import-studio": "studio.safekeeping:import_studio",
    "backup": "studio.safekeeping:backup",
    "restore": "studio.safekeeping:restore",
    "check": "studio.safekeeping:check",
    "reset-login": "studio.safekeeping:reset_login",
    "school": "studio.school:school_commands",
    "simulate": "simulate:simulate",
    "demo": "simulate:demo",
    "exercises": "exercises.lists:exercises",
    "heights": "student.tests:height_commands",
}
# What a service is started with can stand in its environment: EVENHAND_SERVE_ and the option's name.
FROM_ENVIRONMENT = {
    "serve": {"auto_envvar_prefix": "EVENHAND_SERVE"},
    "work": {"auto_envvar_prefix": "EVENHAND_WORK"},
}
VARIABLES = {  # those of no option of serve; docs/running.md is held to these and to serve's options
    "XDG_DATA_HOME": "the folder in which the studio's folder, evenhand, lies on Linux; an absolute path",
    "EVENHAND_PASSWORD": "the password of a new studio, or a new one for reset-login; for scripts",
    "EVENHAND_UNIT": "what stick heights are written in, for every command: in or cm",
    "EVENHAND_DEBUG": "1: an error of Evenhand's own ends with its whole trace",
}


def command_line(*asked: str) -> typer.Typer:
    """Return the command line with the commands that are asked for, or with all of them."""
    app = typer.Typer(
        name="evenhand",
        add_completion=False,
        rich_markup_mode=None,  # plain help: it comes sooner, and every terminal can show it
        pretty_exceptions_enable=False,
    )
    app.callback(invoke_without_command=True)(evenhand)
    for name in asked or COMMANDS:
        module, _, what = COMMANDS[name].partition(":")
        command = getattr(import_module(f"evenhand.cli.{module}"), what)
        if isinstance(command, typer.Typer):
            app.add_typer(command, name=name)
        else:
            settings = FROM_ENVIRONMENT.get(name)
            said = "\n\n".join(f"{each}: {what}." for each, what in VARIABLES.items()) if settings else None
            app.command(name, context_settings=settings, epilog=said)(command)
    return app


def evenhand(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Say which version this is.")] = False,  # noqa: FBT002
) -> None:
    """Hear what a drum student's two hands did, and say it plainly.

    Recordings stay on this machine, or where you yourself say; nothing is sent elsewhere.
    """
    if version:
        typer.echo(f"evenhand {__version__}")
    elif context.invoked_subcommand is None:
        typer.echo(context.get_help())


def main() -> None:
    """Run the command line and end the process with its exit code.

    Arrays here are small: an array library that shares them out among cores waits more than it gains.
    """
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")  # read when it is loaded
    sys.exit(run(sys.argv[1:]))


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code; no error leaves as a traceback."""
    try:
        app = command_line(*(name for name in arguments[:1] if name in COMMANDS))
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
