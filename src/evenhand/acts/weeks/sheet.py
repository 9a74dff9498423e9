"""Print a lesson sheet: from exercises that share what to do, or from a week's plan."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from evenhand.acts.weeks.document import date_of_day
from evenhand.errors import WrongOptions
from evenhand.music.book import Entry
from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.line import beat_picture
from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.planning.practice import PracticeItem, PracticePlan
from evenhand.report.print.lesson_sheet import (
    DEFAULT_TITLE,
    BeatNote,
    LessonSheet,
    SheetDay,
    SheetExercise,
    Task,
    Turn,
    lesson_sheet_pdf,
    music_px,
)
from evenhand.report.print.setting import is_address, one_line
from evenhand.report.words.figures import day_name
from evenhand.report.words.remarks import why_words

MOST_EXERCISES = 200
MOST_DAYS = 31
FEWEST_OF_A_COURSE = 3  # ways from which on they are told day by day in one


@dataclass(frozen=True, slots=True)
class Practice:
    """What to do with each exercise of a sheet: ``minutes`` a day in all, shared out evenly."""

    tempo: Tempo | None = None
    stroke: StrokeClass | None = None
    repetitions: int | None = None
    minutes: float | None = None
    days: int = 5


def entries_of(texts: Sequence[str]) -> tuple[Entry, ...]:
    """Read exercises, each with its title behind a ``#`` if it has one, as a line of a book.

    >>> entries_of(["1/8: RLRR LRLL  # Paradiddle"])[0].title
    'Paradiddle'
    """
    parts = [text.partition("#") for text in texts]
    return tuple(Entry(parse_exercise(text.strip()), title.strip()) for text, _, title in parts)


def sheet_of_exercises(entries: Sequence[Entry], practice: Practice, blank: LessonSheet) -> LessonSheet:
    """Make a sheet of exercises that are all practised alike, every day; ``blank`` says the rest."""
    _check(len(entries), practice.days)
    share = practice.minutes * 60 / len(entries) if practice.minutes else None
    task = Task(practice.tempo, practice.stroke, practice.repetitions, share)
    exercises = tuple(
        SheetExercise(entry.exercise, print_exercise(entry.exercise), entry.title, (task,))
        for entry in entries
    )
    turns = tuple(Turn(index) for index in range(len(exercises)))
    seconds = practice.minutes * 60 if practice.minutes else None
    days = tuple(SheetDay(f"Day {number}", turns, seconds) for number in range(1, practice.days + 1))
    return _filled(blank, exercises, days)


def sheet_of_plan(plan: PracticePlan, blank: LessonSheet) -> LessonSheet:
    """Make the sheet of a plan: each exercise once, with what to do by days; ``blank`` says the rest."""
    places = {item.exercise: index for index, item in reversed(list(enumerate(_first_items(plan))))}
    _check(len(places), len(plan.days))
    exercises = tuple(_of_plan(plan, item) for item in _first_items(plan))
    names = _day_names(plan)
    days = tuple(
        SheetDay(
            name,
            tuple(Turn(places[item.exercise], item.seconds) for item in day.items),
            day.seconds or None,
        )
        for name, day in zip(names, plan.days, strict=True)
    )
    known = replace(blank, student=blank.student or plan.student, on=blank.on or plan.starts)
    return _filled(known, exercises, days)


def print_sheet(sheet: LessonSheet) -> bytes:
    """Engrave a sheet's exercises and set its pages as PDF; the same sheet gives the same bytes."""
    width = music_px(sheet)
    music = [
        engrave(each.exercise, width=width, spacing="note", repeat=each.repetitions)
        for each in sheet.exercises
    ]
    tempos = {task.tempo for each in sheet.exercises for task in each.tasks if task.tempo}
    pictures = {tempo: beat_picture(tempo.beat) for tempo in tempos}
    beats = {tempo: BeatNote(*picture) for tempo, picture in pictures.items() if picture}
    return lesson_sheet_pdf(sheet, music, beats)


