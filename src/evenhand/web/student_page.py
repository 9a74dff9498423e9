"""One student's page: what it shows, and the private link that is shown once.

The part of a student's page that takes a moment: the weeks in a picture and in words, the stage judged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from evenhand.report.print.lesson_sheet import qr_picture
from evenhand.report.words.figures import DAY_NAMES
from evenhand.report.words.practice import BLOCK_NAMES
from evenhand.studio.desk import glance_at
from evenhand.studio.path import stage_names
from evenhand.studio.stand.drops import is_text_of_drops
from evenhand.studio.stand.music import sentence_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import (
    WeekInShort,
    week_in_short,
)
from evenhand.studio.takes.models import model_of
from evenhand.studio.typed import whole_number
from evenhand.studio.values import LinkOpens, Student, StudentLink, StudioTake
from evenhand.studio.weeks.day import WeeksNow, standing_of, weeks_now
from evenhand.studio.weeks.next import story_words
from evenhand.web.pages import now, page, said_here, today, when_words
from evenhand.web.requests import address_of, studio_of
from evenhand.web.serving import LINK_LASTS, is_loopback
from evenhand.web.threads import news_of
from evenhand.web.views.takes import upload_facts

NEWEST, ON_A_PAGE = 10, 100
MOST_OF_WEEK = 12
NOTHING: Mapping[str, str] = {}
AT: Mapping[LinkOpens, str] = {"stand": "s", "days": "p"}


@dataclass(frozen=True, slots=True)
class MadeLink:
    """A link that was just made: the only moment in which its address is known."""

    address: str
    code: Markup
    until: datetime
    local: bool
    whom: str


@dataclass(frozen=True, slots=True)
class TakeRow:
    """A take in the list, and what is said of it."""

    take: StudioTake
    said: str


@dataclass(frozen=True, slots=True)
class ShownWeek:
    """A week that was sent, in short (None where its plan cannot be read), and whether it is on."""

    short: WeekInShort | None
    said: str


def made_link(request: Request, student: Student, opens: LinkOpens = "stand") -> MadeLink:
    """Make a link, and write the address that a phone needs."""
    secret, link = studio_of(request).access.make_link(student.id, lasts=LINK_LASTS, opens=opens)
    base = address_of(request)
    address = f"{base}/{AT[opens]}/{secret}"
    local = is_loopback(base.partition("://")[2].rpartition(":")[0].strip("[]") or "localhost")
    whom = student.name if opens == "stand" else f"a parent of {student.name}"
    return MadeLink(address, Markup(qr_picture(address)), link.expires_at, local, whom)  # noqa: S704 - our own drawing


def one_student(
    request: Request,
    student: Student,
    *,
    status: int = 200,
    typed: Mapping[str, str] = NOTHING,
    wrong: Mapping[str, str] = NOTHING,
    link: MadeLink | None = None,
) -> Response:
    """Show a student; after a mistake with what was typed, after a new link with the link."""
    studio = studio_of(request)
    number = page_of(request.query_params.get("all"))
    weeks = studio.weeks.all(student.id)
    n, skip = (NEWEST, 0) if number is None else (ON_A_PAGE, (number - 1) * ON_A_PAGE)
    takes = studio.takes.all(student.id, limit=n + 1, skip=skip, with_heard=number is None)
    models = studio.takes.models(student.id)
    answer = page(
        request,
        "student.html",
        status=status,
        student=student,
        facts=fact_words(student),
        weeks=shown_weeks(weeks_now(weeks, today()), today()),
        answers=news_of(request, studio.threads.unread("student", student.id), ""),
        model_of=lambda each: model_of(models, each.text, each.last_tempo),
        story_of=story_words,
        block_names=BLOCK_NAMES,
        most_of_week=MOST_OF_WEEK,
        newest_week=next((each for each in weeks if each.sent_at), next(iter(weeks), None)),
        takes=[TakeRow(take, said_of(take)) for take in takes[:n]],
        upload=upload_facts(student, takes[0] if takes else None),
        takes_page=number,
        more_takes=len(takes) > n,
        links=open_links(studio, student),
        parents=open_links(studio, student, "days"),
        stages=stage_names(studio),
        day_names=DAY_NAMES,
        values=typed if "name" in typed else typed_of(student),
        when=lambda take: when_words(take.recorded_at, today()),
        today=today(),
        typed=typed,
        wrong=wrong,
        link=link,
        said=said_here(request),
    )
    if link is not None:
        answer.headers["Cache-Control"] = "no-store"
    return answer


def shown_weeks(weeks: WeeksNow, today: date) -> list[ShownWeek]:
    """Say of the weeks that the student can see whether they are on."""
    found = sorted((each for each in (weeks.week, weeks.beside) if each), key=lambda week: week.starts)
    standing = [(week, standing_of(week, today)) for week in found]
    ahead = any(each == "early" for _, each in standing)
    said = {
        "early": "Sent. It can be seen and begun now.",
        "running": "",
        "over": "The week below is over, and the next is not sent yet.",
    }
    return [
        ShownWeek(week_in_short(week), said[each])
        for week, each in standing
        if not (each == "over" and ahead)
    ]


def page_of(text: str | None) -> int | None:
    """Read which page of all takes is asked for, from 1; None where only the newest are.

    >>> page_of(None), page_of(""), page_of("3"), page_of("x"), page_of("9" * 5000)
    (None, 1, 3, 1, 1)
    """
    return None if text is None else whole_number(text) or 1


def typed_of(student: Student) -> dict[str, str]:
    """Write a student's facts as the form has them."""
    return {
        "name": student.name,
        "stage": student.stage,
        "minor": "yes" if student.minor else "",
        "lesson_day": "" if student.lesson_day is None else DAY_NAMES[student.lesson_day],
        "lesson_time": student.lesson_time,
        "minutes": f"{student.minutes_a_day:g}",
        "days": str(student.days_a_week),
    }


def fact_words(student: Student) -> list[str]:
    """Say in short where a student is and when the lesson is."""
    if student.lesson_day is None:
        lesson = "no lesson day set"
    else:
        lesson = f"lesson {DAY_NAMES[student.lesson_day]} {student.lesson_time}".rstrip()
    practice = f"{student.minutes_a_day:g} min a day, {student.days_a_week} days a week"
    return [student.stage, lesson, practice, *(["archived"] if student.archived else [])]


def said_of(take: StudioTake) -> str:
    """Say what became of a take, in one line."""
    if take.status == "waiting":
        return "waiting to be heard"
    if take.status == "hearing":
        return f"being heard, {100 * take.progress:.0f} % done"
    if take.status == "failed":
        return f"could not be heard: {take.reason}"
    if take.model:
        return "your model"
    if take.heard and is_text_of_drops(take.exercise):
        return sentence_of(take)
    glance = glance_at(take.heard) if take.heard else None
    return glance.findings[0] if glance and glance.findings else "heard"


def open_links(studio: Studio, student: Student, opens: LinkOpens = "stand") -> list[StudentLink]:
    """List the links that still lead in."""
    at, links = now(), studio.access.links(student.id)
    return [
        link for link in links if link.opens == opens and link.revoked_at is None and link.expires_at > at
    ]
