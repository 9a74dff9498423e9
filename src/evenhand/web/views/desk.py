"""The teacher's day."""

from __future__ import annotations

from datetime import date, timedelta

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from evenhand.application.studio_desk import DAYS, Desk, DeskLine, desk_of
from evenhand.domain.studio import StudioTake
from evenhand.pages.small_folded import small_folded
from evenhand.pages.week_marks import DayMarks, week_marks
from evenhand.web.moments import when_words
from evenhand.web.pages import day_words, now, page
from evenhand.web.texts import say


def today(request: Request) -> Response:
    """Show who comes next, what came in, and what to hear first."""
    at = now().astimezone()
    desk = desk_of(request.app.state.studio, at)
    return page(
        request,
        "today.html",
        desk=desk,
        said=request.query_params.get("said", ""),
        summary=summary_words(desk),
        week_picture=week_picture,
        small_picture=small_picture,
        heading=lambda day: heading_words(day, at.date()),
        when=lambda take: when_words(take.recorded_at, at.date()),
    )


def summary_words(desk: Desk) -> list[str]:
    """Say the day in two or three sentences."""
    since = day_words(desk.today - timedelta(days=DAYS - 1))
    lessons = say("desk.lessons", n=desk.lessons_today) if desk.lessons_today else say("desk.no_lessons")
    came = say("desk.came" if desk.came else "desk.none_came", n=desk.came, since=since)
    return [lessons, came, *([say("desk.waits", n=desk.waits)] if desk.waits else [])]


def heading_words(day: date | None, today: date) -> str:
    """Name a day of lessons: today, tomorrow, or its date."""
    if day is None:
        return say("desk.day_none")
    if day == today:
        return say("desk.day_today")
    words = day_words(day)
    return say("desk.day_tomorrow", day=words) if day == today + timedelta(days=1) else words


def week_picture(days: tuple[DayMarks, ...]) -> Markup:
    """Draw the week."""
    return Markup(week_marks(days))  # noqa: S704 - our own drawing, its words escaped


def small_picture(line: DeskLine) -> Markup:
    """Draw the take to hear first in small; nothing where there is none."""
    if line.hear is None or line.glance is None or line.glance.picture is None:
        return Markup()
    return Markup(small_folded(line.glance.picture, title=small_words(line.hear)))  # noqa: S704 - the same


def small_words(take: StudioTake) -> str:
    """Say what the small picture is."""
    return say("desk.small", exercise=take.exercise, tempo=take.tempo)
