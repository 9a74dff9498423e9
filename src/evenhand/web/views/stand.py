"""The student's stand: today's practice, a recording, what was heard. Each gives only the student's own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from evenhand.errors import BadExercise, EvenhandError, NotFound
from evenhand.report.words.figures import duration
from evenhand.report.words.practice import BLOCK_NAMES, item_words
from evenhand.report.words.remarks import all_remarks
from evenhand.report.words.take import student_sentence
from evenhand.studio.stand.day import StandDay, StandItem, free_item, takes_since
from evenhand.studio.stand.drops import dropped_takes, grips_named, hands_dropped
from evenhand.studio.stand.sent import read_device
from evenhand.studio.stand.summary import day_summary
from evenhand.studio.typed import whole_number
from evenhand.studio.values import TEACHER, Device, Student, StudioTake
from evenhand.studio.weeks.next import title_of, titles_of
from evenhand.web.guard import secret_of, take_cookie
from evenhand.web.pages import now, page, said_here
from evenhand.web.requests import (
    pdf_answer,
    sound_answer,
    studio_of,
    take_of,
    texts_of,
)
from evenhand.web.threads import News, news_of
from evenhand.web.views.installed import practice_page
from evenhand.web.views.widget import (
    Widget,
    heard_facts,
    models_with,
    named,
    purpose_words,
    shown_day,
    stroke_choices,
    tied,
    weeks_of,
    widget_of,
)

MOST_TAKES = 100
FREE_TEMPO = "80"  # of the exercise's own beat
NO_WEEK = (
    "Nothing is assigned yet",
    (
        "Your teacher has not sent a week's practice so far. "
        "Until it is here you can record anything you are working on."
    ),
)
BAD_WEEK = (
    "This week's practice cannot be read",
    "Tell your teacher, please. Until then you can record anything you are working on.",
)


def today(request: Request) -> Response:
    """Show today's practice, its next item ready to start; without a week, a place to record freely."""
    student = own_student(request)
    try:
        shown = shown_day(request, student)
    except EvenhandError:
        return _without_week(request, student, bad=True)
    if shown.day is None:
        return _without_week(request, student)
    day = shown.day
    item = day.next or day.items[0]
    left = [each for each in day.items if not each.done] or list(day.items)
    return practice_page(
        request,
        "stand_today.html",
        **about_student(request, student),
        **named(request, shown, day),
        days=_days_beside(day),
        widget=_widget(request, student, item, day, left),
        summary=_summary(request, student, day) if day.done else None,
        news=_news(request, student),
        story=tied(" ".join(all_remarks(day.story))),
        model_with=models_with(request, student),
        purpose_of=lambda each: tied(purpose_words(each.item)),
        words_of=lambda each: tied(item_words(each.item, studio_of(request).facts.unit)),
        **_free_form(request),
    )


def summary(request: Request) -> Response:
    """Give what a day came to, as a part of its page."""
    student = own_student(request)
    day = shown_day(request, student).day
    if day is None:
        raise NotFound(what="this day's practice")
    return page(
        request, "stand_summary.html", summary=_summary(request, student, day), block_names=BLOCK_NAMES
    )


def _summary(request: Request, student: Student, day: StandDay) -> dict[str, Any]:
    """Return what the summary's part shows."""
    takes = studio_of(request).takes.all(student.id, since=takes_since(day.week), with_heard=True)
    found = day_summary(day, takes)
    return {
        "found": found,
        "said": student_sentence(found.heard) if found.heard else "",
        "seconds": tied(duration(found.seconds, "seconds")),
    }


def practice(request: Request) -> Response:
    """Show one item of the day; item 0 is whatever exercise the address names."""
    student, number = own_student(request), whole_number(request.path_params["number"])
    if number == 0:
        return _free(request, student)
    shown = shown_day(request, student)
    item = shown.day.item(number) if shown.day and number is not None else None
    if shown.day is None or item is None:
        raise NotFound(what="this item of today's practice")
    facts = {**about_student(request, student), **named(request, shown, shown.day)}
    widget = _widget(request, student, item, shown.day)
    return practice_page(request, "stand_practice.html", **facts, widget=widget)


