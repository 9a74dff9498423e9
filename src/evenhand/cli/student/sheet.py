"""``evenhand sheet``: print a lesson sheet."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.options import (
    BookOption,
    PaperOption,
    PdfOutOption,
    StudentOption,
    UnitOption,
    finite,
    read_day,
    say_assumed,
)
from evenhand.cli.results import check_places, give
from evenhand.errors import WrongOptions
from evenhand.music.exercise import Tempo
from evenhand.report.words.figures import count

if TYPE_CHECKING:
    from evenhand.report.print.lesson_sheet import LessonSheet, Practice


ExercisesOption = Annotated[
    list[str] | None,
    typer.Option(
        "--exercise",
        metavar="TEXT",
        help="An exercise, such as '1/8: RLRR LRLL # its title'; may be given more than once.",
        callback=say_assumed,
    ),
]
PlanOption = Annotated[
    Path | None,
    typer.Option("--plan", metavar="FILE.json", exists=True, dir_okay=False, help="A week's plan."),
]
TitleOption = Annotated[
    str,
    typer.Option("--title", metavar="TEXT", help="What stands on top, in place of 'This week’s practice'."),
]
SheetTempoOption = Annotated[
    str | None, typer.Option("--tempo", metavar="TEMPO", help="For every exercise, such as 1/8=70.")
]
StrokeOption = Annotated[
    Literal["tap", "half", "full"] | None, typer.Option("--stroke", help="How high the stick starts.")
]
RepetitionsOption = Annotated[
    int | None,
    typer.Option("--repetitions", metavar="N", min=1, max=1000, help="Repetitions of each in one go."),
]
MinutesOption = Annotated[
    float | None,
    typer.Option(
        "--minutes",
        metavar="N",
        min=0.5,
        max=600,
        callback=finite,
        help="Minutes a day in all, shared out evenly.",
    ),
]
DaysOption = Annotated[
    int | None, typer.Option("--days", metavar="N", min=1, max=31, help="Days to tick; 5 if not given.")
]
DateOption = Annotated[
    str | None,
    typer.Option(
        "--date", metavar="DATE", help="Such as 2026-11-30; if not given, the plan's first day, else today."
    ),
]
WordsOption = Annotated[
    str, typer.Option("--words", metavar="TEXT", help="The teacher's words; else room to write them.")
]
LinkOption = Annotated[
    str, typer.Option("--link", metavar="URL", help="The student's page, printed as a QR code.")
]

DEFAULT_DAYS = 5


def sheet(
    out: PdfOutOption,
    exercise: ExercisesOption = None,
    book: BookOption = None,
    plan: PlanOption = None,
    title: TitleOption = "",
    tempo: SheetTempoOption = None,
    stroke: StrokeOption = None,
    repetitions: RepetitionsOption = None,
    minutes: MinutesOption = None,
    days: DaysOption = None,
    student: StudentOption = "",
    date: DateOption = None,
    words: WordsOption = "",
    link: LinkOption = "",
    unit: UnitOption = "in",
    paper: PaperOption = "a4",
) -> None:
    """Print a lesson sheet with the week's exercises.

    It says what to do with each, and has days to tick. The exercises come from --exercise, from --book or
    from --plan, which says itself what to do on which day. The same date and options give the same bytes.
    """
    if sum(bool(source) for source in (exercise, book, plan)) != 1:
        raise WrongOptions(got=_sources(exercise, book, plan), must_be="one of --exercise, --book and --plan")
    if plan and any(each is not None for each in (tempo, stroke, repetitions, minutes, days)):
        must_be = "--plan alone: it says tempo, stroke, repetitions, minutes and days itself"
        raise WrongOptions(got="a plan and what to do beside it", must_be=must_be)
    on = read_day(date)
    wished = Tempo.parse(tempo) if tempo else None
    check_places(out, reads=(plan, *(book or ())))
    from evenhand.acts.weeks.sheet import print_sheet
    from evenhand.report.print.lesson_sheet import LessonSheet, Practice

    practice = Practice(wished, stroke, repetitions, minutes, days or DEFAULT_DAYS)
    blank = LessonSheet(title=title, student=student, on=on, words=words, link=link, unit=unit, paper=paper)
    made = _sheet(exercise, book, plan, practice, blank)
    if give((out, lambda: print_sheet(made if made.on else replace(made, on=_today())))):
        number = len(made.exercises)
        typer.echo(f"  {count(number, 'exercise is', 'exercises are')} on the sheet in {out}")


def _sheet(
    exercise: list[str] | None,
    book: list[Path] | None,
    plan: Path | None,
    practice: Practice,
    blank: LessonSheet,
) -> LessonSheet:
    """Gather what the sheet holds."""
    from evenhand.acts.weeks.sheet import entries_of, sheet_of_exercises, sheet_of_plan

    if plan:
        from evenhand.acts.weeks.document import read_plan

        return sheet_of_plan(read_plan(plan), blank)
    if book:
        from evenhand.acts.exercises.books import read_books

        return sheet_of_exercises(read_books(book).entries, practice, blank)
    return sheet_of_exercises(entries_of(exercise or []), practice, blank)


def _sources(*sources: object) -> str:
    named = [name for name, source in zip(("--exercise", "--book", "--plan"), sources, strict=True) if source]
    return " and ".join(named) or "no exercises"


def _today() -> date:
    """Look at this machine's clock."""
    return datetime.now().astimezone().date()
