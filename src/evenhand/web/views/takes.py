"""A take: what was heard, its picture with its sound, put right by hand, heard again, two side by side."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from evenhand.acts.takes.document import heard_take_of, json_text
from evenhand.acts.takes.request import CLICKS, TakeRequest, is_unmeasured
from evenhand.acts.takes.seen import read_take
from evenhand.acts.takes.watch import seen_json_text
from evenhand.errors import CannotKeep, EvenhandError, NotFound
from evenhand.music.strokes.heights import stroke_class
from evenhand.studio.takes.beside import side_by_side
from evenhand.studio.takes.corrected import Correction, correct_take, in_the_sound
from evenhand.studio.takes.shown import begins_at, others_beside, read_correction, shown_heard
from evenhand.studio.typed import full_tempo
from evenhand.studio.values import TEACHER, NewTake, Student, StudioTake
from evenhand.studio.work.films import PAD_CM, TAPE, film_facts
from evenhand.web.pages import go, now, page, said_here
from evenhand.web.pages import today as this_day
from evenhand.web.requests import (
    FILM_KINDS,
    RequestRefused,
    address_of,
    keep_recording,
    recording_of,
    sound_answer,
    student_of,
    studio_of,
    take_of,
    texts_of,
    wake_workers,
)
from evenhand.web.threads import keep_said, thread_facts
from evenhand.web.views.widget import stroke_choices

FILMS = tuple(FILM_KINDS)
LISTED = 400  # newest takes of a student among which neighbours and others are looked for
NO_CONSENT = "{name} is under age. First note on the student's page that a parent or guardian agrees."
UPLOAD_FIELDS = (
    "exercise",
    "tempo",
    "exercise_was",
    "tempo_was",
    "stroke",
    "whose",
    "recorded_on",
    TAPE,
    PAD_CM,
)
CORRECTION = ("hit", "kind", "repetition", "note", "grace", "at")


def one(request: Request) -> Response:
    """Show a take, or how far its hearing is."""
    return _page(request, take_of(request))


def sound(request: Request) -> Response:
    """Give a take's recording, whole or the part that is asked for."""
    return sound_answer(request, take_of(request).recording)


def film(request: Request) -> Response:
    """Give a take's video, where it is kept."""
    key = take_of(request).original
    if key is None or not key.endswith(FILMS):
        raise NotFound(what="this video")
    return sound_answer(request, key, FILM_KINDS)


def delete_film(request: Request) -> Response:
    """Delete a take's video; its sound and what was heard and seen stay."""
    take = take_of(request)
    studio_of(request).takes.drop_original(take.id)
    return go(f"/takes/{take.id}", "The video is deleted.")


def figures(request: Request) -> Response:
    """Give what was heard, and seen, as JSON (docs/json.md)."""
    take = take_of(request)
    if take.heard is None:
        return JSONResponse({"error": "not heard", "status": take.status}, status_code=404)
    heard, seen = read_take(take.heard)
    text = json_text(heard) if seen is None else seen_json_text(seen)
    return Response(text, media_type="application/json")


def beside(request: Request) -> Response:
    """Show two takes side by side."""
    first, second = take_of(request), take_of(request, "other_id")
    if first.heard is None or second.heard is None or "failed" in {first.status, second.status}:
        return go(f"/takes/{first.id}", "Both takes must be heard first.")
    students = {take.student_id: studio_of(request).students.get(take.student_id) for take in (first, second)}
    found = side_by_side(heard_take_of(first.heard), heard_take_of(second.heard))
    theirs = first.student_id if first.student_id != TEACHER else second.student_id
    return page(
        request, "take_beside.html", theirs=theirs, first=first, second=second, students=students, found=found
    )


def save_words(request: Request) -> Response:
    """Keep the teacher's words on a take, or whether it is a model."""
    take, form = take_of(request), texts_of(request)
    if form.get("part") == "model" and take.source == "teacher":
        studio_of(request).takes.change(take.id, model=form.get("model") == "yes")
        return go(f"/takes/{take.id}", "Saved.")
    student = studio_of(request).students.get(take.student_id)
    try:
        keep_said(request, "teacher", student, take_id=take.id)
    except RequestRefused as error:
        return _page(request, take, error, status=error.status_code)
    studio_of(request).takes.listened([take.id])
    return go(f"/takes/{take.id}", f"Sent. {student.name} sees it in practice.")