def today_json(request: Request) -> Response:
    """Give today's practice as data."""
    student = own_student(request)
    day = shown_day(request, student).day
    if day is None:
        return JSONResponse({"day": None, "items": []})
    items = [
        {
            "number": each.number,
            "title": each.title,
            "exercise": each.sticking,
            "tempo": str(each.item.tempo),
            "stroke": each.item.stroke,
            "repetitions": each.item.repetitions,
            "block": each.item.block,
            "purpose": " ".join(all_remarks(each.item.purpose)),
            "goes": each.item.goes,
            "pause_s": each.item.pause_s,
            "seconds": each.item.seconds,
            "rest_s": each.item.rest_s,
            "played_s": round(each.played_s, 1),
            "done": each.done,
        }
        for each in day.items
    ]
    facts = {
        "number": day.number,
        "of": day.of,
        "on": day.on.isoformat(),
        "starts": day.week.starts.isoformat(),
        "standing": "today" if day.is_today else day.standing,
        "seconds": day.seconds,
    }
    return JSONResponse({"day": facts, "week": day.week.id, "items": items})


def sheet(request: Request) -> Response:
    """Give the week's printed sheet."""
    from evenhand.acts.weeks.sheet import print_sheet
    from evenhand.studio.weeks.day import sheet_of_week

    student = own_student(request)
    week = weeks_of(request, student).named(request.query_params.get("week", ""))
    if week is None:
        raise NotFound(what="this week's sheet")
    return pdf_answer(print_sheet(sheet_of_week(week, student, studio_of(request).facts)), "practice")


def takes(request: Request) -> Response:
    """List the student's recordings, the newest first."""
    student = own_student(request)
    found = studio_of(request).takes.all(student.id, limit=MOST_TAKES)
    days: dict[Any, list[StudioTake]] = {}
    for take in (each for each in found if not each.model):
        days.setdefault(take.recorded_at.astimezone().date(), []).append(take)
    return page(
        request,
        "stand_takes.html",
        **about_student(request, student),
        days=days,
        titles=titles_for(request, found),
    )


def titles_for(request: Request, takes: Sequence[StudioTake]) -> dict[str, str]:
    """Name each take's exercise as the stand does; "" where it has no title."""
    titles = titles_of(studio_of(request).book.all())
    return {take.id: title_of(take.exercise, titles) for take in takes}


def result(request: Request) -> Response:
    """Give what was heard of a recording, as a part of a page."""
    take = own_take(request)
    status = 200 if take.status == "heard" else 202
    return page(request, "stand_result.html", status=status, take=take, **heard_facts(request, take))


def sound(request: Request) -> Response:
    """Give the recording's sound."""
    return sound_answer(request, own_take(request).recording)


def save_device(request: Request) -> Response:
    """Keep a device's measured delay; a device that is not this student's gets an id of its own."""
    student = own_student(request)
    device = read_device(student, texts_of(request), now=now())
    known = {each.id for each in studio_of(request).students.devices(student.id)}
    if device.id not in known:
        device = Device("", student.id, device.label, device.latency_ms, device.measured_at)
    kept = studio_of(request).students.save_device(device)
    return JSONResponse({"id": kept.id, "latency_ms": kept.latency_ms})


def leave(request: Request) -> Response:
    """Let the student out on this device."""
    studio_of(request).access.end(secret_of(request))
    request.state.session = None
    answer = page(request, "stand_left.html")
    take_cookie(request, answer)
    return answer


# What the pages need.


def own_student(request: Request) -> Student:
    """Return the session's student; of the teacher's, who the teacher's own takes belong to."""
    students = studio_of(request).students
    if request.state.session.role == "teacher":
        return students.teacher()
    return students.get(request.state.session.student_id or "")


