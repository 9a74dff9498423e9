"""The day that is shown on the stand, and what it is called: the same on every page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from starlette.requests import Request

from evenhand.application.plan_calendar import DAYS_A_WEEK
from evenhand.application.practice_day import WeeksNow, standing_of, weeks_now
from evenhand.application.studio_stand import StandDay, stand_day, takes_since
from evenhand.application.whole_number import whole_number
from evenhand.domain.studio import Student
from evenhand.web.pages import day_words, today
from evenhand.web.texts import say


@dataclass(frozen=True, slots=True)
class Shown:
    """The weeks there are, and the day of one of them that is shown."""

    weeks: WeeksNow
    day: StandDay | None


def weeks_of(request: Request, student: Student) -> WeeksNow:
    """Return the weeks that the student can look at."""
    return weeks_now(request.app.state.studio.weeks(student.id), today())


def shown_day(request: Request, student: Student) -> Shown:
    """Return the day that is shown: today's, or the one that the address asks for."""
    weeks = weeks_of(request, student)
    week = weeks.named(request.query_params.get("week", ""))
    if week is None:
        return Shown(weeks, None)
    wanted = request.query_params.get("day", "")
    found = request.app.state.studio.takes(student.id, since=takes_since(week))
    day = stand_day(week, today(), found, wanted=whole_number(wanted))
    return Shown(weeks, day)


def named(request: Request, shown: Shown, day: StandDay) -> dict[str, Any]:
    """Return what the day is called."""
    newer = shown.weeks.week is not None and shown.weeks.week.id != day.week.id
    asked = "day" in request.query_params
    return {
        "day": day,
        "day_title": day_title(day, today()),
        "day_note": day_note(day, today(), asked=asked, newer=newer),
        "beside": beside_words(shown.weeks, day, today()),
    }


def day_title(day: StandDay, on: date) -> str:
    """Call it today's, a day of this or the next week, or last week's."""
    if day.is_today:
        return say("stand.today", n=day.minutes)
    if day.standing == "early":
        return say("stand.next_week", n=day.minutes)
    if day.standing != "over":
        return say("stand.day", n=day.minutes, day=day.number)
    if on < day.week.starts + timedelta(days=2 * DAYS_A_WEEK):
        return say("stand.last_week", n=day.minutes)
    return say("stand.old_week", n=day.minutes, on=day_words(day.week.starts))


def day_note(day: StandDay, on: date, *, asked: bool = False, newer: bool = False) -> str:
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
    return say("stand.free_day" if day.on < on else "stand.free_day_ahead", **facts)


def beside_words(weeks: WeeksNow, shown: StandDay, on: date) -> tuple[str, str] | None:
    """Return the address and the words of the other week that can be looked at."""
    other = next((each for each in (weeks.week, weeks.beside) if each and each.id != shown.week.id), None)
    if other is None:
        return None
    key = {"early": "stand.beside_next", "running": "stand.beside_this", "over": "stand.beside_last"}
    starts = day_words(other.starts)
    return f"/stand?week={other.id}", say(key[standing_of(other, on)], starts=starts)
