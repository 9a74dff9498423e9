"""The teacher's day."""

from __future__ import annotations

import re
from datetime import date, timedelta
from functools import lru_cache

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from evenhand.report.plots.week import DayMarks, week_marks
from evenhand.report.words.figures import capitalised, count_words
from evenhand.studio.desk import DAYS, Desk, Glances, desk_of
from evenhand.web.pages import now, page, said_here, weekday_words, when_words
from evenhand.web.requests import studio_of
from evenhand.web.threads import News, news_of
from evenhand.web.views.whole.lessons import state_words

GLANCES = Glances()
_TIED = re.compile(r"(?<=\d) (?=(?:ms|dB|bpm|%)(?!\w))|(?<=\d) (?=to -?\d)|(?<=\d\sto) (?=-?\d)")


def today(request: Request) -> Response:
    """Show who comes next, what came in, and what to hear first."""
    at = now().astimezone()
    desk = desk_of(studio_of(request), at, GLANCES)
    return page(
        request,
        "today.html",
        desk=desk,
        answers=_answers(request),
        said=said_here(request),
        summary=summary_words(desk),
        week_picture=week_picture,
        small_picture=lambda line: Markup(line.glance.picture),  # noqa: S704 - our own drawing
        heading=lambda day: heading_words(day, at.date()),
        when=lambda take: when_words(take.recorded_at, at.date()),
        state_of=state_words,
        tied=tied,
    )


def _answers(request: Request) -> dict[str, list[News]]:
    """List what students said and the teacher has not opened, by student."""
    answers: dict[str, list[News]] = {}
    for each in news_of(request, studio_of(request).threads.unread("student"), ""):
        answers.setdefault(each.said.student_id, []).append(each)
    return answers


def summary_words(desk: Desk) -> list[str]:
    """Say the day in two or three sentences."""
    since = weekday_words(desk.today - timedelta(days=DAYS - 1))
    lessons = f"{capitalised(count_words(desk.lessons_today, 'lesson'))} today."
    came = f"{capitalised(count_words(desk.came, 'take has', 'takes have'))} come in since {since}."
    waits = f"{capitalised(count_words(desk.waits, 'is', 'are'))} still to be heard."
    return [
        lessons if desk.lessons_today else "No lesson today.",
        came if desk.came else f"No take has come in since {since}.",
        *([waits] if desk.waits else []),
    ]


def heading_words(day: date | None, today: date) -> str:
    """Name a day of lessons: today, tomorrow, or its date."""
    if day is None:
        return "No lesson day set"
    if day == today:
        return "Today"
    words = weekday_words(day)
    return f"Tomorrow, {words}" if day == today + timedelta(days=1) else words


def tied(words: str) -> str:
    r"""Tie figures to their units and an interval's ends to each other, so that no line breaks between.

    >>> tied("16 ms (13 to 18)").split(" ")
    ['16\xa0ms', '(13\xa0to\xa018)']
    """
    return _TIED.sub("\N{NO-BREAK SPACE}", words)


@lru_cache(maxsize=512)
def week_picture(days: tuple[DayMarks, ...]) -> Markup:
    """Draw the week."""
    return Markup(week_marks(days))  # noqa: S704 - our own drawing, its words escaped
