"""What a day of practice is called, the same on every page of the stand."""

from __future__ import annotations

from datetime import date, timedelta

from evenhand.application.plan_calendar import DAYS_A_WEEK
from evenhand.application.practice_day import WeeksNow, standing_of
from evenhand.application.studio_stand import StandDay
from evenhand.web.pages import day_words
from evenhand.web.texts import say


def day_title(day: StandDay, today: date) -> str:
    """Call it today's, a day of this or the next week, or last week's."""
    if day.is_today:
        return say("stand.today", n=day.minutes)
    if day.standing != "over":
        return say("stand.day", n=day.minutes, day=day.number)
    if today < day.week.starts + timedelta(days=2 * DAYS_A_WEEK):
        return say("stand.last_week", n=day.minutes)
    return say("stand.old_week", n=day.minutes, on=day_words(day.week.starts))


def day_note(day: StandDay, today: date, *, asked: bool = False, newer: bool = False) -> str:
    """Say which day it is where it is not today's; ``asked`` for by name, or ``newer`` practice is there."""
    if day.is_today:
        return ""
    facts = {"day": day.number, "of": day.of, "on": day_words(day.on), "starts": day_words(day.week.starts)}
    if day.standing == "early":
        return say("stand.early", **facts)
    if day.standing == "over":
        return say("stand.over_newer" if newer else "stand.over", **facts)
    if asked:
        return say("stand.of_days", **facts)
    return say("stand.free_day" if day.on < today else "stand.free_day_ahead", **facts)


def beside_words(weeks: WeeksNow, shown: StandDay, today: date) -> tuple[str, str] | None:
    """Return the address and the words of the other week that can be looked at."""
    other = next((each for each in (weeks.week, weeks.beside) if each and each.id != shown.week.id), None)
    if other is None:
        return None
    key = {"early": "stand.beside_next", "running": "stand.beside_this", "over": "stand.beside_last"}
    starts = day_words(other.starts)
    return f"/stand?week={other.id}", say(key[standing_of(other, today)], starts=starts)
