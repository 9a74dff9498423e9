"""From the book into a student's week: which student, and at which tempo the exercise stands there."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from starlette.requests import Request
from starlette.responses import Response

from evenhand.errors import EvenhandError, WrongOptions
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.studio.path import path_of
from evenhand.studio.shelves import drawn
from evenhand.studio.students import heard_so_far
from evenhand.studio.values import Student
from evenhand.studio.weeks.day import draft_text
from evenhand.studio.weeks.next import read_options, story_words
from evenhand.studio.weeks.put import exercise_for, with_exercise
from evenhand.studio.weeks.typed import TypedWeek, typed_week
from evenhand.web.pages import go, page
from evenhand.web.pages import today as this_day
from evenhand.web.requests import student_of, studio_of, texts_of
from evenhand.web.views.week import asked_week
from evenhand.web.week_page import WeekPage, proposed_plan

LONGEST_TITLE = 120


def students(request: Request) -> Response:
    """Ask whose week an exercise goes into."""
    asked = request.query_params
    return _asked(request, asked.get("exercise", ""), asked.get("title", ""))


def _asked(request: Request, text: str, title: str, *, wrong: str = "") -> Response:
    try:
        lines = drawn(print_exercise(parse_exercise(text)))
    except EvenhandError as error:
        lines, wrong = (), wrong or str(error)
    there = [student for student in studio_of(request).students.all() if not student.archived]
    return page(
        request,
        "book_week.html",
        status=422 if wrong else 200,
        lines=lines,
        text=text,
        title=title[:LONGEST_TITLE],
        students=there,
        wrong=wrong,
    )


def put(request: Request) -> Response:
    """Put an exercise on every day of a student's next week, where it can be changed and is sent."""
    studio, texts = studio_of(request), texts_of(request)
    title = " ".join(texts.get("title", "").split())[:LONGEST_TITLE]
    student, stages = student_of(request), path_of(studio)
    stage = stages.stage(student.stage) or stages.stages[0]
    history, _ = heard_so_far(studio, student, datetime.now().astimezone())
    try:
        exercise = parse_exercise(texts.get("exercise", ""))
        found = exercise_for(exercise, title, stage, history)
    except EvenhandError as error:
        return _asked(request, texts.get("exercise", ""), title, wrong=str(error))
    shown = _with_rows(request, asked_week(request, student), student)
    rows = shown.rows or TypedWeek((), student.days_a_week)
    after = with_exercise(rows, found)
    called, here = title or print_exercise(exercise), f"/students/{student.id}/week"
    if after is rows:
        return go(here, f"{called} is in this week already.")
    studio.weeks.keep_draft(student.id, shown.of_week, draft_text(shown.typed, after))
    return go(
        here,
        f"{called} stands on every day, at {found.tempo}. {found.why} {student.name} does not see it yet.",
    )


def _with_rows(request: Request, shown: WeekPage, student: Student) -> WeekPage:
    """Give a week that was not begun the rows that would be proposed."""
    if shown.rows is not None:
        return shown
    studio = studio_of(request)
    options, _ = read_options(shown.typed, this_day(), path_of(studio))
    if options is None:
        return shown
    try:
        plan = proposed_plan(studio, student, options)
    except WrongOptions:
        return shown
    return replace(shown, typed={**shown.typed, "story": story_words(plan)}, rows=typed_week(plan))
