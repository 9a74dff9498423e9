"""Which week, and which day of it, a student practises: one rule for every page and for the sheet.

Conventions: dates are on the teacher's own clock; a week lasts seven days from its first; the plan's days
count from 1 and lie on the dates that ``plan_calendar.date_of_day`` gives them.

The week is the newest one sent that has begun; once it is over, one that was sent ahead comes in its place.
What is sent can be seen at once: a week that has not begun stands beside the one that runs.

The day is the one that lies on today. Where none does, it is where the student left off: the last day of
which something was recorded, or the one after it where that one is done.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from evenhand.application.plan_calendar import DAYS_A_WEEK
from evenhand.domain.studio import Week

Standing = Literal["early", "running", "over"]


@dataclass(frozen=True, slots=True)
class WeeksNow:
    """The week to practise, and the other one that a student may look at: the next, or the last."""

    week: Week | None = None
    beside: Week | None = None

    def named(self, week_id: str) -> Week | None:
        """Return the one that is named, else the one to practise."""
        return next((each for each in (self.week, self.beside) if each and each.id == week_id), self.week)


def weeks_now(weeks: Iterable[Week], today: date) -> WeeksNow:
    """Choose from a student's weeks; drafts are nobody's but the teacher's."""
    sent = [each for each in weeks if each.sent_at is not None]
    begun = max((each for each in sent if each.starts <= today), key=_newness, default=None)
    ahead = [each for each in sent if each.starts > today]
    first = min((each.starts for each in ahead), default=None)
    coming = max((each for each in ahead if each.starts == first), key=_newness, default=None)
    if coming is not None and (begun is None or standing_of(begun, today) == "over"):
        return WeeksNow(coming, begun)
    return WeeksNow(begun, coming)


def _newness(week: Week) -> tuple[date, float]:
    return week.starts, week.sent_at.timestamp() if week.sent_at else 0.0


def standing_of(week: Week, today: date) -> Standing:
    """Say how a week stands to a day: not begun yet, on, or over.

    >>> standing_of(Week("", "", date(2026, 3, 3), "tap", ""), date(2026, 3, 10))
    'over'
    """
    if today < week.starts:
        return "early"
    return "running" if today < week.starts + timedelta(days=DAYS_A_WEEK) else "over"


def day_to_practise(
    dates: Mapping[int, date], begun: Collection[int], done: Collection[int], today: date
) -> int:
    """Choose a day by its number: ``dates`` are those with something on them, ``begun`` has recordings.

    >>> day_to_practise({1: date(2026, 3, 2), 2: date(2026, 3, 4)}, {1}, {1}, date(2026, 3, 3))
    2
    """
    numbers = sorted(dates)
    for number in numbers:
        if dates[number] == today:
            return number
    last = max((number for number in numbers if number in begun), default=None)
    if last is None:
        return numbers[0]
    after = next((number for number in numbers if number > last), None)
    return after if after is not None and last in done else last
