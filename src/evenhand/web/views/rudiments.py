"""A student's rudiments: the forty with three tempos each, what was heard of them, and what is signed off."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from starlette.requests import Request
from starlette.responses import Response

from evenhand.acts.exercises.rudiments import HeardRung, heard_rungs
from evenhand.errors import WrongOptions
from evenhand.music.exercise import Tempo
from evenhand.music.library.forty import Rung, ladder
from evenhand.music.rudiments import Rudiment, rudiments
from evenhand.music.text import print_exercise
from evenhand.progress.history import History
from evenhand.report.words.figures import count
from evenhand.studio.signed import RUNGS, SignedRungs, signed_rungs, with_signed
from evenhand.studio.students import heard_so_far
from evenhand.web.pages import go, now, page, said_here, today
from evenhand.web.requests import student_of, studio_of


@dataclass(frozen=True, slots=True)
class ShownRung:
    """One tempo of a rudiment: what was heard at it or faster, and when it was signed off."""

    name: Rung
    tempo: Tempo
    said: str
    signed_on: date | None


@dataclass(frozen=True, slots=True)
class ShownRudiment:
    """A rudiment with its three tempos."""

    number: int
    name: str
    text: str
    family: str
    rungs: tuple[ShownRung, ...]


def shown(request: Request) -> Response:
    """Show the forty of a student."""
    student, at = student_of(request), now().astimezone()
    history, _ = heard_so_far(studio_of(request), student, at)
    signed = signed_rungs(student.signed_off)
    return page(
        request,
        "student_rudiments.html",
        student=student,
        rudiments=[_shown(each, history, signed) for each in rudiments()],
        signed=len(signed),
        said=said_here(request),
    )


def sign(request: Request) -> Response:
    """Sign one tempo of a rudiment off today, or take that back."""
    student, form = student_of(request), request.state.form
    number, rung = str(form.get("number", "")), str(form.get("rung", ""))
    taken_back = form.get("act") == "take back"
    here = f"/students/{student.id}/rudiments"
    try:
        signed = with_signed(student.signed_off, number, rung, None if taken_back else today())
    except WrongOptions as error:
        return go(here, str(error))
    studio_of(request).students.change(student.id, signed_off=signed)
    return go(f"{here}#r{number}")


def _shown(rudiment: Rudiment, history: History, signed: SignedRungs) -> ShownRudiment:
    heard = heard_rungs(rudiment, history)
    return ShownRudiment(
        rudiment.number,
        rudiment.name,
        print_exercise(rudiment.entry.exercise),
        rudiment.entry.section,
        tuple(
            ShownRung(name, tempo, heard_words(at_it), signed.get((rudiment.number, name)))
            for name, tempo, at_it in zip(RUNGS, ladder(rudiment), heard, strict=True)
        ),
    )


def heard_words(heard: HeardRung) -> str:
    """Say what was heard at a tempo or faster.

    >>> heard_words(HeardRung(16, 13, date(2026, 11, 28)))
    '13 of 16 repetitions in control, last on 28 November 2026'
    """
    if heard.newest is None:
        return "not heard"
    day = f"{heard.newest.day} {heard.newest:%B %Y}"
    return f"{heard.controlled} of {count(heard.repetitions, 'repetition')} in control, last on {day}"
