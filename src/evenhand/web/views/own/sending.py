"""What a student sends: a recording with the take, or past the server by a ticket, and then the take.

Conventions: a recording is acknowledged when it is safe where recordings lie and its take's row is committed,
whichever way it came. What went past the server and belongs to no take is not kept.
"""

from __future__ import annotations

from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from evenhand.errors import CannotKeep, EvenhandError, NotFound, StudioFull
from evenhand.studio.stand.sent import new_take
from evenhand.studio.typed import whole_number
from evenhand.studio.values import Student, StudioTake
from evenhand.web.pages import go, now, page
from evenhand.web.requests import (
    RequestRefused,
    RequestTooLarge,
    film_of_form,
    keep_recording,
    recording_of,
    sent_past_us,
    studio_of,
    texts_of,
    wants_json,
)
from evenhand.web.routes import RECORDING_BYTES
from evenhand.web.views.stand import about_student, own_student

NO_CONSENT = (
    "You can record once your teacher has noted that a parent or guardian agrees. The click works already."
)
NO_ROOM = (
    "There is no room for more of your recordings here. Tell your teacher. This one stays on this device."
)
NOT_ARRIVED = "What was sent is not there any more. Send the recording again."


def receive(request: Request) -> Response:
    """Take in a recording; it is acknowledged when it is safe on the disk."""
    try:
        take, new = _received(request, own_student(request))
    except (EvenhandError, RequestRefused) as error:
        if isinstance(error, CannotKeep) or wants_json(request):  # the device keeps it and sends it again
            raise
        return _form_again(request, own_student(request), str(error))
    if wants_json(request):
        return JSONResponse({"id": take.id, "status": take.status}, status_code=202 if new else 200)
    return go(f"/stand/takes/{take.id}", "It has arrived.")


def ticket(request: Request) -> Response:
    """Give a ticket by which the page sends a recording past us; it is kept when it is received."""
    student, texts = own_student(request), texts_of(request)
    if not student.may_record:
        raise RequestRefused(NO_CONSENT, 403)
    sent, n_bytes = sent_past_us(request, student, "sent"), whole_number(texts.get("bytes", ""), 15)
    if sent is None or not n_bytes:
        raise RequestRefused("A ticket is for a recording: its SHA-256 (sent) and its length (bytes).")
    if n_bytes > RECORDING_BYTES:
        raise RequestTooLarge(RECORDING_BYTES)
    try:
        found = studio_of(request).data.ticket(sent, n_bytes)
    except StudioFull as error:
        raise RequestRefused(NO_ROOM, 413) from error
    if found is None:
        raise RequestRefused("Here recordings go through this server: send it with the take.")
    return JSONResponse({"url": found.url, "headers": dict(found.headers)})


def _received(request: Request, student: Student) -> tuple[StudioTake, bool]:
    """Check a recording and keep it."""
    if not student.may_record:
        raise RequestRefused(NO_CONSENT, 403)
    sent = sent_past_us(request, student, "sent")
    file, name = (sent, "") if sent else recording_of(request)
    film = sent_past_us(request, student, "sent_film") or film_of_form(request)
    texts, devices = texts_of(request), studio_of(request).students.devices(student.id)
    device = next((each for each in devices if each.id == texts.get("device")), None)
    new = new_take(student, texts, now=now(), file_name=name, device=device)
    try:
        return keep_recording(request, new, file, film)
    except NotFound as error:
        if sent is None:
            raise
        raise RequestRefused(NOT_ARRIVED, 409) from error
    except StudioFull as error:
        raise RequestRefused(NO_ROOM, 413) from error


def _form_again(request: Request, student: Student, error: str) -> Response:
    """Show the page with the form again, what was wrong said above it."""
    texts = texts_of(request)
    query = urlencode({key: texts[key] for key in ("week", "day") if texts.get(key)})
    number = texts.get("item", "")
    here = f"/stand/practice/{number}?{query}" if whole_number(number) else "/stand"
    facts = {"wrong": error, "here": here}
    return page(request, "stand_wrong.html", status=422, **about_student(request, student), **facts)
