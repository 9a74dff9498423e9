"""What to hear first: the takes that the teacher has not heard yet, each with why it stands there."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from starlette.requests import Request
from starlette.responses import Response

from evenhand.measuring.values import Evidence
from evenhand.report.words.figures import count, sized
from evenhand.studio.values import TakeOutline
from evenhand.studio.whole.triage import BACK, Gists, Reason, ReasonKind, to_hear
from evenhand.web.pages import go, now, said_here, tempo_words, when_words
from evenhand.web.pages import page as made
from evenhand.web.requests import studio_of
from evenhand.web.views.desk import tied

GISTS = Gists()
SHOWN = 40
NO_SOUND = ".mid"
DOUBTS = {
    "hands": "The ear is not sure which hand is which.",
    "exercise": "The ear is not sure that this exercise was played.",
}


def page(request: Request) -> Response:
    """Show what was not heard yet, first what deserves an ear most."""
    studio, at = studio_of(request), now().astimezone()
    rows = to_hear(studio, at, GISTS)
    asked = request.query_params.get("of", "")
    names = {student.id: student.name for student in studio.students.all()}
    own = [row for row in rows if asked in {"", row.take.student_id}]
    return made(
        request,
        "hear.html",
        rows=own[:SHOWN],
        more=max(len(own) - SHOWN, 0),
        all_of_them=len(own),
        of=asked if asked in names else "",
        names=names,
        students=_with_counts([row.take.student_id for row in rows], names),
        days=BACK.days,
        aside=len(studio.queue.set_aside()),
        why=lambda row: [reason_words(reason, at.date()) for reason in row.reasons],
        when=lambda take: when_words(take.recorded_at, at.date()),
        has_sound=lambda take: bool(take.recording) and not take.recording.endswith(NO_SOUND),
        tied=tied,
        said=said_here(request),
    )


def listened(request: Request) -> Response:
    """Note that takes were heard: those that are named; the page's script asks for one by one."""
    form = request.state.form
    ids = [str(each) for each in form.getlist("take")][:500] if form else []
    fresh = studio_of(request).takes.listened(ids) if ids else 0
    of = str(form.get("of", ""))[:64] if form else ""
    return go(f"/hear?of={of}" if of.isalnum() else "/hear", f"Noted: {count(fresh, 'take')} heard.")


def _with_counts(ids: list[str], names: dict[str, str]) -> list[tuple[str, str, int]]:
    """List who has takes to hear, by name, and how many."""
    found = [(student_id, names[student_id], ids.count(student_id)) for student_id in dict.fromkeys(ids)]
    return sorted(found, key=lambda each: each[1].casefold())


def reason_words(reason: Reason, today: date) -> str:
    """Say why a take stands where it stands."""
    return tied(SAYS[reason.kind](reason, today))


def _question(reason: Reason, _today: date) -> str:
    said = reason.said
    if said is None or said.unclear:
        return "The student does not understand what you said."
    return f"The student: “{said.text}”" if said.text else "The student answered, spoken."


def _failed(reason: Reason, _today: date) -> str:
    return f"It could not be heard: {reason.words}"


def _doubt(reason: Reason, _today: date) -> str:
    return DOUBTS[reason.words]


def _new(reason: Reason, today: date) -> str:
    of = "the take" if reason.takes == 1 else f"the {count(reason.takes, 'take')}"
    return f"New since {_when(reason.before, today)}, not in {of} before: {reason.words}"


def _worse(reason: Reason, today: date) -> str:
    figures = ""
    if reason.figures is not None:
        figures = f" {_when(reason.before, today)}: {_size(reason.figures[0])}."
    return f"More than chance: {reason.words}{figures}"


def _tempo(reason: Reason, _today: date) -> str:
    fastest = tempo_words(reason.before.tempo) if reason.before else ""
    return f"First take this fast: of {count(reason.takes, 'take')} before, the fastest was at {fastest}."


def _waits(reason: Reason, _today: date) -> str:
    return f"It has waited for {count(reason.days, 'day')}."


def _when(take: TakeOutline | None, today: date) -> str:
    return when_words(take.recorded_at, today).partition(",")[0] if take else ""


def _size(evidence: Evidence) -> str:
    return sized(evidence.figure)


SAYS: dict[ReasonKind, Callable[[Reason, date], str]] = {
    "question": _question,
    "failed": _failed,
    "doubt": _doubt,
    "new": _new,
    "worse": _worse,
    "tempo": _tempo,
    "waits": _waits,
}
