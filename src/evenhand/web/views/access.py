"""Who is in, each to be put out by itself; and the log of who did what."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from starlette.requests import Request
from starlette.responses import Response

from evenhand.studio.values import Act, OpenSession
from evenhand.web.guard import note
from evenhand.web.pages import go, said_here, today, when_words
from evenhand.web.pages import page as made
from evenhand.web.requests import studio_of

MOST_SHOWN = 200


ACTS = {
    "login": "The teacher logged in",
    "login refused": "A wrong password",
    "logout": "The teacher logged out",
    "password changed": "The password was changed",
    "session ended": "A browser was logged out",
    "link made": "A private link was made",
    "link opened": "A private link was opened",
    "link revoked": "A private link was withdrawn",
    "student exported": "A student's data were downloaded",
    "studio exported": "The whole studio was downloaded",
    "student erased": "A student was erased",
    "feed made": "A calendar address was made",
    "feed withdrawn": "The calendar address was withdrawn",
}


@dataclass(frozen=True, slots=True)
class InRow:
    """One session, in words."""

    id: str
    who: str
    browser: str
    began: str
    seen: str
    mine: bool


@dataclass(frozen=True, slots=True)
class ActRow:
    """One line of the log, in words."""

    when: str
    what: str
    about: str
    address: str


def page(request: Request) -> Response:
    """Show who is in, and what was done."""
    studio = studio_of(request)
    names = {each.id: each.name for each in studio.students.all(archived=None)}
    mine = request.state.session.id
    return made(
        request,
        "access.html",
        sessions=[_in_row(each, names, mine) for each in studio.access.sessions()],
        acts=[_act_row(each, names) for each in studio.log.newest(MOST_SHOWN)],
        said=said_here(request),
    )


def end_session(request: Request) -> Response:
    """Put one session out."""
    studio = studio_of(request)
    session_id = request.path_params["session_id"]
    whose = {each.id: each.student_id or "" for each in studio.access.sessions()}
    studio.access.end_by_id(session_id)
    note(request, "session ended", whose.get(session_id, ""))
    return go("/access", "That browser is logged out.")


def _in_row(each: OpenSession, names: dict[str, str], mine: str) -> InRow:
    who = "Teacher" if each.student_id is None else names.get(each.student_id, "")
    browser = each.browser or "not known"
    return InRow(each.id, who, browser, _when(each.began_at), _when(each.seen_at), each.id == mine)


def _act_row(act: Act, names: dict[str, str]) -> ActRow:
    return ActRow(_when(act.at), ACTS[act.what], names.get(act.about, ""), act.address)


def _when(moment: datetime | None) -> str:
    return "not known" if moment is None else when_words(moment, today())
