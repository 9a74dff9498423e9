"""One student's page: what it shows, and the private link that is shown once.

The part of a student's page that takes a moment: the weeks in a picture and in words, the stage judged.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from evenhand.acts.weeks.progress import show_progress
from evenhand.acts.weeks.stages import StudentAdvice, advise_student
from evenhand.music.text import print_exercise
from evenhand.planning.standing import exercise_standing
from evenhand.progress.bounce.grips import compare_grips
from evenhand.progress.history import History
from evenhand.progress.stages.path import PracticePath
from evenhand.progress.trends.trajectory import ExerciseProgress
from evenhand.report.plots.advice import advice_picture
from evenhand.report.plots.progress import progress_picture
from evenhand.report.plots.shell import with_face
from evenhand.report.print.lesson_sheet import qr_picture
from evenhand.report.words.advice import TEACHER_DECIDES, headline, reason_words
from evenhand.report.words.ceiling import ceiling_course_words, standing_words
from evenhand.report.words.figures import DAY_NAMES
from evenhand.report.words.practice import BLOCK_NAMES
from evenhand.report.words.progress import course_name, course_words
from evenhand.report.words.tests import grip_lines
from evenhand.studio.desk import Cache, glance_at
from evenhand.studio.path import path_of, stage_names
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import (
    WeekInShort,
    heard_so_far,
    stage_since,
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
    glance = glance_at(take.heard) if take.heard else None
    return glance.findings[0] if glance and glance.findings else "heard"


def open_links(studio: Studio, student: Student, opens: LinkOpens = "stand") -> list[StudentLink]:
    """List the links that still lead in."""
    at, links = now(), studio.access.links(student.id)
    return [
        link for link in links if link.opens == opens and link.revoked_at is None and link.expires_at > at
    ]


PROGRESS: Cache[dict[str, Any]] = Cache(64)  # some 100 kB each
CHANGED = frozenset({"better", "worse", "changed"})


@dataclass(frozen=True, slots=True)
class InWords:
    """An exercise over the weeks in words: what changed by more than chance, and all else."""

    title: str
    changed: tuple[str, ...]
    others: tuple[str, ...]


def progress_facts(request: Request, student: Student) -> dict[str, Any]:
    """Gather what was heard over the weeks, draw it, say it, judge the stage; once for the same takes."""
    studio = studio_of(request)
    at = now().astimezone()
    history, digest = heard_so_far(studio, student, at)
    path = path_of(studio)
    since = stage_since(studio.weeks.all(student.id), student.stage, path)
    key = (student.id, student.name, student.stage, path, since, digest)
    return PROGRESS.get(key, lambda: _facts(history, path, student, since))


def _facts(history: History, path: PracticePath, student: Student, since: date | None) -> dict[str, Any]:
    progress = show_progress(history)
    advice = _advice(history, path, student, since)
    return {
        "weeks": _as_image(progress_picture(progress)) if progress.exercises else "",
        "exercises": [_in_words(each) for each in progress.exercises],
        "advice": advice,
        "reason": reason_words(advice.advice, advice.path) if advice else "",
        "headline": headline(advice.advice).capitalize() if advice else "",
        "drawing": _advice_image(advice) if advice and advice.advice.judged else "",
        "decides": TEACHER_DECIDES,
        "left_out": history.left_out,
        "grips": grip_lines(compare_grips(history.bounces)),
    }


def _in_words(exercise: ExerciseProgress) -> InWords:
    """Say each measure's course; the ceiling, where there is one, belongs to what changed."""
    first = exercise.takes[0].day
    changed, others = list[str](), list[str]()
    for course in exercise.trajectories:
        told = course.change.direction if course.change else "can't tell"
        words = f"{course_name(course)}: {course_words(course, first)}"
        (changed if told in CHANGED else others).append(words[:1].upper() + words[1:])
    if exercise.ceiling is not None:
        changed.append(f"Tempo ceiling: {ceiling_course_words(exercise.ceiling, first)}")
    standing = exercise_standing(exercise.exercise, exercise.takes, stroke=exercise.stroke)
    changed.append(standing_words(standing))
    return InWords(print_exercise(exercise.exercise), tuple(changed), tuple(others))


def _advice_image(found: StudentAdvice) -> str:
    return _as_image(advice_picture(found.path, found.advice))


def _as_image(svg: str) -> str:
    """Write a drawing as an image of its own, so that its style stays its own; with its face."""
    return f"data:image/svg+xml;base64,{b64encode(with_face(svg).encode()).decode()}"


def _advice(
    history: History, path: PracticePath, student: Student, since: date | None
) -> StudentAdvice | None:
    """Judge the stage; None where the path has none of this name."""
    if path.stage(student.stage) is None:
        return None
    return advise_student(history, path, student.stage, since=since)
