"""The teacher's day: who comes next, what came in from each, what was heard in it, what to hear first.

Conventions: days and lesson times are on the teacher's own clock; takes' moments are aware. The week
shown is the seven days that end today. What is said of a student is said of one take, the one to hear
first: of the newest heard ones, the newest in which something was found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Protocol

from evenhand.application.studio_glance import Glance, Glances
from evenhand.domain.studio import Student, StudioTake
from evenhand.pages.week_marks import DayMarks

DAYS = 7
LESSON = timedelta(minutes=60)  # so long after its beginning a lesson still counts as the one that is on
LOOKED_AT = 3  # newest heard takes among which the one to hear first is chosen
NEWEST = 8  # takes looked through for a heard one where the week has none


class HasTakes(Protocol):
    """The part of a studio that the desk asks."""

    def students(self, *, archived: bool = False) -> list[Student]:
        """List the students who come, or those who are archived."""
        ...

    def takes(
        self, student_id: str | None = None, *, since: datetime | None = None, limit: int | None = None
    ) -> list[StudioTake]:
        """List takes, newest first, without what was heard."""
        ...

    def take(self, id: str) -> StudioTake | None:  # noqa: A002 - the studio's word
        """Find a take, with what was heard."""
        ...


@dataclass(frozen=True, slots=True)
class DeskLine:
    """One student's line. ``lesson`` is when the next lesson begins, None where no day is set.

    ``came`` are the week's takes, ``waits`` those of them not heard yet, ``failed`` those that could not be.
    """

    student: Student
    lesson: datetime | None
    week: tuple[DayMarks, ...]
    came: int
    waits: int
    failed: tuple[StudioTake, ...]
    hear: StudioTake | None
    glance: Glance | None


@dataclass(frozen=True, slots=True)
class DeskDay:
    """The lessons of one day; ``day`` is None for students without one."""

    day: date | None
    lines: tuple[DeskLine, ...]


@dataclass(frozen=True, slots=True)
class Desk:
    """All of it. ``next_id`` is the student who comes next today."""

    today: date
    days: tuple[DeskDay, ...]
    lessons_today: int
    came: int
    waits: int
    next_id: str | None


def desk_of(studio: HasTakes, now: datetime, glances: Glances) -> Desk:
    """Lay out the teacher's day; ``now`` is on the teacher's own clock, aware."""
    today = now.date()
    since = datetime.combine(today - timedelta(days=DAYS - 1), time(), now.tzinfo)
    came: dict[str, list[StudioTake]] = {}
    for take in studio.takes(since=since):
        if is_students(take):
            came.setdefault(take.student_id, []).append(take)
    lines = [_line(studio, glances, student, came.get(student.id, []), now) for student in studio.students()]
    days = _by_day(lines)
    lessons = next((day.lines for day in days if day.day == today), ())
    return Desk(
        today=today,
        days=days,
        lessons_today=len(lessons),
        came=sum(line.came for line in lines),
        waits=sum(line.waits for line in lines),
        next_id=next((line.student.id for line in lessons if _is_to_come(line, now)), None),
    )


def is_students(take: StudioTake) -> bool:
    """Tell whether a take is the student's own, not the teacher's."""
    return take.source != "teacher" and not take.model


def next_lesson(student: Student, now: datetime) -> datetime | None:
    """Return when a student's next lesson begins; today's stays the next one until the day is over."""
    if student.lesson_day is None:
        return None
    ahead = (student.lesson_day - now.weekday()) % 7
    at = time.fromisoformat(student.lesson_time) if student.lesson_time else time()
    return datetime.combine(now.date() + timedelta(days=ahead), at, now.tzinfo)


def _line(
    studio: HasTakes, glances: Glances, student: Student, came: Sequence[StudioTake], now: datetime
) -> DeskLine:
    lesson = next_lesson(student, now)
    chosen = _chosen(studio, glances, student, came)
    return DeskLine(
        student=student,
        lesson=lesson,
        week=_week(came, student, now),
        came=len(came),
        waits=sum(take.status in {"waiting", "hearing"} for take in came),
        failed=tuple(take for take in came if take.status == "failed"),
        hear=chosen[0] if chosen else None,
        glance=chosen[1] if chosen else None,
    )


def _chosen(
    studio: HasTakes, glances: Glances, student: Student, came: Sequence[StudioTake]
) -> tuple[StudioTake, Glance] | None:
    """Read what was heard of the newest takes, as few of them as will do."""
    heard = [take for take in came if take.status == "heard"]
    if not heard:
        older = studio.takes(student.id, limit=NEWEST)
        heard = [take for take in older if take.status == "heard" and is_students(take)]
    first: tuple[StudioTake, Glance] | None = None
    for take in heard[:LOOKED_AT]:
        glance = glances.at(studio, take)
        if glance is not None and glance.found:
            return take, glance
        first = first or (None if glance is None else (take, glance))
    return first


def _week(came: Sequence[StudioTake], student: Student, now: datetime) -> tuple[DayMarks, ...]:
    counts: dict[date, int] = {}
    for take in came:
        day = take.recorded_at.astimezone(now.tzinfo).date()
        counts[day] = counts.get(day, 0) + 1
    days = [now.date() - timedelta(days=back) for back in reversed(range(DAYS))]
    return tuple(
        DayMarks(f"{day:%a}", counts.get(day, 0), day.weekday() == student.lesson_day) for day in days
    )


def _by_day(lines: Sequence[DeskLine]) -> tuple[DeskDay, ...]:
    """Group lines by the day of their lesson, in order of time; those without a day come last."""
    dated: dict[date, list[DeskLine]] = {}
    for line in lines:
        if line.lesson is not None:
            dated.setdefault(line.lesson.date(), []).append(line)
    days = [
        DeskDay(day, tuple(sorted(dated[day], key=lambda line: line.student.lesson_time or "~")))
        for day in sorted(dated)
    ]
    undated = tuple(line for line in lines if line.lesson is None)
    return (*days, DeskDay(None, undated)) if undated else tuple(days)


def _is_to_come(line: DeskLine, now: datetime) -> bool:
    return line.lesson is not None and (not line.student.lesson_time or line.lesson + LESSON > now)