def listened(request: Request) -> Response:
    """Note that the teacher heard a take, or take that back; it goes out of what is to be heard."""
    take, form = take_of(request), texts_of(request)
    studio_of(request).takes.listened([take.id], undone=form.get("act") == "take back")
    return go(f"/takes/{take.id}")


def correct(request: Request) -> Response:
    """Put one hit right, and measure the take again."""
    take, form = take_of(request), texts_of(request)
    try:
        begins_at_s = begins_at(form)
        if begins_at_s is not None:
            return _again_from(request, take, begins_at_s)
        heard = correct_take(take.heard or "", [_correction(request, take, form)])
    except EvenhandError as error:
        return _page(request, take, status=422, correction=form, wrong_correction=str(error))
    studio_of(request).takes.change(take.id, heard=heard, corrected=True)
    return go(f"/takes/{take.id}", "Corrected, and measured again.")


def _correction(request: Request, take: StudioTake, form: dict[str, str]) -> Correction:
    """Read a correction; a hit that is added is looked up in the recording."""
    read = read_correction(form)
    if read.kind != "added":
        return read
    from evenhand.media.open_take import open_take

    return in_the_sound(read, take.heard or "", studio_of(request).takes.recording(take), open_take)


def _again_from(request: Request, take: StudioTake, begins_at_s: float) -> Response:
    """Queue a take again, as the same exercise, from the hit that it begins with."""
    studio_of(request).queue.hear_again(
        take.id,
        exercise=take.exercise,
        tempo=take.tempo,
        click=take.click,
        stroke=take.stroke,
        begins_at=f"{begins_at_s:.7f}",
    )
    wake_workers(request)
    return go(f"/takes/{take.id}")


def hear_again(request: Request) -> Response:
    """Queue a take again, as what the teacher says it is."""
    take, form = take_of(request), texts_of(request)
    try:
        asked = TakeRequest.read(form.get("exercise"), _tempo(form), form.get("click", take.click))
    except EvenhandError as error:
        return _page(request, take, status=422, again=form, wrong_again=str(error))
    studio_of(request).queue.hear_again(
        take.id,
        exercise=asked.exercise_text or "",
        tempo="" if asked.tempo is None else str(asked.tempo),
        click=asked.click,
        stroke=stroke_class(form["stroke"]) if "stroke" in form else take.stroke,
    )
    wake_workers(request)
    return go(f"/takes/{take.id}")  # the page itself says that it waits, for as long as it does


def give(request: Request) -> Response:
    """Let a take that was found again be a student's."""
    take = take_of(request)
    student = studio_of(request).students.get(texts_of(request).get("student", ""))
    if not student.may_record:
        return _page(request, take, status=422, wrong_give=NO_CONSENT.format(name=student.name))
    studio_of(request).takes.give(take.id, student.id)
    return go(f"/takes/{take.id}", f"The take is with {student.name} now.")


def delete(request: Request) -> Response:
    """Delete a take for good."""
    take = take_of(request)
    if texts_of(request).get("sure") != "yes":
        return _page(request, take, status=422, wrong_delete="Tick the box first. Nothing was deleted.")
    studio_of(request).takes.delete(take.id)
    back = "/book" if take.student_id == TEACHER else f"/students/{take.student_id}"
    return go(back, "The take is deleted.")


def teacher_upload(request: Request) -> Response:
    """Take in the teacher's own take as a model, or a student's recording that came another way."""
    student, form = student_of(request), texts_of(request)
    try:
        file, name = recording_of(request)
        take, _ = keep_recording(request, _new_take(student, form, name), file)
    except CannotKeep:
        raise
    except (EvenhandError, RequestRefused) as error:
        return _upload_again(request, student, form, str(error))
    return go(f"/takes/{take.id}")


# What the pages need.