def _check(exercises: int, days: int) -> None:
    """Keep a sheet to what can be handed out."""
    if not 1 <= exercises <= MOST_EXERCISES:
        raise WrongOptions(got=f"{exercises} exercises", must_be=f"1 to {MOST_EXERCISES} on a sheet")
    if not 0 <= days <= MOST_DAYS:
        raise WrongOptions(got=f"{days} days", must_be=f"0 to {MOST_DAYS} on a sheet")


def _filled(
    blank: LessonSheet, exercises: tuple[SheetExercise, ...], days: tuple[SheetDay, ...]
) -> LessonSheet:
    if blank.link and not is_address(blank.link):
        must_be = "an address such as https://studio.example/mira"
        raise WrongOptions(got=f"the link {blank.link!r}", must_be=must_be)
    title, student = one_line(blank.title) or DEFAULT_TITLE, one_line(blank.student)
    return replace(blank, exercises=exercises, days=days, title=title, student=student)


def _first_items(plan: PracticePlan) -> list[PracticeItem]:
    """Give each exercise's first item, in the order they first come."""
    first: dict[object, PracticeItem] = {}
    for day in plan.days:
        for item in day.items:
            first.setdefault(item.exercise, item)
    return list(first.values())


def _day_names(plan: PracticePlan) -> list[str]:
    """Name the days by the calendar where the plan says when it starts, spread as in its calendar file."""
    count = len(plan.days)
    if plan.starts is None:
        return [f"Day {number}" for number in range(1, count + 1)]
    return [day_name(date_of_day(plan.starts, index, count)) for index in range(count)]


def _of_plan(plan: PracticePlan, first: PracticeItem) -> SheetExercise:
    """Gather an exercise's tasks: one for each way it is practised, with its days."""
    items = [
        (number, item)
        for number, day in enumerate(plan.days)
        for item in day.items
        if item.exercise == first.exercise
    ]
    strokes = dict.fromkeys(item.stroke for _, item in items)
    tasks = tuple(
        task
        for stroke in strokes
        for task in _tasks([each for each in items if each[1].stroke == stroke], len(plan.days), strokes)
    )
    title = next((item.title for _, item in items if item.title), "")
    last = items[-1][1].stroke
    whys = dict.fromkeys(why_words(item.why) for _, item in items if item.why and item.stroke == last)
    return SheetExercise(first.exercise, print_exercise(first.exercise), title, tasks, " ".join(whys))


def _tasks(
    items: Sequence[tuple[int, PracticeItem]], days: int, strokes: Collection[StrokeClass | None]
) -> list[Task]:
    """Gather what is to be done with one stroke: day by day in one task where it goes on from day to day."""
    ways: dict[Task, list[tuple[int, PracticeItem]]] = {}
    for number, item in items:
        way = Task(item.tempo, item.stroke, item.repetitions, item.seconds)
        ways.setdefault(way, []).append((number, item))
    course = _course(ways, days)
    if course is not None:
        return [course]
    alone = len(ways) == 1 and len(strokes) == 1
    return [
        replace(
            way,
            rests_s=_rests(done),
            days=() if alone or _every_day(done, days) else tuple(sorted({number for number, _ in done})),
        )
        for way, done in ways.items()
    ]


def _course(ways: dict[Task, list[tuple[int, PracticeItem]]], days: int) -> Task | None:
    """Put several ways into one where each day has one of its own; else None."""
    by_day: list[Task | None] = [None] * days
    for way, done in ways.items():
        for number in {number for number, _ in done}:
            if by_day[number] is not None:
                return None
            by_day[number] = way
    beats = {way.tempo.beat for way in ways if way.tempo is not None}
    if len(ways) < FEWEST_OF_A_COURSE or len(beats) != 1:
        return None
    first = next(way for way in by_day if way is not None)
    return replace(
        first,
        seconds=None,
        rests_s=_rests([each for done in ways.values() for each in done]),
        bpm_by_day=tuple(None if way is None or way.tempo is None else way.tempo.bpm for way in by_day),
        times_by_day=tuple(None if way is None else way.repetitions for way in by_day),
    )


def _every_day(done: Sequence[tuple[int, PracticeItem]], days: int) -> bool:
    return len({number for number, _ in done}) == days


def _rests(done: Sequence[tuple[int, PracticeItem]]) -> tuple[float, ...]:
    return tuple(sorted({item.rest_s for _, item in done if item.rest_s}))
