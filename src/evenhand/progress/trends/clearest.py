"""The one change of a student's weeks that is clearest: what is said where only one thing is.

Conventions: the clearest of many must be told from the luckiest of many. Of m measures that are judged, each
by its 95 % range, one in twenty looks changed by chance; so the one that is chosen must stand out by as much
as a range of 1 - 0.05 / m would ask (Bonferroni's bound: any textbook of statistics), its range widened as a
normal one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from statistics import NormalDist

from evenhand.progress.trends.trajectory import ExerciseProgress, MeasureTrajectory, StudentProgress

CHANCE = 0.05


@dataclass(frozen=True, slots=True)
class ClearestChange:
    """A measure's course and the exercise it is of; ``is_sure`` where it changed beyond chance."""

    of: ExerciseProgress
    course: MeasureTrajectory
    is_sure: bool


def clearest_change(progress: StudentProgress) -> ClearestChange | None:
    """Choose the course that changed most surely, one for the better first; None where none can be followed.

    Where none changed beyond chance, the one that was heard on most days.
    """
    rows = list(_courses(progress))
    judged = [row for row in rows if row[1].change is not None]
    sure = [row for row in judged if _stands_out(row[1]) > widened(len(judged))]
    for told in ("better", "worse"):
        of_it = [row for row in sure if row[1].change and row[1].change.direction == told]
        if of_it:
            each, course = max(of_it, key=lambda row: _stands_out(row[1]))
            return ClearestChange(each, course, is_sure=True)
    if not rows:
        return None
    each, course = max(rows, key=lambda row: row[1].days)
    return ClearestChange(each, course, is_sure=False)


def widened(judged: int) -> float:
    """Return how many times a 95 % range's half width a change must be, where so many are judged.

    >>> round(widened(1), 2), round(widened(20), 2)
    (1.0, 1.54)
    """
    usual = NormalDist()
    return usual.inv_cdf(1 - CHANCE / 2 / max(judged, 1)) / usual.inv_cdf(1 - CHANCE / 2)


def _courses(progress: StudentProgress) -> Iterator[tuple[ExerciseProgress, MeasureTrajectory]]:
    """Give every course that can be better or worse."""
    for each in progress.exercises:
        for course in each.trajectories:
            if course.followed.better != "neither":
                yield each, course


def _stands_out(course: MeasureTrajectory) -> float:
    """Return how many half widths of its 95 % range a change lies from none."""
    if course.change is None or course.change.per_week.ci95 is None:
        return 0.0
    low, high = course.change.per_week.ci95
    half = (high - low) / 2
    return abs(low + high) / 2 / half if half > 0 else 0.0
