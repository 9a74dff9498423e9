"""A student's weeks: ``evenhand path``, ``plan``, ``progress`` and ``load``."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.options import (
    BookOption,
    HistoryOption,
    JsonOption,
    NeededHistoryOption,
    PathOption,
    PictureOption,
    SeedOption,
    StudentOption,
    UnitOption,
    read_day,
    read_stages,
    say_assumed,
    students_takes,
)
from evenhand.cli.results import STDOUT, check_place, check_places, give
from evenhand.errors import CannotWrite, WrongOptions

if TYPE_CHECKING:
    from evenhand.acts.weeks.plan import WeekRequest
    from evenhand.planning.practice import PracticePlan
    from evenhand.progress.stages.path import PracticePath


WriteOption = Annotated[
    Path | None,
    typer.Option(
        "--write", metavar="FILE.toml", allow_dash=True, help="Write the path to edit; - for stdout."
    ),
]
StageOption = Annotated[
    str | None, typer.Option("--stage", metavar="STAGE", help="Where the student is, such as half.")
]
SinceOption = Annotated[
    str | None,
    typer.Option("--since", metavar="DATE", help="The day the stage began."),
]
UntilOption = Annotated[
    str | None,
    typer.Option("--until", metavar="DATE", help="The last day that counts; that of the newest take."),
]


def path(
    path_file: PathOption = None,
    write: WriteOption = None,
    history: HistoryOption = None,
    stage: StageOption = None,
    since: SinceOption = None,
    until: UntilOption = None,
    json: JsonOption = None,
    picture: PictureOption = None,
    unit: UnitOption = "in",
) -> None:
    """Show the path's stages, and where a student is.

    With a history it says what the takes show, proposes to go on, to stay or to go back, and
    says why. The teacher decides.
    """
    _check(write, history, stage, picture)
    for place in (write, json, picture):
        check_place(place)
    stages = read_stages(path_file)
    if write is not None:
        _write(write, stages)
    if history is not None and stage is not None:
        from evenhand.acts.weeks.stages import advice_text, advise_student
        from evenhand.report.plots.advice import advice_picture

        first, last = read_day(since), read_day(until)
        if stages.stage(stage) is None:
            must_be = f"one of {', '.join(each.name for each in stages.stages)}"
            raise WrongOptions(got=f"the stage {stage!r}", must_be=must_be)
        found = advise_student(students_takes(history), stages, stage, since=first, until=last)
        if give(
            (json, lambda: advice_text(found)),
            (picture, lambda: advice_picture(found.path, found.advice)),
        ):
            from evenhand.cli.tables.weeks import say_advice

            say_advice(found, picture=picture)
    elif write is None or json is not None:
        from evenhand.acts.weeks.path import path_text

        if give((json, lambda: path_text(stages))):
            from evenhand.cli.tables.weeks import say_path

            say_path(stages, stage, unit)


def _check(write: Path | None, history: Path | None, stage: str | None, picture: Path | None) -> None:
    """Refuse what does not go together."""
    if history is not None and stage is None:
        raise WrongOptions(got="--history without --stage", must_be="both: where the student is now")
    if picture is not None and history is None:
        raise WrongOptions(
            got="--picture without --history", must_be="both: the picture is of what was heard"
        )
    if write is not None and write != STDOUT and write.exists():
        raise CannotWrite(name=str(write), got="it is there already, and may have been edited")


def _write(place: Path, stages: PracticePath) -> None:
    from evenhand.acts.weeks.path import path_to_toml

    if give((place, lambda: path_to_toml(stages))):
        typer.echo(f"The path is in {place}; use it with --path {place}")


StagesOption = Annotated[
    bool, typer.Option("--stages", help="Only list the stages as JSON, and plan nothing.")
]
MinutesOption = Annotated[float, typer.Option("--minutes", metavar="N", help="Minutes a day, rests too.")]
DaysOption = Annotated[int, typer.Option("--days", metavar="N", help="Practice days in the week, 1 to 7.")]
FromStageOption = Annotated[
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
    stage: FromStageOption = "half",
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
    stages: StagesOption = False,  # noqa: FBT002 - a switch
) -> None:
    """Plan the next week, to the minute.

    Each day adds up to its minutes, in short turns with rests between. The same seed gives the same plan.
    It proposes; the teacher decides.
    """
    if stages:
        _give_stages(path)
        return
    first, begins = _first_day(starts), _time(at)
    check_places(json, ics, sheet, reads=(path, before, history and history / "takes.csv", *(book or ())))
    from evenhand.acts.weeks.document import calendar_of, plan_to_json
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


def _give_stages(path: Path | None) -> None:
    """Write the stages that a week can be planned for as JSON, as evenhand path --json - does."""
    from evenhand.acts.weeks.path import path_text

    give((STDOUT, lambda: path_text(read_stages(path))))


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


ExerciseOption = Annotated[
    str | None,
    typer.Option(
        "--exercise",
        metavar="TEXT",
        help="Only this exercise, such as '1/8: RLRR LRLL'.",
        callback=say_assumed,
    ),
]
WishOption = Annotated[
    str | None,
    typer.Option("--wish", metavar="TEMPO", help="A tempo that the ceiling may reach, such as 1/8=140."),
]


def progress(
    history: NeededHistoryOption,
    exercise: ExerciseOption = None,
    wish: WishOption = None,
    json: JsonOption = None,
    picture: PictureOption = None,
) -> None:
    """Show how each hand changed over the weeks.

    Each exercise, measure and hand for itself: the change against chance, where it levels off, plateaus,
    and when the tempo ceiling may reach a wished tempo, or that it can't be told.
    """
    check_places(json, picture, reads=(history / "takes.csv",))
    from evenhand.acts.weeks.progress import progress_text, show_progress
    from evenhand.report.plots.progress import progress_picture

    check_asked(exercise, wish)
    found = show_progress(students_takes(history), exercise=exercise, wish=wish)
    if give((json, lambda: progress_text(found)), (picture, lambda: progress_picture(found))):
        from evenhand.cli.tables.weeks import say_progress

        say_progress(found, picture=picture)


def check_asked(exercise: str | None, wish: str | None) -> None:
    """Refuse an exercise or a tempo that cannot be read before the takes are heard."""
    from evenhand.music.exercise import Tempo
    from evenhand.music.text import parse_exercise

    if exercise is not None:
        parse_exercise(exercise)
    if wish is not None:
        Tempo.parse(wish)


PlanOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--plan",
        metavar="FILE.json",
        exists=True,
        dir_okay=False,
        help="A week's plan; given again for each week after it, in order.",
    ),
]
SoundOption = Annotated[
    list[str] | None,
    typer.Option(
        "--sound",
        metavar="L:M",
        help="A day's sound: dBA from a sound level meter, and minutes, such as 94:30; may be given again.",
    ),
]


def load(
    history: HistoryOption = None,
    plan: PlanOption = None,
    sound: SoundOption = None,
    json: JsonOption = None,
    picture: PictureOption = None,
) -> None:
    """Count strokes and minutes of each hand a week.

    Says where the load jumps. From what was recorded, from what was assigned, or both; and how much of a
    day's sound a level uses up. A jump is a convention, never a diagnosis.
    """
    if picture is not None and history is None and not plan:
        raise WrongOptions(got="--picture without weeks to draw", must_be="with --history or --plan")
    check_places(json, picture, reads=(history and history / "takes.csv", *(plan or ())))
    from evenhand.acts.documents import json_of
    from evenhand.acts.weeks.document import read_plan
    from evenhand.acts.weeks.progress import load_json, read_spells, show_load
    from evenhand.report.plots.week import load_picture

    spells, plans = read_spells(sound or []), [read_plan(path) for path in plan or []]
    found = show_load(students_takes(history) if history else None, plans, spells)
    if give((json, lambda: json_of(load_json(found))), (picture, lambda: load_picture(found.loads))):
        from evenhand.cli.tables.weeks import say

        say(found, picture=picture)
