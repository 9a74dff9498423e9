"""The teacher's day: who comes next, what came in from each, what was heard in it, what to hear first.

Conventions: days and lesson times are on the teacher's own clock; takes' moments are aware. The week
shown is the seven days that end today. What is said of a student is said of one take, the one to hear
first: of the newest heard ones, the newest in which something was found.

A heard take at a glance: the one or two things found, and its picture in small.

Conventions: what was heard comes as the JSON of docs/json.md. A take that was heard blind has no picture and
no findings; of JSON that is another's there is nothing to see: that is None, not an error.

What takes long to make, kept in memory for the next time it is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from threading import Lock
from typing import Generic, TypeVar

from evenhand.acts.takes.document import heard_take_of
from evenhand.errors import BadDocument
from evenhand.report.plots.week import DayMarks
from evenhand.report.take.small import small_folded, small_take
from evenhand.report.words.findings import finding_sentences
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import BEGINS_AT, VERSION, Student, StudioTake, TakeOutline, day_recorded
from evenhand.studio.whole.lessons import Almanac, Lesson, almanac_of, lessons_of

Made = TypeVar("Made")


class Cache(Generic[Made]):
    """Things by what they were made of; when there are too many, the one made first goes."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: dict[Hashable, Made] = {}
        self._lock = Lock()

    def get(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """Give a thing, made now if it is not there; two who ask at once may both make it."""
        with self._lock:
            if key in self._kept:
                return self._kept[key]
        made = make()
        self.put(key, made)
        return made

    def put(self, key: Hashable, made: Made) -> None:
        """Keep a thing that was made elsewhere."""
        with self._lock:
            while len(self._kept) >= self._most and key not in self._kept:
                self._kept.pop(next(iter(self._kept)))
            self._kept[key] = made

    def look(self, key: Hashable) -> Made | None:
        """Give a thing if it is there."""
        with self._lock:
            return self._kept.get(key)


MOST_FINDINGS = 2
KEPT = 512  # glances kept: a studio's newest takes, some 10 kB each
_NOTHING_FOUND = frozenset({"even", "cannot_tell"})


@dataclass(frozen=True, slots=True)
class Glance:
    """What is seen at a glance. ``found`` tells whether there is something to work at; ``picture`` is SVG."""

    findings: tuple[str, ...]
    found: bool
    picture: str


class Glances:
    """The glances at a studio's newest takes, kept, so that the desk need not read them each time.

    A take that was corrected by hand is read anew each time; any other is heard the same from the same
    recording, so long as the same is asked of it.
    """

    def __init__(self, most: int = KEPT) -> None:
        self._kept: Cache[Glance | None] = Cache(most)

    def at(self, studio: Studio, take: StudioTake) -> Glance | None:
        """Glance at a heard take; None where what was heard cannot be read."""
        if take.corrected:
            return _read(studio, take)
        return self._kept.get(asked_of(take), lambda: _read(studio, take))


def asked_of(take: StudioTake | TakeOutline) -> Hashable:
    """Name what was asked of a take: heard again as the same, the same is heard in it."""
    facts = take.facts.get(BEGINS_AT), take.facts.get(VERSION)
    return take.id, take.exercise, take.tempo, take.click, take.latency_ms, *facts


def _read(studio: Studio, take: StudioTake) -> Glance | None:
    whole = studio.takes.find(take.id)
    return glance_at(whole.heard) if whole and whole.heard else None


def glance_at(heard: str) -> Glance | None:
    """Glance at what was heard; None where it cannot be read."""
    try:
        take = heard_take_of(heard)
    except BadDocument:
        return None
    small = small_take(take)
    found = [each for each in take.findings if each.kind not in _NOTHING_FOUND]
    said = found or sorted(take.findings, key=lambda each: each.kind == "cannot_tell")
    sentences = tuple(finding_sentences(each, take.exercise)[0] for each in said[:MOST_FINDINGS])
    return Glance(sentences, bool(found), small_folded(small) if small else "")


DAYS = 7
LESSON = timedelta(minutes=60)  # so long after its beginning a lesson still counts as the one that is on
LOOKED_AT = 3  # newest heard takes among which the one to hear first is chosen
NEWEST = 8  # takes looked through for a heard one where the week has none


@dataclass(frozen=True, slots=True)
class DeskLine:
    """One student's line. ``lesson`` is when the next lesson begins, None where none is in sight.

    ``planned`` is that lesson, moved maybe. ``came`` are the week's takes, ``waits`` those of them not
    heard yet, ``failed`` those that could not be.
    """

    student: Student
    lesson: datetime | None
    planned: Lesson | None
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
    """All of it. ``next_id`` is the student who comes next today; ``off`` are today's lessons not given."""

    today: date
    days: tuple[DeskDay, ...]
    lessons_today: int
    came: int
    waits: int
    next_id: str | None
    off: tuple[Lesson, ...] = ()


def desk_of(studio: Studio, now: datetime, glances: Glances) -> Desk:
    """Lay out the teacher's day; ``now`` is on the teacher's own clock, aware."""
    today = now.date()
    since = datetime.combine(today - timedelta(days=DAYS - 1), time(), now.tzinfo)
    came: dict[str, list[StudioTake]] = {}
    for take in studio.takes.all(since=since):
        if is_students(take):
            came.setdefault(take.student_id, []).append(take)
    almanac = almanac_of(studio)
    students = studio.students.all()
    lines = [_line(studio, glances, student, came.get(student.id, []), now, almanac) for student in students]
    days = _by_day(lines)
    lessons = next((day.lines for day in days if day.day == today), ())
    return Desk(
        today=today,
        days=days,
        lessons_today=len(lessons),
        came=sum(line.came for line in lines),
        waits=sum(line.waits for line in lines),
        next_id=next((line.student.id for line in lessons if _is_to_come(line, now)), None),
        off=tuple(each for each in lessons_of(almanac, students, today, today) if not each.takes_place),
    )


def is_students(take: StudioTake | TakeOutline) -> bool:
    """Tell whether a take is the student's own, not the teacher's."""
    return take.source != "teacher" and not take.model


def _begins(lesson: Lesson | None, now: datetime) -> datetime | None:
    if lesson is None:
        return None
    at = time.fromisoformat(lesson.at) if lesson.at else time()
    return datetime.combine(lesson.day, at, now.tzinfo)


def _line(
    studio: Studio,
    glances: Glances,
    student: Student,
    came: Sequence[StudioTake],
    now: datetime,
    almanac: Almanac,
) -> DeskLine:
    planned = almanac.next_lesson(student, now.date())
    chosen = _chosen(studio, glances, student, came)
    return DeskLine(
        student=student,
        lesson=_begins(planned, now),
        planned=planned,
        week=_week(came, student, now),
        came=len(came),
        waits=sum(take.status in {"waiting", "hearing"} for take in came),
        failed=tuple(take for take in came if take.status == "failed"),
        hear=chosen[0] if chosen else None,
        glance=chosen[1] if chosen else None,
    )


def _chosen(
    studio: Studio, glances: Glances, student: Student, came: Sequence[StudioTake]
) -> tuple[StudioTake, Glance] | None:
    """Read what was heard of the newest takes, as few of them as will do."""
    heard = [take for take in came if take.status == "heard"]
    if not heard:
        older = studio.takes.all(student.id, limit=NEWEST)
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
        day = day_recorded(take, now)
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
    days = [DeskDay(day, tuple(sorted(dated[day], key=_time_of))) for day in sorted(dated)]
    undated = tuple(line for line in lines if line.lesson is None)
    return (*days, DeskDay(None, undated)) if undated else tuple(days)


def _time_of(line: DeskLine) -> str:
    """Give the lesson's time to sort by; without one it comes last."""
    return (line.planned.at if line.planned else "") or "~"


def _is_to_come(line: DeskLine, now: datetime) -> bool:
    if line.lesson is None or line.planned is None:
        return False
    return not line.planned.at or line.lesson + LESSON > now
