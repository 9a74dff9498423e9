"""A lesson, on a tablet between the two: takes to hear, a take recorded now, next week changed and sent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from hashlib import sha256
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from evenhand.acts.takes.document import heard_take_of
from evenhand.errors import StudioFull
from evenhand.studio.lesson import FREE, LessonDay, bar_facts, lesson_days
from evenhand.studio.stand.sent import CLICK_PLACES, new_take
from evenhand.studio.takes.beside import side_by_side
from evenhand.studio.values import IN_LESSON, TEACHER, Student, StudioTake
from evenhand.studio.whole.lessons import Lesson, almanac_of, lessons_of
from evenhand.web.pages import now, page, said_here, when_words
from evenhand.web.pages import today as this_day
from evenhand.web.requests import (
    RequestRefused,
    keep_recording,
    recording_of,
    student_of,
    studio_of,
    texts_of,
)
from evenhand.web.threads import news_of
from evenhand.web.views.desk import GLANCES, heading_words, tied
from evenhand.web.views.takes import NO_CONSENT
from evenhand.web.views.week import asked_week
from evenhand.web.views.widget import CLICK_PATTERNS
from evenhand.web.week_page import lesson_facts, week_facts

TWO = 2
NO_ROOM = "There is no room for more of {name}'s recordings here. This one stays on this device."
NOT_TWO = "Tick two takes that were heard, and put them side by side."


def shown(request: Request) -> Response:
    """Show the lesson: what to hear, and next week, as it was typed or as it is to be proposed."""
    student = student_of(request)
    asked = asked_week(request, student)
    facts = week_facts(studio_of(request), asked, said=said_here(request))
    facts |= lesson_facts(asked.rows, facts["added"]) | _takes(request, student)
    return page(
        request,
        "lesson.html",
        **facts,
        **_beside(request, student),
        free={**FREE, "may_record": student.may_record, "devices": _delays(request)},
        places=CLICK_PLACES,
        patterns=CLICK_PATTERNS,
        answers=news_of(request, studio_of(request).threads.unread("student", student.id), ""),
        starts_on=_day_of(asked.typed["starts"]),
        following=_following(request, student),
    )


def takes(request: Request) -> Response:
    """Give the takes to hear, as a part of the page; nothing where the page has seen them as they are."""
    facts = _takes(request, student_of(request))
    if request.query_params.get("seen") == facts["stamp"]:
        return Response(status_code=204)
    return page(request, "lesson_takes.html", **facts, student=student_of(request))


def receive(request: Request) -> Response:
    """Take in a recording that was made in the lesson: it is the student's own."""
    student = student_of(request)
    if not student.may_record:
        raise RequestRefused(NO_CONSENT.format(name=student.name), 403)
    file, name = recording_of(request)
    new = new_take(student, texts_of(request), now=now(), file_name=name, device=None)
    facts, delay_ms = (
        {**new.facts, IN_LESSON: "yes"},
        _delays(request).get(texts_of(request).get("device", "")),
    )
    try:
        made = replace(new, facts=facts, latency_ms=delay_ms, urgency="lesson")
        take, is_new = keep_recording(request, made, file)
    except StudioFull as error:
        raise RequestRefused(NO_ROOM.format(name=student.name), 413) from error
    return JSONResponse({"id": take.id, "status": take.status}, status_code=202 if is_new else 200)


# What the page needs.


def _delays(request: Request) -> dict[str, float]:
    """Return the delays that were measured of the teacher's devices, in ms."""
    devices = studio_of(request).students.devices(TEACHER)
    return {each.id: each.latency_ms for each in devices if each.latency_ms is not None}


def _takes(request: Request, student: Student) -> dict[str, Any]:
    """Return what the list of takes shows."""
    at, every = now().astimezone(), "every" in request.query_params
    days = lesson_days(studio_of(request), student, at, GLANCES, every=every)
    return {
        "lesson_days": days,
        "every": every,
        "some_alike": any(each.alike > 1 for day in days for each in day.takes),
        "stamp": _stamp(days),
        "heading": lambda day: heading_words(day, at.date()),
        "when": lambda take: when_words(take.recorded_at, at.date()),
        "tied": tied,
        "bar_facts": bar_facts,
    }


def _stamp(days: Sequence[LessonDay]) -> str:
    """Name what is shown of the takes."""
    seen = [(day.day, each.take.id, each.take.status, each.alike) for day in days for each in day.takes]
    return sha256(repr(seen).encode()).hexdigest()[:16]


def _beside(request: Request, student: Student) -> dict[str, Any]:
    """Return two takes side by side where the address names two that were heard; else what to do."""
    ids = request.query_params.getlist("beside")
    found = studio_of(request).takes.all(ids=ids[:TWO], with_heard=True) if ids else []
    theirs = [
        take for take in found if take.student_id == student.id or (take.model and take.student_id == TEACHER)
    ]
    by_id = {take.id: take for take in theirs if take.status == "heard" and take.heard}
    pair = [by_id[each] for each in dict.fromkeys(ids) if each in by_id]
    if len(pair) < TWO:
        return {"pair": [], "found": None, "wrong_beside": NOT_TWO if ids else ""}
    return {"pair": pair, "found": _both(*pair), "wrong_beside": ""}


def _both(first: StudioTake, second: StudioTake) -> Any:  # noqa: ANN401 - for the template
    return side_by_side(heard_take_of(first.heard or ""), heard_take_of(second.heard or ""))


def _day_of(text: str) -> date | None:
    """Read the day from which the week counts; None where it is being typed."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _following(request: Request, student: Student) -> Lesson | None:
    """Return today's lesson after this student's."""
    studio, today = studio_of(request), this_day()
    found = lessons_of(almanac_of(studio), studio.students.all(), today, today)
    lessons = iter([each for each in found if each.takes_place])
    here = any(each.student.id == student.id for each in lessons)
    return next(lessons, None) if here else None
