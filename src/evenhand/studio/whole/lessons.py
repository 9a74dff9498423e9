"""Which lessons take place: the usual ones, those moved or skipped, holidays; and the calendar of them.

Conventions: days and times are on the teacher's own clock; a week goes from Monday. A lesson is known by
its ``usual`` day, on which it would be; ``day`` is when it is. What is said of one lesson goes before a
holiday: moved into one, it takes place. A lesson that was given to a student without a lesson day, or on
another weekday, stands by itself.

The calendar (iCalendar, RFC 5545) has each lesson that takes place as an event in UTC, so that no calendar
need guess the zone; without a time it is of the whole day. Whoever keeps that calendar reads it, so names
are cut to the first name and a letter.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Holiday, LessonChange, Student

if TYPE_CHECKING:
    from icalendar import Event

LessonState = Literal["usual", "moved", "skipped", "holiday"]
A_WEEK = timedelta(days=7)
FARTHEST_WEEKS = 60  # so far a next lesson is looked for
FEED_BACK, FEED_AHEAD = timedelta(weeks=2), timedelta(weeks=12)
ASKED_EVERY = timedelta(hours=4)


@dataclass(frozen=True, slots=True)
class Lesson:
    """One lesson; ``change`` or ``holiday`` is why it is not as usual."""

    student: Student
    usual: date
    day: date
    at: str
    state: LessonState
    change: LessonChange | None = None
    holiday: Holiday | None = None

    @property
    def takes_place(self) -> bool:
        """Whether it is given."""
        return self.state in {"usual", "moved"}


class Almanac:
    """The holidays and changed lessons of a studio, read once."""

    def __init__(self, changes: Iterable[LessonChange] = (), holidays: Iterable[Holiday] = ()) -> None:
        self._holidays = tuple(holidays)
        self._changes: dict[str, dict[date, LessonChange]] = {}
        for change in changes:
            self._changes.setdefault(change.student_id, {})[change.day] = change

    def holiday(self, student_id: str, day: date) -> Holiday | None:
        """Return the holiday that a day of a student lies in."""
        return next((each for each in self._holidays_of(student_id) if each.first <= day <= each.last), None)

    def holidays_within(self, student_id: str, first: date, last: date) -> list[Holiday]:
        """List a student's holidays that have a day between two."""
        found = self._holidays_of(student_id)
        return [each for each in found if each.first <= last and each.last >= first]

    def free_days(self, student_id: str, first: date, last: date) -> int:
        """Count a student's days between two, both included, that lie in no holiday."""
        return sum(self.holiday(student_id, day) is None for day in days_between(first, last))

    def lessons(self, student: Student, first: date, last: date) -> list[Lesson]:
        """List the lessons that are, or would be, between two days, in the order of their time."""
        found = [*self._usual(student, first, last), *self._changed(student, first, last)]
        return sorted(found, key=_order)

    def next_lesson(self, student: Student, today: date) -> Lesson | None:
        """Return the next lesson that takes place, today's too; None where none is in sight."""
        for weeks in range(FARTHEST_WEEKS):
            first = today + weeks * A_WEEK
            for lesson in self.lessons(student, first, first + timedelta(days=6)):
                if lesson.takes_place:
                    return lesson
        return None

    def _holidays_of(self, student_id: str) -> Iterator[Holiday]:
        return (each for each in self._holidays if each.student_id in {None, student_id})

    def _usual(self, student: Student, first: date, last: date) -> Iterator[Lesson]:
        """Give the lessons of a student's own weekday that were not moved: given, skipped, in a holiday."""
        if student.lesson_day is None:
            return
        day = first + timedelta(days=(student.lesson_day - first.weekday()) % 7)
        while day <= last:
            change = self._changes.get(student.id, {}).get(day)
            holiday = self.holiday(student.id, day)
            state: LessonState = "skipped" if change else "holiday" if holiday else "usual"
            if change is None or change.moved_to is None:
                yield Lesson(student, day, day, student.lesson_time, state, change, holiday)
            day += A_WEEK

    def _changed(self, student: Student, first: date, last: date) -> Iterator[Lesson]:
        for change in self._changes.get(student.id, {}).values():
            if change.moved_to is not None and first <= change.moved_to <= last:
                at = change.at or student.lesson_time
                yield Lesson(student, change.day, change.moved_to, at, "moved", change)


def _order(lesson: Lesson) -> tuple[date, str, str]:
    return lesson.day, lesson.at or "~", lesson.student.name.casefold()


def almanac_of(studio: Studio) -> Almanac:
    """Read the holidays and changed lessons of a studio."""
    return Almanac(studio.lessons.changes(), studio.lessons.holidays())


def days_between(first: date, last: date) -> Iterator[date]:
    """Give the days from one to another, both included."""
    for number in range((last - first).days + 1):
        yield first + timedelta(days=number)


def lessons_of(almanac: Almanac, students: Iterable[Student], first: date, last: date) -> list[Lesson]:
    """List the lessons of many students between two days, in the order of their time."""
    return sorted(
        (lesson for student in students for lesson in almanac.lessons(student, first, last)), key=_order
    )


def short_name(name: str) -> str:
    """Cut a name to the first name and a letter.

    >>> short_name("Nora Veldt"), short_name("Nora"), short_name("Petra van Ashdown")
    ('Nora V.', 'Nora', 'Petra A.')
    """
    first, *rest = name.split() or [""]
    return f"{first} {rest[-1][0].upper()}." if rest else first


def feed_of(studio: Studio, now: datetime) -> bytes:
    """Write the lessons from two weeks ago to twelve weeks ahead as a calendar.

    The same lessons give the same bytes, but for the moment at which they were asked for.
    """
    from icalendar import Calendar

    facts, today = studio.facts, now.date()
    calendar = Calendar()
    calendar.add("prodid", "-//Evenhand//lessons//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", f"{facts.name}: lessons")
    calendar.add("refresh-interval", ASKED_EVERY, parameters={"VALUE": "DURATION"})
    found = lessons_of(almanac_of(studio), studio.students.all(), today - FEED_BACK, today + FEED_AHEAD)
    for lesson in found:
        if lesson.takes_place:
            calendar.add_component(_event(lesson, facts.lesson_minutes, now))
    return bytes(calendar.to_ical())


def _event(lesson: Lesson, minutes: int, now: datetime) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", f"{lesson.student.id}-{lesson.usual.isoformat()}@lessons.evenhand")
    event.add("dtstamp", now.astimezone(UTC))
    event.add("summary", short_name(lesson.student.name))
    if lesson.at:
        begins = local_moment(lesson.day, lesson.at).astimezone(UTC)
        event.add("dtstart", begins)
        event.add("dtend", begins + timedelta(minutes=minutes))
    else:
        event.add("dtstart", lesson.day)
        event.add("dtend", lesson.day + timedelta(days=1))
    return event


def local_moment(day: date, at: str) -> datetime:
    """Return a day and a time on the teacher's own clock as a moment, summer time or not."""
    return datetime.combine(day, time.fromisoformat(at)).astimezone()


def clashes(lessons: Sequence[Lesson], minutes: int) -> list[tuple[Lesson, Lesson]]:
    """List the neighbours among lessons of which one begins before the other is over."""
    given = [each for each in lessons if each.takes_place and each.at]
    return [
        (one, other)
        for one, other in pairwise(given)
        if one.day == other.day and _minutes_of(other.at) - _minutes_of(one.at) < minutes
    ]


def _minutes_of(at: str) -> int:
    hours, minutes = at.split(":")
    return 60 * int(hours) + int(minutes)
