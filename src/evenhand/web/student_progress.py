"""The part of a student's page that takes a moment: the weeks in pictures, and the stage judged."""

from __future__ import annotations

from base64 import b64encode
from typing import Any

from markupsafe import Markup
from starlette.requests import Request

from evenhand.application.advise import StudentAdvice, advice_drawing, advise_student, headline
from evenhand.application.studio_one_student import history_of, stage_since
from evenhand.craft.text import print_exercise
from evenhand.domain.history import History
from evenhand.domain.studio import Student
from evenhand.pages.simple_course import simple_courses
from evenhand.practising.advice_words import TEACHER_DECIDES
from evenhand.practising.common_path import COMMON_PATH
from evenhand.storage.studio import Studio
from evenhand.web.pages import now


def progress_facts(request: Request, student: Student) -> dict[str, Any]:
    """Gather what was heard over the weeks, draw it, and judge the stage."""
    studio: Studio = request.app.state.studio
    history = history_of(studio, student, now().astimezone())
    titles = {take.exercise.notes: print_exercise(take.exercise) for take in history.takes}
    advice = _advice(studio, student, history)
    return {
        "student": student,
        "courses": [
            (course.title, course.words, Markup(course.picture))  # noqa: S704 - our own drawing
            for course in simple_courses(history, titles)
        ],
        "advice": advice,
        "headline": headline(advice.advice).capitalize() if advice else "",
        "drawing": _as_image(advice_drawing(advice)) if advice and advice.advice.judged else "",
        "decides": TEACHER_DECIDES,
        "left_out": history.left_out,
    }


def _as_image(svg: str) -> str:
    """Write a drawing as an image of its own, so that its style stays its own."""
    return f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}"


def _advice(studio: Studio, student: Student, history: History) -> StudentAdvice | None:
    """Judge the stage; None where the path has none of this name."""
    if COMMON_PATH.stage(student.stage) is None:
        return None
    since = stage_since(studio.weeks(student.id), student.stage)
    return advise_student(history, COMMON_PATH, student.stage, since=since)
