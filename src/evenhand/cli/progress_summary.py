"""A student's weeks in the terminal: each exercise, and under it a paragraph for each measure."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.cli.figure_table import INKS
from evenhand.cli.plain_summary import say_parts
from evenhand.craft.text import print_exercise
from evenhand.domain.cautions import EXERCISES_CAUTION
from evenhand.domain.progress import ExerciseProgress, MeasureCourse, StudentProgress
from evenhand.pages.figures import count
from evenhand.pages.progress_words import (
    ceiling_words,
    chance_note,
    course_name,
    course_words,
    exercise_facts,
    now_words,
    tempo_note,
)


def say(found: StudentProgress, *, picture: Path | None = None) -> None:
    """Print a student's progress."""
    parts: list[RenderableType] = [""]
    if found.student:
        parts += [Text(found.student, style="bold"), ""]
    for each in found.exercises:
        parts += [*_exercise(each), ""]
    if not found.exercises:
        parts += ["No exercise was heard on two days yet: there is nothing to follow.", ""]
    if found.single:
        parts.append(Text(f"{count(found.single, 'exercise')} heard on one day only", style="dim"))
    if note := chance_note(found):
        parts.append(Text(note, style="dim"))
    parts += [Text(f"! left out: {each}") for each in found.left_out]
    if picture is not None:
        parts += [Text(f"The picture is in {picture}")]
    parts += [Text(EXERCISES_CAUTION, style="dim"), ""]
    say_parts(Padding(Group(*parts), (0, 2)))


def _exercise(each: ExerciseProgress) -> list[RenderableType]:
    """Set out one exercise."""
    first = each.takes[0].day
    facts = " ".join(part for part in (f"{exercise_facts(each)}.", tempo_note(each)) if part)
    parts: list[RenderableType] = [
        Text(print_exercise(each.exercise), style="bold"),
        Text(facts, style="dim"),
    ]
    changed = [course for course in each.courses if _is_told(course)]
    for course in changed:
        parts.append(Text.assemble("  ", (course_name(course), _ink(course))))
        parts.append(Padding(Text(course_words(course, first)), (0, 0, 0, 6)))
    if len(changed) < len(each.courses):
        parts += [Text("  no change beyond chance and form on the day so far; now:"), _rest(each.courses)]
    if each.ceiling is not None:
        parts.append(Text("  tempo ceiling, both hands"))
        parts.append(Padding(Text(ceiling_words(each.ceiling, first)), (0, 0, 0, 6)))
    return parts


def _is_told(course: MeasureCourse) -> bool:
    """Tell whether a measure changed by more than chance, or has levelled off."""
    if course.change is None:
        return False
    return course.change.told != "can't tell" or course.curve is not None or course.plateau is not None


def _rest(courses: Sequence[MeasureCourse]) -> Padding:
    """Set out in short what has not changed by more than chance."""
    table = Table.grid(padding=(0, 3, 0, 0))
    for course in courses:
        if not _is_told(course):
            table.add_row(Text(course_name(course), style=_ink(course)), now_words(course))
    return Padding(table, (0, 0, 0, 6))


def _ink(course: MeasureCourse) -> str:
    return INKS[course.hand] if course.hand is not None else ""
