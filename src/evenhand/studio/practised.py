"""On which days a student practised, and for how long, as far as it was recorded.

Conventions: days and weeks (from Monday) are on the teacher's own clock; seconds are those of the
recordings, pauses and rests left out. What could not be heard counts for nothing, as on the stand; the
teacher's own takes are not the student's. The newest week comes first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from evenhand.studio.desk import is_students
from evenhand.studio.stand.day import seconds_of
from evenhand.studio.values import StudioTake, day_recorded

WEEKS = 6
DAYS_A_WEEK = 7


@dataclass(frozen=True, slots=True)
class PractisedDay:
    """One day; ``seconds`` is None on one that is still to come."""

    day: date
    seconds: float | None

    @property
    def minutes(self) -> int:
        """Whole minutes; what was recorded at all is one at least."""
        return max(1, round(self.seconds / 60)) if self.seconds else 0


@dataclass(frozen=True, slots=True)
class PractisedWeek:
    """The seven days of a week."""

    days: tuple[PractisedDay, ...]

    @property
    def monday(self) -> date:
        """The week's first day."""
        return self.days[0].day

    @property
    def practised(self) -> int:
        """On how many days something was recorded."""
        return sum(bool(day.seconds) for day in self.days)

    @property
    def minutes(self) -> int:
        """The week's minutes, as its days show them."""
        return sum(day.minutes for day in self.days)


def practised_weeks(
    takes: Iterable[StudioTake], now: datetime, weeks: int = WEEKS
) -> tuple[PractisedWeek, ...]:
    """Count the recorded seconds of the newest weeks; ``now`` is on the teacher's clock, aware."""
    seconds = dict[date, float]()
    for take in takes:
        if is_students(take) and take.status != "failed":
            day = day_recorded(take, now)
            seconds[day] = seconds.get(day, 0.0) + seconds_of(take)
    mondays = (_monday(now.date()) - timedelta(weeks=back) for back in range(weeks))
    return tuple(PractisedWeek(tuple(_days(monday, seconds, now.date()))) for monday in mondays)


def counted_since(now: datetime, weeks: int = WEEKS) -> datetime:
    """Return when the oldest of the weeks began."""
    return datetime.combine(_monday(now.date()) - timedelta(weeks=weeks - 1), time(), now.tzinfo)


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _days(monday: date, seconds: dict[date, float], today: date) -> Iterator[PractisedDay]:
    for day in (monday + timedelta(days=number) for number in range(DAYS_A_WEEK)):
        yield PractisedDay(day, None if day > today else seconds.get(day, 0.0))
