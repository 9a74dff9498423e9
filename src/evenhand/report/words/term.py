"""A term in plain words, for a parent: lessons, practice, what was worked on, what changed.

Conventions: days are inclusive. Nothing is graded: a figure is said with its unit and what it is from, a
change only where it is more than chance, the worse ones, too. A range in brackets is the 95 % interval.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from evenhand.measuring.values import Measure
from evenhand.progress.trends.trajectory import MeasureTrajectory
from evenhand.report.words.figures import capitalised, count, day_words, duration, hand_words, listed, sized

MOST_CHANGES, MOST_EXERCISES = 5, 4


@dataclass(frozen=True, slots=True)
class TermWeek:
    """One week from its Monday: ``days`` with a recording, ``of`` that lie in the term, ``away`` of these."""

    monday: date
    days: int
    of: int
    away: int = 0


@dataclass(frozen=True, slots=True)
class TermLessons:
    """How many lessons took place, of which moved; and why others did not."""

    given: int
    moved: int
    skipped: int
    in_holidays: int


@dataclass(frozen=True, slots=True)
class TermExercise:
    """An exercise of the term, its first and last tempo, and how often it was recorded."""

    title: str
    first_tempo: str
    last_tempo: str
    takes: int
    days: int


@dataclass(frozen=True, slots=True)
class TermChange:
    """One figure's course in one exercise."""

    exercise: str
    course: MeasureTrajectory


@dataclass(frozen=True, slots=True)
class Term:
    """All that a report rests on. ``words`` are the teacher's own."""

    student: str
    studio: str
    first: date
    last: date
    on: date
    lessons: TermLessons
    weeks: tuple[TermWeek, ...]
    takes: int
    seconds: float
    exercises: tuple[TermExercise, ...]
    changes: tuple[TermChange, ...]
    words: str = ""


# What a parent reads of a measure: better, worse, and what the figure is.
PLAIN: Mapping[str, tuple[str, str, str]] = {
    "hands.{hand}.timing_sd_ms": (
        "the {hand} plays more evenly in time",
        "the {hand} plays less evenly in time",
        "its strokes scatter by",
    ),
    "hands.{hand}.level_sd_db": (
        "the strokes of the {hand} are more alike in sound",
        "the strokes of the {hand} are less alike in sound",
        "they scatter by",
    ),
    "balance.level_db": (
        "the two hands sound more alike",
        "the two hands sound less alike",
        "one is louder than the other by",
    ),
    "balance.timing_ms": (
        "the two hands keep time together better",
        "the two hands keep time together less well",
        "one comes behind the other by",
    ),
    "doubles.{hand}.second_minus_first_db": (
        "in double strokes of the {hand} the second comes nearer to the first",
        "in double strokes of the {hand} the second is farther from the first",
        "one is louder than the other by",
    ),
    "hands.{hand}.timing_mean_ms": (
        "the {hand} plays closer to the click",
        "the {hand} plays farther from the click",
        "on the whole it is off by",
    ),
    "drift_bpm_per_min": (
        "the tempo is kept more steadily",
        "the tempo is kept less steadily",
        "in a minute it moves by",
    ),
}
UNITS = {"bpm a minute": "beats a minute", "bpm/min": "beats a minute"}  # others as they are
SMALL_PRINT = (
    "This report gives no marks. Its figures come from the recordings alone, made while practising and heard "
    "by a program; what was practised without a recording is not in them. Behind a figure stands a range "
    "that holds the true value in about 95 of 100 cases. 1000 ms are one second; 1 dB can just be heard."
)


def period_words(term: Term) -> str:
    """Say from when to when."""
    return f"{day_words(term.first, year=True)} to {day_words(term.last, year=True)}"


def lesson_sentences(term: Term) -> str:
    """Say how many lessons took place."""
    had = term.lessons
    if not (had.given or had.skipped or had.in_holidays):
        return "No lesson was noted in this time."
    said = f"{count(had.given, 'lesson')} took place"
    said += f", {count(had.moved, 'of them', 'of them')} on another day than usual." if had.moved else "."
    missed = [
        words
        for n, words in (
            (had.skipped, f"{count(had.skipped, 'lesson was', 'lessons were')} left out"),
            (had.in_holidays, f"{count(had.in_holidays, 'lesson')} fell into holidays"),
        )
        if n
    ]
    return f"{said} {capitalised(listed(missed))}." if missed else said


def practice_sentences(term: Term) -> str:
    """Say on how many days something was recorded, and how much."""
    days, of = sum(week.days for week in term.weeks), sum(week.of for week in term.weeks)
    away = sum(week.away for week in term.weeks)
    if not term.takes:
        return f"Nothing was recorded on these {count(of, 'day')}."
    with_some = sum(week.days > 0 for week in term.weeks)
    out = f", {away} of them holidays" if away else ""
    return (
        f"Practice was recorded on {days} of {count(of, 'day')}{out}, in {with_some} of "
        f"{count(len(term.weeks), 'week')}: {count(term.takes, 'recording')}, "
        f"{duration(term.seconds, 'minutes')} in all."
    )


def exercise_sentences(term: Term) -> list[str]:
    """Say what was worked on, the exercises that were recorded on most days."""
    return [_exercise(each) for each in term.exercises[:MOST_EXERCISES]]


def _exercise(each: TermExercise) -> str:
    steady = each.first_tempo == each.last_tempo
    tempo = f"at {each.first_tempo}" if steady else f"from {each.first_tempo} to {each.last_tempo}"
    often = f"{count(each.takes, 'recording')} on {count(each.days, 'day')}"
    return f"{each.title}, {tempo} beats a minute ({often})"


def change_sentences(term: Term) -> list[str]:
    """Say what changed by more than chance, better and worse, those of most days first."""
    ordered = sorted(term.changes, key=lambda each: -each.course.days)
    return [said for each in ordered if (said := _said(each)) is not None][:MOST_CHANGES]


def _said(change: TermChange) -> str | None:
    course = change.course
    plain = PLAIN.get(course.followed.place)
    if plain is None or course.change is None or course.change.direction not in {"better", "worse"}:
        return None
    better, worse, what = plain
    hand = hand_words(course.hand)
    head = (better if course.change.direction == "better" else worse).format(hand=hand)
    start, end = (_size(figure) for figure in (course.change.start, course.change.end))
    rests = f"{count(course.change.per_week.n, 'recording')} on {count(course.days, 'day')}"
    return f"{change.exercise}: {head}; {what} {end} now, {start} at first ({rests})."


def _size(figure: Measure) -> str:
    return sized(figure, UNITS.get(figure.unit, figure.unit))


def unchanged_sentence(term: Term) -> str:
    """Say how many figures were followed in which there is no clear change."""
    followed = [each.course for each in term.changes if each.course.followed.place in PLAIN]
    judged = [course for course in followed if course.change is not None]
    open_still = sum(course.change is None or course.change.direction == "can't tell" for course in judged)
    if not judged:
        return "For a change to show, an exercise must be recorded on four days or more; none was."
    if not open_still:
        return ""
    figures = f"{open_still} of {count(len(judged), 'figure')}"
    return f"In {figures} there is no clear change yet: small differences may be chance."


def picture_words(weeks: Sequence[TermWeek]) -> str:
    """Say the picture of the weeks."""
    said = [f"week from {day_words(week.monday)}, {count(week.days, 'day')}" for week in weeks]
    return f"Days with a recording, week by week: {'; '.join(said)}."
