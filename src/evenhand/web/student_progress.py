"""The part of a student's page that takes a moment: the weeks in a picture and in words, the stage judged."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from datetime import date
from typing import Any

from starlette.requests import Request

from evenhand.application.advise import StudentAdvice, advice_drawing, advise_student, headline
from evenhand.application.show_progress import progress_drawing, show_progress
from evenhand.application.studio_kept import Kept
from evenhand.application.studio_one_student import heard_digest, heard_takes, history_of, stage_since
from evenhand.craft.text import print_exercise
from evenhand.domain.history import History
from evenhand.domain.progress import ExerciseProgress
from evenhand.domain.studio import Student
from evenhand.pages.face import with_face
from evenhand.pages.progress_words import ceiling_words, course_name, course_words
from evenhand.practising.advice_words import TEACHER_DECIDES
from evenhand.practising.common_path import COMMON_PATH
from evenhand.storage.studio import Studio
from evenhand.web.pages import now

KEPT: Kept[dict[str, Any]] = Kept(64)  # some 100 kB each
CHANGED = frozenset({"better", "worse", "changed"})


@dataclass(frozen=True, slots=True)
class InWords:
    """An exercise over the weeks in words: what changed by more than chance, and all else."""

    title: str
    changed: tuple[str, ...]
    others: tuple[str, ...]


def progress_facts(request: Request, student: Student) -> dict[str, Any]:
    """Gather what was heard over the weeks, draw it, say it, judge the stage; once for the same takes."""
    studio: Studio = request.app.state.studio
    at = now().astimezone()
    takes = heard_takes(studio, student, at)
    since = stage_since(studio.weeks(student.id), student.stage)
    key = (student.id, student.name, student.stage, since, heard_digest(takes))
    return KEPT.get(key, lambda: _facts(history_of(takes, student, at), student, since))


def _facts(history: History, student: Student, since: date | None) -> dict[str, Any]:
    progress = show_progress(history)
    advice = _advice(history, student, since)
    return {
        "weeks": _as_image(progress_drawing(progress)) if progress.exercises else "",
        "exercises": [_in_words(each) for each in progress.exercises],
        "advice": advice,
        "headline": headline(advice.advice).capitalize() if advice else "",
        "drawing": _as_image(advice_drawing(advice)) if advice and advice.advice.judged else "",
        "decides": TEACHER_DECIDES,
        "left_out": history.left_out,
    }


def _in_words(exercise: ExerciseProgress) -> InWords:
    """Say each measure's course; the ceiling, where there is one, belongs to what changed."""
    first = exercise.takes[0].day
    changed, others = list[str](), list[str]()
    for course in exercise.courses:
        told = course.change.told if course.change else "can't tell"
        words = f"{course_name(course)}: {course_words(course, first)}"
        (changed if told in CHANGED else others).append(words[:1].upper() + words[1:])
    if exercise.ceiling is not None:
        changed.append(f"Tempo ceiling: {ceiling_words(exercise.ceiling, first)}")
    return InWords(print_exercise(exercise.exercise), tuple(changed), tuple(others))


def _as_image(svg: str) -> str:
    """Write a drawing as an image of its own, so that its style stays its own; with its face."""
    return f"data:image/svg+xml;base64,{b64encode(with_face(svg).encode()).decode()}"


def _advice(history: History, student: Student, since: date | None) -> StudentAdvice | None:
    """Judge the stage; None where the path has none of this name."""
    if COMMON_PATH.stage(student.stage) is None:
        return None
    return advise_student(history, COMMON_PATH, student.stage, since=since)
