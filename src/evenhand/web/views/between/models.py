"""The teacher's takes as models: recorded with the stand's recorder; and a student's take beside one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import stroke_class
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeItem
from evenhand.studio.stand.day import StandItem
from evenhand.studio.stand.sent import new_take
from evenhand.studio.takes.models import beside_model, model_of, repetitions_of
from evenhand.studio.typed import full_tempo
from evenhand.studio.values import TEACHER, NewTake, Student
from evenhand.studio.weeks.next import title_of, titles_of
from evenhand.web.pages import go, now, page
from evenhand.web.requests import keep_recording, recording_of, studio_of, texts_of, wants_json
from evenhand.web.views.stand import FREE_TEMPO, about_student, own_student, own_take
from evenhand.web.views.widget import Widget, widget_of

TOLD = "Your microphone is on while you play. When you stop, it is kept here, and students can hear it."
SAYS: Mapping[str, str] = {  # what the recorder's scripts say where it is the teacher who plays
    "told": TOLD,
    "told_again": "When you stop, it takes the place of your earlier one at this tempo.",
    "told_running": "When it stops, the recording is kept.",
    "heard": "Students can hear it now.",
    "failed": "Students can hear it, but it could not be measured, so it cannot be compared. {reason}",
    "waiting": "Students can hear it now. It is measured when its turn comes. You can go on.",
    "kept_session": "Log in again; then it is sent.",
}


def record(request: Request) -> Response:
    """Show the recorder for a model of the exercise and tempo that the address names."""
    studio, asked = studio_of(request), request.query_params
    student = studio.students.get(asked["student"]) if asked.get("student") else None
    text = asked.get("exercise", "").strip()
    facts = {
        **about_student(request, own_student(request)),
        "for_student": student,
        "book": studio.book.all(),
    }
    if not text:
        return page(request, "model_record.html", **facts, widget=None)
    tempo = full_tempo(asked.get("tempo", "").strip() or FREE_TEMPO, text)
    item = _item(text, Tempo.parse(tempo), asked.get("stroke", ""), title_of(text, titles_of(facts["book"])))
    before = model_of(studio.takes.models(student.id if student else TEACHER), text, tempo)
    widget = _widget(request, item, student)
    return page(request, "model_record.html", **facts, widget=widget, before=before, says=SAYS)


def receive(request: Request) -> Response:
    """Take in what the teacher played; it is on the stand as soon as it is safe on the disk."""
    file, name = recording_of(request)
    take, new = keep_recording(request, _new_take(request, name), file)
    if wants_json(request):
        return JSONResponse({"id": take.id, "status": take.status}, status_code=202 if new else 200)
    return go(f"/takes/{take.id}", "Kept. Students can hear it now.")


def beside(request: Request) -> Response:
    """Put a student's take beside the teacher's."""
    student, take = own_student(request), own_take(request)
    studio = studio_of(request)
    model = model_of(studio.takes.models(student.id), take.exercise, take.tempo) if take.exercise else None
    found = beside_model(take, studio.takes.get(model.take.id)) if model else None
    title = title_of(take.exercise, titles_of(studio.book.all()))
    facts: dict[str, Any] = {"take": take, "model": model, "found": found, "title": title}
    return page(request, "stand_beside.html", **about_student(request, student), **facts)


def _item(text: str, tempo: Tempo, stroke: str, title: str) -> StandItem:
    """Make an item of an exercise that is played often enough for its figures."""
    exercise = parse_exercise(text)
    length_s = float(exercise.length) * tempo.whole_note_s
    times = repetitions_of(length_s)
    item = PracticeItem(exercise, tempo, times, times * length_s, stroke_class(stroke), title=title)
    return StandItem(0, item)


def _widget(request: Request, item: StandItem, student: Student | None) -> Widget:
    """Gather what the recorder shows; what is recorded goes to the models, for one student or for all."""
    studio = studio_of(request)
    own = own_student(request)
    made = widget_of(
        own, item, None, devices=studio.students.devices(own.id), unit=studio.facts.unit, free=False
    )
    whose = {"student": student.id if student else TEACHER}
    made.run[0]["sent"] |= whose
    return replace(
        made,
        hidden=made.hidden | whose,
        next=f"/students/{student.id}" if student else "/book",
        base="/models",
        onward="Done",
        told=TOLD,
    )


def _new_take(request: Request, name: str) -> NewTake:
    """Read what came with a model, and for whom it is."""
    own, texts = own_student(request), texts_of(request)
    devices = studio_of(request).students.devices(own.id)
    device = next((each for each in devices if each.id == texts.get("device")), None)
    new = new_take(own, texts, now=now(), file_name=name, device=device)
    student = studio_of(request).students.get(texts.get("student") or TEACHER)
    return replace(new, student_id=student.id, source="teacher", model=True)