def own_take(request: Request) -> StudioTake:
    """Return the take that the address names, if it is the student's own or a model for them."""
    take, session = take_of(request), request.state.session
    shared = take.model and take.student_id == TEACHER
    if session.role == "teacher" or shared or take.student_id == session.student_id:
        return take
    raise NotFound(what="this recording")


def about_student(request: Request, student: Student) -> dict[str, Any]:
    """Return what every page of the stand knows."""
    return {
        "student": student,
        "said": said_here(request),
        "made": now().isoformat(timespec="seconds"),
        "unit": studio_of(request).facts.unit,
        "block_names": BLOCK_NAMES,
    }


def _news(request: Request, student: Student) -> list[News]:
    """List what the teacher said and the student has not opened."""
    return news_of(request, studio_of(request).threads.unread("teacher", student.id), "/stand")


def _days_beside(day: StandDay) -> list[int]:
    """Return the numbers of the week's days."""
    return list(range(1, day.of + 1)) if day.of > 1 else []


def _widget(
    request: Request,
    student: Student,
    item: StandItem,
    day: StandDay | None,
    left: Sequence[StandItem] = (),
) -> Widget:
    studio = studio_of(request)
    devices, unit = studio.students.devices(student.id), studio.facts.unit
    models = studio.takes.models(student.id)
    found = widget_of(student, item, day, left, devices=devices, unit=unit, models=models)
    if not any(hands_dropped(each.item.exercise) for each in (item, *left)):
        return found
    named = grips_named([*dropped_takes(studio, student, now()), *models])  # the teacher's, too
    return replace(found, grips=tuple(dict.fromkeys([*named, *found.grips])))


def _free_form(request: Request, error: str = "") -> dict[str, Any]:
    """Return what the form for any exercise shows; what was typed stays."""
    typed = {key: request.query_params.get(key, "") for key in ("book", "exercise", "tempo", "stroke")}
    entries = studio_of(request).book.all()
    strokes = stroke_choices(studio_of(request).facts.unit)
    return {"book": entries, "typed": typed, "strokes": strokes, "free_error": error}


def _free(request: Request, student: Student) -> Response:
    """Put an exercise on the stand that the student chose, or say what is wrong with it."""
    typed = request.query_params.get("exercise", "").strip() or request.query_params.get("book", "").strip()
    tempo = request.query_params.get("tempo", "").strip() or FREE_TEMPO
    stroke = request.query_params.get("stroke", "")
    try:
        item = free_item(typed, tempo, stroke) if typed else None
        widget = _widget(request, student, item, None) if item else None
    except BadExercise as error:
        wrong = (
            f"The exercise cannot be read: character {error.column} is {error.found}. It must be "
            f"{error.must_be}."
        )
        return _free_again(request, student, wrong)
    except EvenhandError as error:
        return _free_again(request, student, str(error))
    if widget is None:
        return _free_again(request, student, "Choose an exercise from the book, or type one.")
    return page(request, "stand_practice.html", **about_student(request, student), day=None, widget=widget)


def _free_again(request: Request, student: Student, error: str) -> Response:
    facts = {**about_student(request, student), **_free_form(request, error), "news": []}
    return page(request, "stand_free.html", status=422, **facts, title="Something else", words="")


def _without_week(request: Request, student: Student, *, bad: bool = False) -> Response:
    """Say kindly that there is no week, and offer to record anything."""
    title, words = BAD_WEEK if bad else NO_WEEK
    facts = {**about_student(request, student), **_free_form(request), "news": _news(request, student)}
    return page(request, "stand_free.html", **facts, title=title, words=words)


def again_link(take: StudioTake) -> str:
    """Return where the same is played again."""
    facts = take.facts
    if facts.get("week") and whole_number(facts.get("item", "")) is not None:
        query = urlencode({"week": facts["week"], "day": facts.get("day", "")})
        return f"/stand/practice/{facts['item']}?{query}"
    if not take.exercise:
        return "/stand"
    asked = {"exercise": take.exercise, "tempo": take.tempo, "stroke": take.stroke or ""}
    return f"/stand/practice/0?{urlencode(asked)}"