def _page(
    request: Request,
    take: StudioTake,
    wrong_words: RequestRefused | None = None,
    *,
    status: int = 200,
    **typed: Any,  # noqa: ANN401 - what was typed, by form
) -> Response:
    """Show a take with its forms; what was typed into one that came back wrong stands in it again."""
    student = studio_of(request).students.get(take.student_id)
    takes = studio_of(request).takes.all(take.student_id, limit=LISTED)
    shown = None
    if take.status != "failed" and take.heard:
        shown = shown_heard(
            take.heard, unmeasured=is_unmeasured(take.facts, take.latency_ms), model=take.model
        )
    facts: dict[str, Any] = {
        **thread_facts(request, studio_of(request).threads.of_take(take.id), "teacher", student, wrong_words),
        "link": f"{address_of(request)}/stand/takes/{take.id}",
        "correction": {},
        "strokes": stroke_choices(),
        **dict.fromkeys(("wrong_correction", "wrong_again", "wrong_give", "wrong_delete"), ""),
        **typed,
    }
    asked = {"exercise": take.exercise, "tempo": take.tempo, "click": take.click, "stroke": take.stroke or ""}
    facts["again"] = {**asked, **typed.get("again", {})}
    facts["correction"] = {**dict.fromkeys(CORRECTION, ""), **facts["correction"]}
    return page(
        request,
        "take.html",
        status=status,
        take=take,
        student=student,
        shown=shown,
        said=said_here(request),
        has_film=(take.original or "").endswith(FILMS),
        has_sound=take.recording is not None and not take.recording.endswith(".mid"),
        others=others_beside(take, [*_for_all(request, take), *takes]),
        for_all=student.id == TEACHER,
        givable=studio_of(request).students.all() if take.facts.get("found_again") else [],
        clicks=CLICKS,
        upload=upload_facts(student, take),
        **_neighbours(take, takes),
        **facts,
    )


def _for_all(request: Request, take: StudioTake) -> list[StudioTake]:
    """List the models that are for all students, where the take is one student's."""
    models = studio_of(request).takes.models(take.student_id)
    return [each for each in models if each.student_id == TEACHER != take.student_id]


def _neighbours(take: StudioTake, takes: list[StudioTake]) -> dict[str, StudioTake | None]:
    """Find the takes before and after, among those listed, the newest first."""
    around = [None, *takes, None]
    at = next((i for i, each in enumerate(around) if each is not None and each.id == take.id), None)
    return {"earlier": around[at + 1] if at else None, "later": around[at - 1] if at else None}


def upload_facts(student: Student, take: StudioTake | None = None) -> dict[str, Any]:
    """Return what the form for a recording needs (``take_upload_form.html``)."""
    exercise, tempo = (take.exercise, take.tempo) if take else ("", "")
    return {
        "student_id": student.id,
        "name": student.name,
        "key": secrets.token_urlsafe(24),
        "exercise": exercise,
        "tempo": tempo,
        "exercise_was": exercise,
        "tempo_was": tempo,
        "stroke": (take.stroke or "") if take else "",
        "strokes": stroke_choices(),
        "whose": "mine",
        "recorded_on": "",
        TAPE: "",
        PAD_CM: "",
    }


def _upload_again(request: Request, student: Student, form: Mapping[str, str], wrong: str) -> Response:
    """Show the form again with what was typed; the file must be chosen again, as browsers want it."""
    typed = {key: form[key] for key in UPLOAD_FIELDS if key in form}
    upload = {**upload_facts(student), **typed}
    return page(request, "take_upload.html", status=422, student=student, upload=upload, wrong=wrong)


def _new_take(student: Student, form: Mapping[str, str], name: str) -> NewTake:
    mine = form.get("whose", "mine") == "mine"
    if not mine and not student.may_record:
        raise RequestRefused(NO_CONSENT.format(name=student.name))
    asked = TakeRequest.read(form.get("exercise"), _tempo(form))
    return NewTake(
        student_id=student.id,
        upload_key=form.get("upload_key", "")[:64] or secrets.token_urlsafe(24),
        exercise=asked.exercise_text or "",
        tempo="" if asked.tempo is None else str(asked.tempo),
        recorded_at=_recorded_at(form.get("recorded_on", "")),
        source="teacher" if mine else "upload",
        name=name,
        stroke=stroke_class(form.get("stroke", "")),
        model=mine,
        facts=film_facts(form),
    )


def _tempo(form: Mapping[str, str]) -> str:
    """Return the tempo as it was typed, a number alone with the beat of what stood there."""
    shown, shown_for = form.get("tempo_was", ""), form.get("exercise_was", "")
    return full_tempo(form.get("tempo", ""), form.get("exercise", ""), shown=shown, shown_for=shown_for)


def _recorded_at(text: str) -> datetime:
    """Read the day of a recording; none, or one to come, is now."""
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return now()
    return now() if day >= this_day() else datetime.combine(day, time(12)).astimezone()
