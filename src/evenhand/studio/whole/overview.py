"""The whole studio at a look: who practised how often, and which findings stand unchanged.

Conventions: days are on the teacher's own clock; the week is the seven days that end today, of a student who
is here for less the days since. What counts as practice is a recorded take: nobody knows of any other. Days
asked for are the student's own number, by the share of the days that lie in no holiday.

A finding *stands* where the newest takes of an exercise, one a day, all have it, on ``FEWEST_DAYS`` days or
more and over ``FEWEST_SPAN`` or longer, and its figure in the newest is not nearer to nought than in the
first of them by more than chance (95 % range of the difference, ``takes.beside``). Takes of which the ear
is not sure are passed over; they do not end it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from evenhand.measuring.values import Evidence
from evenhand.report.plots.week import DayMarks
from evenhand.studio.store.studio import Studio
from evenhand.studio.typed import notes_of
from evenhand.studio.values import Holiday, Student, TakeOutline, day_recorded
from evenhand.studio.weeks.next import days_asked
from evenhand.studio.whole.lessons import Almanac, Lesson, almanac_of, days_between, lessons_of
from evenhand.studio.whole.triage import Fault, Gist, Gists, is_larger, waits_for_an_ear

Practice = Literal["none", "fewer", "as asked", "away"]
ORDER: Mapping[Practice, int] = {"none": 0, "fewer": 1, "as asked": 2, "away": 3}
DAYS = 7
LOOKED_BACK = timedelta(weeks=12)
FEWEST_DAYS, FEWEST_SPAN = 3, timedelta(days=13)
AHEAD = timedelta(days=13)


@dataclass(frozen=True, slots=True)
class Practised:
    """One student's seven days. ``last`` is the day of the newest take of twelve weeks, None where none is.

    ``holidays`` touch these days; ``sent`` is when the newest week that was sent begins; ``unheard`` takes
    wait for the teacher's ear.
    """

    student: Student
    practice: Practice
    marks: tuple[DayMarks, ...]
    days: int
    asked: int
    seconds: float
    last: date | None
    holidays: tuple[Holiday, ...]
    sent: date | None
    unheard: int


@dataclass(frozen=True, slots=True)
class StandingFinding:
    """A finding that does not change: where, since when, on how many days, then and now."""

    student: Student
    exercise: str
    words: str
    newest: TakeOutline
    first: TakeOutline
    days: int
    figures: tuple[Evidence, Evidence] | None


@dataclass(frozen=True, slots=True)
class Overview:
    """All of it; ``lessons`` are those of the next fortnight that are not as usual."""

    practised: tuple[Practised, ...]
    standing: tuple[StandingFinding, ...]
    lessons: tuple[Lesson, ...]


def overview_of(studio: Studio, now: datetime, gists: Gists) -> Overview:
    """Look over the whole studio; ``now`` is on the teacher's own clock, aware."""
    students, almanac, today = studio.students.all(), almanac_of(studio), now.date()
    takes: dict[str, list[TakeOutline]] = {student.id: [] for student in students}
    for take in studio.takes.outlines(now - LOOKED_BACK):
        if take.student_id in takes and take.source != "teacher" and not take.model:
            takes[take.student_id].append(take)
    sent = studio.weeks.newest_sent()
    rows = [_practised(each, takes[each.id], almanac, sent.get(each.id), now) for each in students]
    ahead = lessons_of(almanac, students, today, today + AHEAD)
    return Overview(
        tuple(sorted(rows, key=_least_first)),
        tuple(_standing(studio, students, takes, gists, now)),
        tuple(lesson for lesson in ahead if lesson.state != "usual"),
    )


def _least_first(row: Practised) -> tuple[int, date, str]:
    return ORDER[row.practice], row.last or date.min, row.student.name.casefold()


def _practised(
    student: Student, takes: Sequence[TakeOutline], almanac: Almanac, sent: date | None, now: datetime
) -> Practised:
    today = now.date()
    counts = Counter(day_recorded(take, now) for take in takes if take.status != "failed")
    here = [student.created_at.astimezone(now.tzinfo).date(), *([sent] if sent else []), *counts]
    first = max(today - timedelta(days=DAYS - 1), min(*here, today))
    days = sum(counts[day] > 0 for day in days_between(first, today))
    free = almanac.free_days(student.id, first, today)
    asked = min(days_asked(student, first, almanac, today), free) if first < today else 0
    practice: Practice = "as asked" if days >= asked else "fewer" if days else "none"
    week = days_between(today - timedelta(days=DAYS - 1), today)
    lately = [take for take in takes if first <= day_recorded(take, now) <= today and take.status != "failed"]
    return Practised(
        student,
        "away" if free == 0 and not days else practice,
        tuple(DayMarks(f"{day:%a}", counts[day], day.weekday() == student.lesson_day) for day in week),
        days,
        asked,
        sum(take.seconds or 0.0 for take in lately),
        max(counts, default=None),
        tuple(almanac.holidays_within(student.id, first, today)),
        sent,
        sum(waits_for_an_ear(take, now) for take in takes),
    )


def _standing(
    studio: Studio,
    students: Iterable[Student],
    takes: Mapping[str, Sequence[TakeOutline]],
    gists: Gists,
    now: datetime,
) -> list[StandingFinding]:
    """List the findings that stand, the longest first."""
    courses = [
        (student, notes, course)
        for student in students
        for notes, course in _one_a_day(takes[student.id], now).items()
        if len(course) >= FEWEST_DAYS
        and day_recorded(course[0], now) - day_recorded(course[-1], now) >= FEWEST_SPAN
    ]
    found = gists.of(studio, [take for _, _, course in courses for take in course])
    standing = [
        each
        for student, notes, course in courses
        for each in _standing_in(student, notes, course, found, now)
    ]
    return sorted(standing, key=lambda each: (each.first.recorded_at, each.student.name.casefold()))


def _one_a_day(takes: Iterable[TakeOutline], now: datetime) -> dict[str, list[TakeOutline]]:
    """Give the newest heard take of each day by exercise, newest first."""
    found: dict[str, dict[date, TakeOutline]] = {}
    for take in takes:
        if take.status == "heard" and take.exercise:
            found.setdefault(notes_of(take.exercise), {}).setdefault(day_recorded(take, now), take)
    return {notes: list(days.values()) for notes, days in found.items()}


def _standing_in(
    student: Student,
    notes: str,
    course: Sequence[TakeOutline],
    gists: Mapping[str, Gist],
    now: datetime,
) -> list[StandingFinding]:
    """List the findings of an exercise's newest take that stand; ``course`` is newest first."""
    sure = [(take, gists[take.id]) for take in course if take.id in gists and not gists[take.id].doubt]
    if not sure:
        return []
    newest, newest_gist = sure[0]
    standing = []
    for fault, (evidence, words) in newest_gist.faults.items():
        having = _having(fault, sure)
        first, was = having[-1][0], having[-1][1].faults[fault][0]
        if len(having) < FEWEST_DAYS or day_recorded(newest, now) - day_recorded(first, now) < FEWEST_SPAN:
            continue
        figures = None if was is None or evidence is None else (was, evidence)
        if figures is None or not is_larger(figures[1], figures[0]):
            standing.append(StandingFinding(student, notes, words, newest, first, len(having), figures))
    return standing


def _having(fault: Fault, course: Sequence[tuple[TakeOutline, Gist]]) -> list[tuple[TakeOutline, Gist]]:
    """Return the newest takes without a break that have a fault."""
    having = []
    for take, gist in course:
        if fault not in gist.faults:
            break
        having.append((take, gist))
    return having
