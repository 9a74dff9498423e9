"""One student's page: what it shows, and the private link that is shown once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from evenhand.application.practice_day import WeeksNow, standing_of, weeks_now
from evenhand.application.studio_glance import glance_at
from evenhand.application.studio_one_student import WeekInShort, week_in_short
from evenhand.domain.studio import Student, StudentLink, StudioTake
from evenhand.pages.qr_picture import qr_picture
from evenhand.practising.common_path import COMMON_PATH
from evenhand.storage.studio import Studio
from evenhand.web.moments import DAY_NAMES, when_words
from evenhand.web.pages import now, page, said_here, today
from evenhand.web.serving import is_loopback
from evenhand.web.settings import LINK_LASTS
from evenhand.web.texts import say
from evenhand.web.views.takes import upload_facts

NEWEST, ON_A_PAGE = 10, 100
MOST_DIGITS = 6
NOTHING: Mapping[str, str] = {}


@dataclass(frozen=True, slots=True)
class MadeLink:
    """A link that was just made: the only moment in which its address is known."""

    address: str
    code: Markup
    until: datetime
    local: bool


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


def made_link(request: Request, student: Student) -> MadeLink:
    """Make a link, and write the address that a phone needs."""
    secret, link = request.app.state.studio.make_link(student.id, lasts=LINK_LASTS)
    base = address_of(request)
    address = f"{base}/s/{secret}"
    local = is_loopback(base.partition("://")[2].rpartition(":")[0].strip("[]") or "localhost")
    return MadeLink(address, Markup(qr_picture(address)), link.expires_at, local)  # noqa: S704 - our own drawing


def address_of(request: Request) -> str:
    """Return where others reach the studio: as it was asked; from this computer, as it is known outside."""
    outside: tuple[str, ...] = request.app.state.settings.origins
    if is_loopback(request.base_url.hostname or "") and outside:
        return outside[0]
    return str(request.base_url).rstrip("/")


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
    studio: Studio = request.app.state.studio
    number = page_of(request.query_params.get("all"))
    weeks = studio.weeks(student.id)
    n, skip = (NEWEST, 0) if number is None else (ON_A_PAGE, (number - 1) * ON_A_PAGE)
    takes = studio.takes(student.id, limit=n + 1, skip=skip, with_heard=number is None)
    answer = page(
        request,
        "student.html",
        status=status,
        student=student,
        facts=fact_words(student),
        weeks=shown_weeks(weeks_now(weeks, today()), today()),
        newest_week=next((each for each in weeks if each.sent_at), next(iter(weeks), None)),
        takes=[TakeRow(take, said_of(take)) for take in takes[:n]],
        upload=upload_facts(student, takes[0] if takes else None),
        takes_page=number,
        more_takes=len(takes) > n,
        links=open_links(studio, student),
        stages=tuple(stage.name for stage in COMMON_PATH.stages),
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
    said = {"early": "student.week_early", "running": "", "over": "student.week_over"}
    return [
        ShownWeek(week_in_short(week), say(said[each]) if said[each] else "")
        for week, each in standing
        if not (each == "over" and ahead)
    ]


def page_of(text: str | None) -> int | None:
    """Read which page of all takes is asked for, from 1; None where only the newest are.

    >>> page_of(None), page_of(""), page_of("3"), page_of("x"), page_of("9" * 5000)
    (None, 1, 3, 1, 1)
    """
    if text is None:
        return None
    fits = text.isascii() and text.isdecimal() and len(text) <= MOST_DIGITS
    return max(1, int(text)) if fits else 1


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
        lesson = say("student.no_lesson")
    else:
        key = "student.lesson_at" if student.lesson_time else "student.lesson"
        lesson = say(key, day=DAY_NAMES[student.lesson_day], time=student.lesson_time)
    practice = say("student.practice", minutes=student.minutes_a_day, days=student.days_a_week)
    return [student.stage, lesson, practice, *([say("student.archived")] if student.archived else [])]


def said_of(take: StudioTake) -> str:
    """Say what became of a take, in one line."""
    if take.status == "waiting":
        return say("student.waiting")
    if take.status == "hearing":
        return say("student.hearing", share=100 * take.progress)
    if take.status == "failed":
        return say("student.failed", reason=take.reason)
    glance = glance_at(take.heard) if take.heard else None
    return glance.findings[0] if glance and glance.findings else say("student.no_finding")


def open_links(studio: Studio, student: Student) -> list[StudentLink]:
    """List the links that still lead in."""
    at = now()
    return [link for link in studio.links(student.id) if link.revoked_at is None and link.expires_at > at]
