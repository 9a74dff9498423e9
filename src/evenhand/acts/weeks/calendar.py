"""A week's plan as a calendar file (iCalendar, RFC 5545).

Conventions: one event a practice day, at the student's own local time (a floating time: no
time zone), as long as the day's practice. The same plan gives the same bytes: the time stamp
is the week's first day.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING

from evenhand.music.text import print_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.report.words.figures import PRACTICE_CAUTION, count

if TYPE_CHECKING:
    from icalendar import Event


DAYS_A_WEEK = 7


def calendar_of(plan: PracticePlan, starts: date, at: time) -> bytes:
    """Write a plan's days as calendar events, spread over the week that begins on ``starts``."""
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", "-//Evenhand//practice//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    for index, day in enumerate(plan.days):
        if not day.items:
            continue
        on = date_of_day(starts, index, len(plan.days))
        calendar.add_component(_event(plan, day, datetime.combine(on, at), starts))
    return bytes(calendar.to_ical())


def date_of_day(starts: date, index: int, days: int) -> date:
    """Say on which date a day of a plan lies.

    >>> date_of_day(date(2026, 3, 2), 3, 5)
    datetime.date(2026, 3, 6)
    """
    return starts + timedelta(days=day_of_week(index, days))


def day_of_week(index: int, days: int) -> int:
    """Spread days over a week: how many days after its first.

    >>> [day_of_week(index, 5) for index in range(5)]
    [0, 1, 2, 4, 5]
    """
    if days > DAYS_A_WEEK:
        return index
    return index * DAYS_A_WEEK // days


def _event(plan: PracticePlan, day: PracticeDay, begins: datetime, stamp: date) -> Event:
    from icalendar import Event

    minutes = round(day.seconds / 60)
    event = Event()
    whose = f", {plan.student}" if plan.student else ""
    event.add("summary", f"Hand practice, {minutes} min{whose}")
    event.add("dtstart", begins)
    event.add("dtend", begins + timedelta(minutes=minutes))
    event.add("dtstamp", datetime.combine(stamp, time(), tzinfo=UTC))
    lines = [_line(item) for item in day.items]
    event.add("description", "\n".join([*lines, "", PRACTICE_CAUTION]))
    event.add("uid", _uid(plan, begins, lines))
    return event


def _line(item: PracticeItem) -> str:
    what = item.title or print_exercise(item.exercise)
    stroke = f", {item.stroke} strokes" if item.stroke else ""
    sticking = f" ({print_exercise(item.exercise)})" if item.title else ""
    often = count(item.repetitions, "repetition")
    return f"{what}{sticking}: {item.tempo}{stroke}, {often}, then {item.rest_s:.0f} s rest"


def _uid(plan: PracticePlan, begins: datetime, lines: list[str]) -> str:
    key = hashlib.sha256("\n".join([plan.student, begins.isoformat(), *lines]).encode()).hexdigest()
    return f"{key[:32]}@evenhand"
