"""``evenhand plan``: the next week, to the minute."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.results import STDOUT, check_places, shown, write_bytes, write_text
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.acts.weeks.plan import WeekRequest
    from evenhand.planning.practice import PracticePlan
    from evenhand.progress.history import History


MinutesOption = Annotated[float, typer.Option("--minutes", metavar="N", help="Minutes a day, rests too.")]
DaysOption = Annotated[int, typer.Option("--days", metavar="N", help="Practice days in the week, 1 to 7.")]
StageOption = Annotated[
    str,
    typer.Option("--stage", metavar="STAGE", help="Where the student is, such as half; see evenhand path."),
]
SeedOption = Annotated[
    int, typer.Option("--seed", metavar="N", min=0, help="Decides between exercises that are as good.")
]
HistoryOption = Annotated[
    Path | None,
    typer.Option(
        "--history", metavar="DIR", exists=True, file_okay=False, help="The student's takes, with takes.csv."
    ),
]
BookOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--book",
        metavar="FILE",
        exists=True,
        help="The exercises to choose from; may be given more than once.",
    ),
]
PathOption = Annotated[
    Path | None,
    typer.Option("--path", metavar="FILE.toml", exists=True, dir_okay=False, help="A path of your own."),
]
BeforeOption = Annotated[
    Path | None,
    typer.Option(
        "--before",
        metavar="FILE.json",
        exists=True,
        dir_okay=False,
        help="The week before, to compare the load.",
    ),
]
StudentOption = Annotated[str, typer.Option("--student", metavar="NAME", help="Whom the plan is for.")]
StartsOption = Annotated[
    str | None,
    typer.Option("--starts", metavar="DATE", help="The week's first day; next Monday if not given."),
]
AtOption = Annotated[str, typer.Option("--at", metavar="HH:MM", help="When practice begins, for --ics.")]
JsonOption = Annotated[
    Path | None, typer.Option("--json", metavar="FILE", allow_dash=True, help="Write the plan; - for stdout.")
]
IcsOption = Annotated[
    Path | None, typer.Option("--ics", metavar="FILE.ics", help="Write a calendar file (iCalendar).")
]
SheetOption = Annotated[
    Path | None, typer.Option("--sheet", metavar="FILE.pdf", help="Print the lesson sheet.")
]


def plan(
    minutes: MinutesOption = 20.0,
    days: DaysOption = 5,
    stage: StageOption = "half",
    seed: SeedOption = 0,
    history: HistoryOption = None,
    book: BookOption = None,
    path: PathOption = None,
    before: BeforeOption = None,
    student: StudentOption = "",
    starts: StartsOption = None,
    at: AtOption = "17:00",
    json: JsonOption = None,
    ics: IcsOption = None,
    sheet: SheetOption = None,
) -> None:
    """Plan the next week, to the minute.

    Each day adds up to its minutes, in short turns with rests between. The same seed gives the same plan.
    It proposes; the teacher decides.
    """
    first, begins = _first_day(starts), _time(at)
    check_places(json, ics, sheet, reads=(path, before, history and history / "takes.csv", *(book or ())))
    from evenhand.acts.weeks.plan import WeekRequest

    asked = WeekRequest(minutes, days, stage, seed, student, first)
    planned = _planned(asked, history, book, path, before)
    _give(planned, first, begins, json=json, ics=ics, sheet=sheet)


def _planned(
    asked: WeekRequest, history: Path | None, book: list[Path] | None, path: Path | None, before: Path | None
) -> PracticePlan:
    """Read what the plan rests on, and plan."""
    from dataclasses import replace

    from evenhand.acts.exercises.books import read_books
    from evenhand.acts.weeks.document import read_plan
    from evenhand.acts.weeks.plan import NO_HISTORY, plan_week
    from evenhand.progress.stages.path import COMMON_PATH

    stages = COMMON_PATH
    if path:
        from evenhand.acts.weeks.stages import read_path

        stages = read_path(path)
    books = read_books(book) if book else None
    if before:
        asked = replace(asked, before=read_plan(before))
    return plan_week(asked, stages, book=books, history=_history(history) if history else NO_HISTORY)


def _history(folder: Path) -> History:
    """Read the student's takes, hearing those that are new."""
    from evenhand.acts.takes.history import read_history
    from evenhand.media.open_take import open_take

    with shown(f"hearing what is new in {folder.name}") as progress:
        return read_history(folder, opens=open_take, progress=progress)


def _give(
    planned: PracticePlan,
    first: date,
    begins: time,
    *,
    json: Path | None,
    ics: Path | None,
    sheet: Path | None,
) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    pages = b""
    if sheet is not None:  # first, for a letter that no font holds would leave the rest half done
        from evenhand.acts.weeks.sheet import print_sheet, sheet_of_plan
        from evenhand.report.print.contents import LessonSheet

        pages = print_sheet(sheet_of_plan(planned, LessonSheet(on=first)))
    if json is not None:
        from evenhand.acts.weeks.document import plan_to_json

        write_text(json, plan_to_json(planned))
    if ics is not None:
        from evenhand.acts.weeks.calendar import calendar_of

        write_bytes(ics, calendar_of(planned, first, begins))
    if sheet is not None:
        write_bytes(sheet, pages)
    if STDOUT not in {json, ics, sheet}:
        from evenhand.cli.tables.weeks import say_plan as say

        say(planned, written=[place for place in (json, ics, sheet) if place is not None])


def _first_day(text: str | None) -> date:
    """Read the week's first day; the next Monday by this machine's clock where none is said."""
    if text is None:
        today = datetime.now().astimezone().date()
        return today + timedelta(days=7 - today.weekday())
    try:
        first = date.fromisoformat(text)
    except ValueError:
        first = date.max
    if date.max - first < timedelta(days=7):  # its last day must have a date too
        raise WrongOptions(got=f"the date {text!r}", must_be="a day such as 2026-11-30")
    return first


def _time(text: str) -> time:
    """Read a time of the student's own clock, with no time zone."""
    try:
        at = time.fromisoformat(text)
    except ValueError:
        at = None
    if at is None or at.tzinfo is not None:
        raise WrongOptions(got=f"the time {text!r}", must_be="a time such as 17:00")
    return at
