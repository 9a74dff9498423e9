"""A student's weeks drawn, said and judged: made when a take was heard, so that no page waits for it.

Conventions: what was made is kept with a key of all that it was made of: the takes and what was heard in
them, the student's name and stage, the path, and this very code. A page that finds none makes it itself. The
workers make it for whoever was heard, for all when they begin, and look once an hour: takes grow old.
"""

from __future__ import annotations

import json
import time
from base64 import b64encode
from datetime import date, datetime
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

import evenhand
from evenhand.acts.weeks.progress import show_progress
from evenhand.acts.weeks.stages import StudentAdvice, advise_student
from evenhand.errors import CannotKeep
from evenhand.music.text import print_exercise
from evenhand.planning.standing import exercise_standing
from evenhand.progress.bounce.grips import compare_grips
from evenhand.progress.history import History
from evenhand.progress.stages.path import PracticePath
from evenhand.progress.trends.trajectory import ExerciseProgress
from evenhand.report.plots.advice import advice_picture
from evenhand.report.plots.progress import progress_picture
from evenhand.report.plots.shell import with_face
from evenhand.report.words.advice import TEACHER_DECIDES, headline, reason_words
from evenhand.report.words.ceiling import ceiling_course_words, standing_words
from evenhand.report.words.progress import course_name, course_words
from evenhand.report.words.tests import grip_lines
from evenhand.studio.path import path_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import heard_digest, heard_takes, read_once, stage_since
from evenhand.studio.values import Student

KIND = "weeks"
CHANGED = frozenset({"better", "worse", "changed"})
AGAIN_S = 3600.0


def weeks_shown(studio: Studio, student: Student, now: datetime) -> dict[str, Any]:
    """Give what a student's page shows of the weeks, in plain values; made now if it is not there."""
    takes = heard_takes(studio, student, now)
    path = path_of(studio)
    since = stage_since(studio.weeks.all(student.id), student.stage, path)
    of = (
        _code(),
        student.name,
        student.stage,
        studio.facts.path,
        since,
        now.utcoffset(),
        heard_digest(takes),
    )
    key = sha256(repr(of).encode()).hexdigest()
    text = studio.made.find(student.id, KIND, key)
    if text is None:
        text = json.dumps(_facts(read_once(takes, student, now)[0], path, student, since))
        studio.made.keep(student.id, KIND, key, text)
    found: dict[str, Any] = json.loads(text)
    return found


class Ahead:
    """Whose weeks are still to be made; one at a time, so that a take that comes in need not wait."""

    def __init__(self, studio: Studio, worker: str) -> None:
        self._studio, self._worker = studio, worker
        self._waiting: list[str] = []
        self._all_from_s = 0.0

    def add(self, student_id: str) -> None:
        """Let a student's weeks be made next."""
        self._waiting = [student_id, *(each for each in self._waiting if each != student_id)]

    def step(self, now: datetime) -> bool:
        """Make one student's weeks; False where there is nothing to do."""
        if not self._waiting and time.monotonic() >= self._all_from_s:
            self._all_from_s = time.monotonic() + AGAIN_S
            everybody = [student.id for student in self._studio.students.all()]
            self._waiting = sorted(everybody, key=self._turn)
        if not self._waiting:
            return False
        student = self._studio.students.find(self._waiting.pop(0))
        try:
            if student is not None:
                weeks_shown(self._studio, student, now)
        except CannotKeep:
            raise
        except Exception:  # noqa: BLE001 - nobody asked for it: whoever opens the page is told
            return True
        return True

    def _turn(self, student_id: str) -> str:
        """Put everybody in another order for each worker, so that two do not make the same."""
        return sha256(f"{self._worker} {student_id}".encode()).hexdigest()


@cache
def _code() -> str:
    """Name the code that is running: what another one made may look otherwise."""
    stamp = sha256(evenhand.__version__.encode())
    for path in sorted(Path(evenhand.__file__).parent.rglob("*.*")):
        if path.suffix in {".py", ".css", ".woff2"}:  # by what is in them: it is the same on every machine
            stamp.update(path.name.encode() + path.read_bytes())
    return stamp.hexdigest()


def _facts(history: History, path: PracticePath, student: Student, since: date | None) -> dict[str, Any]:
    progress = show_progress(history)
    advice = _advice(history, path, student, since)
    return {
        "weeks": _as_image(progress_picture(progress)) if progress.exercises else "",
        "exercises": [_in_words(each) for each in progress.exercises],
        "advice": advice is not None,
        "reason": reason_words(advice.advice, advice.path) if advice else "",
        "headline": headline(advice.advice).capitalize() if advice else "",
        "drawing": _advice_image(advice) if advice and advice.advice.judged else "",
        "decides": TEACHER_DECIDES,
        "left_out": history.left_out,
        "grips": [grip_lines(each) for each in compare_grips(history.bounces)],
    }


def _in_words(exercise: ExerciseProgress) -> dict[str, object]:
    """Say what changed by more than chance, and all else; the ceiling, where there is one, with the first."""
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
    return {"title": print_exercise(exercise.exercise), "changed": changed, "others": others}


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
