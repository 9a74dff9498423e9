"""When something was, in words, on the teacher's own clock."""

from __future__ import annotations

from datetime import date, datetime

from evenhand.web.pages import clock_words
from evenhand.web.texts import say

NAMED_DAYS = 7  # within these a weekday's name is enough
DAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def when_words(moment: datetime, today: date) -> str:
    """Say when something was: today, yesterday, a weekday, or a date; and the time."""
    day, clock = moment.astimezone().date(), clock_words(moment)
    days = (today - day).days
    if days in {0, 1}:
        return say("desk.when_yesterday" if days else "desk.when_today", clock=clock)
    named = f"{day:%A}" if 1 < days < NAMED_DAYS else f"{day.day} {day:%B}"
    if day.year != today.year:
        named = f"{named} {day.year}"
    return say("desk.when_day", day=named, clock=clock)
