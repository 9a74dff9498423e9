"""Several teachers in one Postgres: ``evenhand school create``, ``teacher``, ``list`` and ``upgrade``."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.options import DataOption
from evenhand.cli.studio.serve import data_folder, new_password
from evenhand.errors import WrongOptions
from evenhand.report.words.figures import count

if TYPE_CHECKING:
    from evenhand.studio.school import School, Teacher

_EXPANDED = (
    "What an older Evenhand can go on with is there. Replace it everywhere, then: evenhand school upgrade"
)
school_commands = typer.Typer(help="Several teachers in one Postgres, a studio each.")

LoginArgument = Annotated[str, typer.Argument(metavar="LOGIN", help="The name to log in by, such as mara.")]
UrlOption = Annotated[
    str,
    typer.Option(
        "--database",
        metavar="URL",
        envvar="EVENHAND_SERVE_DATABASE",
        help="The school's Postgres, as evenhand serve has it: postgresql://...",
    ),
]
NameOption = Annotated[str, typer.Option("--name", metavar="NAME", help="What people are shown.")]
FirstOption = Annotated[
    bool, typer.Option("--first", help="Name the teacher who was alone in this database; all else stays.")
]
NewPasswordOption = Annotated[
    bool,
    typer.Option(
        "--new-password", help="Ask for a new password, and switch two-step login off: who is locked out."
    ),
]
ExpandOption = Annotated[
    bool, typer.Option("--expand", help="Only what an older Evenhand can go on with, while it still runs.")
]


@school_commands.command("create")
def create(login: LoginArgument, database: UrlOption, name: NameOption, data: DataOption = None) -> None:
    """Make a school of a database, with its administrator.

    The administrator hears no recordings. A studio that is in the database already
    stays as it is; its teacher needs a login name then.
    """
    with _school(data, database) as school:
        _finished(school)
        if any(each.administrator for each in school.teachers()):
            must_be = "a database without one: evenhand school teacher adds teachers"
            raise WrongOptions(got="a school that has an administrator", must_be=must_be)
        made = school.add(login, name, new_password(), administrator=True)
        typer.echo(f"{made.name}: {made.login} is its administrator.")
        if any(each.login is None for each in school.teachers()):
            typer.echo(
                "The teacher who was alone here needs a login name from now on: "
                "evenhand school teacher LOGIN --name NAME --first"
            )


@school_commands.command("teacher")
def teacher(
    login: LoginArgument,
    database: UrlOption,
    name: NameOption = "",
    first: FirstOption = False,  # noqa: FBT002 - a switch
    new_password_: NewPasswordOption = False,  # noqa: FBT002 - a switch
    data: DataOption = None,
) -> None:
    """Take a teacher in, or let one who is locked out come in.

    A new teacher has a new and empty studio.
    """
    with _school(data, database) as school:
        _finished(school)
        if new_password_:
            typer.echo(_reset(school, login))
        elif first:
            typer.echo(f"{school.name_first(login, name).name} logs in as {login}, by the same password.")
        else:
            made = school.add(login, name, new_password())
            typer.echo(f"{made.name} logs in as {made.login}.")


@school_commands.command("list")
def listed(database: UrlOption, data: DataOption = None) -> None:
    """List who teaches here.

    And how many students each has, and what a command calls each studio.
    """
    with _school(data, database) as school:
        for each in school.teachers():
            typer.echo(_line(school, each))


@school_commands.command("upgrade")
def upgrade(database: UrlOption, expand: ExpandOption = False, data: DataOption = None) -> None:  # noqa: FBT002 - a switch
    """Bring a school's database to the newest form.

    In two parts if it is not to stop (docs/storage.md).
    """
    with _school(data, database) as school:
        school.bring_up_to_date(finish=not expand)
        typer.echo(_EXPANDED if expand else "The database has the newest form, and keeps studios apart.")


@contextmanager
def _school(data: Path | None, url: str) -> Iterator[School]:
    """Open a school that may have nobody in it yet."""
    from evenhand.studio.school import School
    from evenhand.studio.store.layout import Backing

    school = School(data or data_folder(), Backing(url))
    try:
        yield school
    finally:
        school.close()


def _finished(school: School) -> None:
    school.bring_up_to_date(finish=True)


def _reset(school: School, login: str) -> str:
    """Give a teacher a new password, and tell."""
    found = school.by_login(login)
    if found is None:
        raise WrongOptions(got=f"the login name {login[:60]!r}", must_be="one of evenhand school list")
    studio = school.studio(found.id)
    studio.access.second.drop()
    studio.access.change_password(new_password())
    studio.log.note("password changed", "nobody", address="the command line")
    return f"{found.name} logs in as {found.login}, by the new password alone."


def _line(school: School, each: Teacher) -> str:
    """Say who somebody is."""
    if each.administrator:
        return f"{each.login}: {each.name}, administrator"
    students = count(len(school.studio(each.id).students.all()), "student")
    name = each.name or school.studio(each.id).facts.name
    return f"{each.login or '(no login name)'}: {name}, {students}; --studio {each.id}"
