"""``evenhand plan``: the next week, to the minute."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.inputs import read_day, read_stages, students_takes
from evenhand.cli.options import (
    BookOption,
    HistoryOption,
    JsonOption,
    PathOption,
    SeedOption,
    StudentOption,
)
from evenhand.cli.results import check_places, give
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.acts.weeks.plan import WeekRequest
    from evenhand.planning.practice import PracticePlan


MinutesOption = Annotated[float, typer.Option("--minutes", metavar="N", help="Minutes a day, rests too.")]
DaysOption = Annotated[int, typer.Option("--days", metavar="N", help="Practice days in the week, 1 to 7.")]
StageOption = Annotated[
    str,
    typer.Option("--stage", metavar="STAGE", help="Where the student is, such as half; see evenhand path."),
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
StartsOption = Annotated[
    str | None,
    typer.Option("--starts", metavar="DATE", help="The week's first day; next Monday if not given."),
]
AtOption = Annotated[str, typer.Option("--at", metavar="HH:MM", help="When practice begins, for --ics.")]
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
    from evenhand.acts.weeks.calendar import calendar_of
    from evenhand.acts.weeks.document import plan_to_json
    from evenhand.acts.weeks.plan import WeekRequest
    from evenhand.acts.weeks.sheet import print_sheet, sheet_of_plan
    from evenhand.report.print.lesson_sheet import LessonSheet

    asked = WeekRequest(minutes, days, stage, seed, student, first)
    planned = _planned(asked, history, book, path, before)
    if give(
        (json, lambda: plan_to_json(planned)),
        (ics, lambda: calendar_of(planned, first, begins)),
        (sheet, lambda: print_sheet(sheet_of_plan(planned, LessonSheet(on=first)))),
    ):
        from evenhand.cli.tables.weeks import say_plan

        say_plan(planned, written=[place for place in (json, ics, sheet) if place is not None])


def _planned(
    asked: WeekRequest, history: Path | None, book: list[Path] | None, path: Path | None, before: Path | None
) -> PracticePlan:
    """Read what the plan rests on, and plan."""
    from dataclasses import replace

    from evenhand.acts.exercises.books import read_books
    from evenhand.acts.weeks.document import read_plan
    from evenhand.acts.weeks.plan import NO_HISTORY, plan_week

    books = read_books(book) if book else None
    if before:
        asked = replace(asked, before=read_plan(before))
    return plan_week(
        asked, read_stages(path), book=books, history=students_takes(history) if history else NO_HISTORY
    )


def _first_day(text: str | None) -> date:
    """Read the week's first day; the next Monday by this machine's clock where none is said."""
    if text is None:
        today = datetime.now().astimezone().date()
        return today + timedelta(days=7 - today.weekday())
    first = read_day(text) or date.max
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
