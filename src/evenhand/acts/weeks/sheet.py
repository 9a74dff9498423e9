"""Print a lesson sheet: from exercises that share what to do, or from a week's plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from evenhand.acts.weeks.document import date_of_day
from evenhand.errors import WrongOptions
from evenhand.music.book import Entry
from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.tempo import beat_picture
from evenhand.music.exercise import Exercise
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.planning.practice import PracticeItem, PracticePlan
from evenhand.report.print.lesson_sheet import (
    DEFAULT_TITLE,
    FEW,
    BeatNote,
    LessonSheet,
    Practice,
    SheetBlock,
    SheetDay,
    SheetExercise,
    SheetMusic,
    lesson_sheet_pdf,
    music_px,
)
from evenhand.report.print.setting import is_address, one_line
from evenhand.report.words.figures import day_name
from evenhand.report.words.remarks import all_remarks, why_words

MOST_EXERCISES = 200
MOST_DAYS = 31


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
    exercises = tuple(
        SheetExercise(entry.exercise, print_exercise(entry.exercise), entry.title, practice.stroke)
        for entry in entries
    )
    return replace(_checked(blank), exercises=exercises, practice=practice)


def sheet_of_plan(plan: PracticePlan, blank: LessonSheet) -> LessonSheet:
    """Make the sheet of a plan: its days, and each exercise once; ``blank`` says the rest."""
    every = [item for day in plan.days for item in day.items]
    exercises = tuple(
        _of_plan(exercise, every) for exercise in dict.fromkeys(item.exercise for item in every)
    )
    _check(len(exercises), len(plan.days))
    places = {each.exercise: place for place, each in enumerate(exercises)}
    days = tuple(
        SheetDay(name, tuple(_block(items, places, exercises) for items in _in_blocks(day.items)))
        for name, day in zip(day_names(plan), plan.days, strict=True)
    )
    known = replace(blank, student=blank.student or plan.student, on=blank.on or plan.starts)
    return replace(_checked(known), exercises=exercises, days=days, story=" ".join(all_remarks(plan.story)))


def print_sheet(sheet: LessonSheet) -> bytes:
    """Engrave a sheet's exercises and set its pages as PDF; the same sheet gives the same bytes."""
    music = [_music(sheet, each.exercise) for each in sheet.exercises]
    tempos = {block.tempo for day in sheet.days for block in day.blocks}
    if sheet.practice and sheet.practice.tempo:
        tempos.add(sheet.practice.tempo)
    pictures = {tempo: beat_picture(tempo.beat) for tempo in tempos}
    beats = {tempo: BeatNote(*picture) for tempo, picture in pictures.items() if picture}
    return lesson_sheet_pdf(sheet, music, beats)


def _music(sheet: LessonSheet, exercise: Exercise) -> SheetMusic:
    """Engrave in one of two columns; across the page where that saves a line, or the exercises are few."""
    wide = engrave(exercise, width=music_px(sheet, wide=True), spacing="note", rolls="typed")
    if len(sheet.exercises) <= FEW:
        return SheetMusic(wide, wide=True)
    narrow = engrave(exercise, width=music_px(sheet, wide=False), spacing="note", rolls="typed")
    return (
        SheetMusic(narrow, wide=False)
        if len(narrow.lines) <= len(wide.lines)
        else SheetMusic(wide, wide=True)
    )


def _check(exercises: int, days: int) -> None:
    """Keep a sheet to what can be handed out."""
    if not 1 <= exercises <= MOST_EXERCISES:
        raise WrongOptions(got=f"{exercises} exercises", must_be=f"1 to {MOST_EXERCISES} on a sheet")
    if not 0 <= days <= MOST_DAYS:
        raise WrongOptions(got=f"{days} days", must_be=f"0 to {MOST_DAYS} on a sheet")


def _checked(blank: LessonSheet) -> LessonSheet:
    if blank.link and not is_address(blank.link):
        must_be = "an address such as https://studio.example/mira"
        raise WrongOptions(got=f"the link {blank.link!r}", must_be=must_be)
    return replace(blank, title=one_line(blank.title) or DEFAULT_TITLE, student=one_line(blank.student))


def day_names(plan: PracticePlan) -> list[str]:
    """Name the days by the calendar where the plan says when it starts, spread as in its calendar file."""
    count = len(plan.days)
    if plan.starts is None:
        return [f"Day {number}" for number in range(1, count + 1)]
    return [day_name(date_of_day(plan.starts, index, count)) for index in range(count)]


def _of_plan(exercise: Exercise, every: Sequence[PracticeItem]) -> SheetExercise:
    """Gather what is said of an exercise once: its title, its stroke where it has one, what it is for."""
    items = [item for item in every if item.exercise == exercise]
    strokes = {item.stroke for item in items}
    said = (" ".join(all_remarks(item.purpose)) or why_words(item.why) for item in items)
    return SheetExercise(
        exercise,
        print_exercise(exercise),
        min((item.title for item in items if item.title), key=len, default=""),  # the whole before its parts
        strokes.pop() if len(strokes) == 1 else None,
        next((words for words in said if words), ""),
    )


def _in_blocks(items: Sequence[PracticeItem]) -> list[list[PracticeItem]]:
    """Gather a day's items that are the same but for their rest: a plan in many short turns."""
    alike: dict[object, list[PracticeItem]] = {}
    for item in items:
        key = (item.exercise, item.tempo, item.repetitions, item.goes, item.stroke, item.block, item.title)
        alike.setdefault(key, []).append(item)
    return list(alike.values())


def _block(
    items: Sequence[PracticeItem], places: dict[Exercise, int], exercises: Sequence[SheetExercise]
) -> SheetBlock:
    first = items[0]
    place = places[first.exercise]
    return SheetBlock(
        place,
        sum(item.seconds + item.rest_s for item in items),
        first.tempo,
        first.repetitions,
        sum(item.goes for item in items),
        first.stroke if exercises[place].stroke is None else None,
        first.block,
        first.title.removeprefix(exercises[place].title).strip(", "),
    )
