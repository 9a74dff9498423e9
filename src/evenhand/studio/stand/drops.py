"""Drops on the stand: which takes are of drops, the grips they were named by, and which bounces longest.

Conventions: days are on the teacher's own clock. A take of drops is one whose exercise is of drops, whatever
it was recorded with; its grip is what the student named, "" where nothing was.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from functools import lru_cache

from evenhand.errors import BadExercise
from evenhand.music.exercise import Exercise
from evenhand.music.library.strokes import drop_hands, is_drops
from evenhand.music.text import parse_exercise
from evenhand.progress.bounce.grips import WINDOW_DAYS, HandGrips, compare_grips
from evenhand.progress.bounce.restitution import HeardDrop
from evenhand.progress.history import PastBounce
from evenhand.report.take.drops import stand_drops
from evenhand.studio.desk import is_students
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import history_of
from evenhand.studio.values import GRIP, Student, StudioTake

MOST_TAKES = 60  # of drops that are compared
MOST_GRIPS = 6  # named before, that are offered again


def hands_dropped(exercise: Exercise) -> str:
    """Return the hands of an exercise's drops in their order; "" where it is of strokes.

    >>> hands_dropped(parse_exercise("1/2: R- L-")), hands_dropped(parse_exercise("1/8: RLRL"))
    ('RL', '')
    """
    return "".join(drop_hands(exercise, len(exercise.struck))) if is_drops(exercise) else ""


@lru_cache(maxsize=1024)
def is_text_of_drops(exercise_text: str) -> bool:
    """Tell whether an exercise's text is of drops; what cannot be read is not."""
    try:
        return bool(exercise_text) and is_drops(parse_exercise(exercise_text))
    except BadExercise:
        return False


def dropped_takes(studio: Studio, student: Student, now: datetime) -> list[StudioTake]:
    """List the student's own takes of drops of the days that are compared, newest first, not yet read."""
    found = studio.takes.all(student.id, since=now - timedelta(days=WINDOW_DAYS))
    own = (take for take in found if is_students(take) and take.status != "failed")
    return [take for take in own if is_text_of_drops(take.exercise)][:MOST_TAKES]


def grips_named(takes: Iterable[StudioTake]) -> list[str]:
    """List the grips that takes were named by, the newest first."""
    named = dict.fromkeys(take.facts.get(GRIP, "") for take in takes)
    return [grip for grip in named if grip][:MOST_GRIPS]


def grips_so_far(studio: Studio, student: Student, now: datetime) -> tuple[HandGrips, ...]:
    """Compare the grips of a student's drops, each hand for itself."""
    ids = [take.id for take in dropped_takes(studio, student, now) if take.facts.get(GRIP)]
    heard = reversed(studio.takes.all(student.id, ids=ids, with_heard=True))
    return compare_grips(history_of((take for take in heard if take.heard), student, now).bounces)


def drops_of(take: StudioTake, student: Student, now: datetime) -> tuple[HeardDrop, ...] | None:
    """Return the drops of a heard take; None where it is none of drops."""
    bounces: tuple[PastBounce, ...] = history_of([take], student, now).bounces if take.heard else ()
    return bounces[0].drops if bounces else None


def drops_result(studio: Studio, take: StudioTake, now: datetime) -> str | None:
    """Return the markup of what was heard in a take of drops; None where it is none, or not heard yet."""
    if not is_text_of_drops(take.exercise) or take.status == "failed":
        return None
    student = studio.students.get(take.student_id)
    drops = drops_of(take, student, now)
    return None if drops is None else stand_drops(drops, grips_so_far(studio, student, now))
