"""What is written in the log of who did what: each act that was done, by its route.

Conventions: an act is noted when its answer is no refusal. It says ids only; whoever asks is named by a role
and, a student, by id. A view that knows better which act it was, or on what, says so in ``request.state.act``
and ``request.state.thing``.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping
from typing import NamedTuple

from starlette.requests import HTTPConnection, Request

from evenhand.studio.store.acts import ActLog
from evenhand.studio.values import ActKind, Actor, Session
from evenhand.web.guard import comes_from
from evenhand.web.requests import studio_of
from evenhand.web.routes import StudioRoute

ACT_OF: Mapping[str, ActKind | None] = {  # by its view; another POST is "changed"; None notes itself
    "entrance.login": None,
    "entrance.logout": "logout",
    "students.add": "student added",
    "students.invite": "student added",
    "students.change": "student changed",
    "students.make_link": "link made",
    "students.make_parents_link": "link made",
    "students.revoke_link": "link revoked",
    "students.erase": "student erased",
    "rudiments.sign": "rudiment signed",
    "takes.teacher_upload": "take sent",
    "week.save": "week saved",
    "placing.put": "week saved",
    "week.discard": "week discarded",
    "week.send": "week sent",
    "takes.delete_film": "video deleted",
    "takes.save_words": "take words",
    "between.words.say_of_week": "words said",
    "between.words.answer_take": "words said",
    "between.words.answer_week": "words said",
    "between.words.take_back": "words taken back",
    "between.words.take_back_own": "words taken back",
    "takes.correct": "take corrected",
    "takes.hear_again": "take heard again",
    "takes.give": "take given",
    "takes.delete": "take deleted",
    "takes.listened": "take listened to",
    "whole.triage.listened": "take listened to",
    "whole.aside.see_to": "take heard again",
    "whole.again.change": "take heard again",
    "whole.lessons.change": "lesson changed",
    "whole.lessons.as_usual": "lesson changed",
    "whole.lessons.add_holiday": "lesson changed",
    "whole.lessons.remove_holiday": "lesson changed",
    "whole.lessons.feed": "settings changed",
    "whole.copied.copy": "week saved",
    "whole.terms.printed": "report printed",
    "lesson.receive": "take sent",
    "between.models.receive": "take sent",
    "writing.add": "book changed",
    "writing.save": "book changed",
    "book.move": "book changed",
    "book.undo": "book changed",
    "book.mark": "book changed",
    "book.remove": "book changed",
    "importing.keep": "book changed",
    "path.save": "path changed",
    "path.change": "path changed",
    "path.read_in_file": "path changed",
    "settings.change": "settings changed",
    "settings.change_password": "password changed",
    "access.end_session": "session ended",
    "access.put_out": "everybody out",
    "second.put_on": "second factor on",
    "second.drop": "second factor off",
    "second.new_codes": "recovery codes made",
    "whole.school.move": "student moved",
    "whole.school.add_substitute": "substitute changed",
    "whole.school.remove_substitute": "substitute changed",
    "whole.school.stand_in": None,
    "whole.school.back": None,
    "own.sending.receive": "take sent",
    "stand.save_device": "device measured",
    "stand.leave": "logout",
}


class Target(NamedTuple):
    """Who acts, and on whom and what; looked up before it is done: afterwards it may be gone."""

    who: Actor
    student_id: str
    thing: str


def act_of(route: StudioRoute) -> ActKind | None:
    """Name what is done by a route; None where nothing is, or its view notes it."""
    if route.method == "GET" or route.kind == "part":
        return None
    return ACT_OF.get(route.view, "changed")


def target_of(request: Request) -> Target:
    """Say whom and what a request is about, by the ids in its address."""
    session: Session | None = request.state.session
    named = [
        (name.removesuffix("_id"), str(value))
        for name, value in request.path_params.items()
        if name.endswith("_id")
    ]
    of, thing = "", ""
    for kind, row_id in named:
        if kind == "student":
            of = row_id
        else:
            of = of or _log(request).whose(kind, row_id)
            thing = thing or f"{kind} {row_id}"
    return Target(actor_of(session), (session.student_id if session else None) or of, thing)


def actor_of(session: Session | None) -> Actor:
    """Name who acts."""
    if session is None:
        return "nobody"
    return "substitute" if session.stands_in_for else session.role


def note_done(request: Request, act: ActKind, target: Target) -> None:
    """Write down that whoever asked did what was asked."""
    act = getattr(request.state, "act", act)
    thing = getattr(request.state, "thing", target.thing)
    _log(request).note(act, target.who, about=target.student_id, thing=thing, address=place_of(request))


def note(request: Request, what: ActKind, about: str = "") -> None:
    """Write down that whoever asks did what is no form's act, with the whole address."""
    session: Session | None = request.state.session
    _log(request).note(what, actor_of(session), about=about, address=comes_from(request))


def place_of(connection: HTTPConnection) -> str:
    """Say from what class of address somebody comes: this computer, its network, or elsewhere."""
    try:
        address = ipaddress.ip_address(connection.client.host if connection.client else "")
    except ValueError:
        return "this computer"  # a socket of the system's own
    if isinstance(address, ipaddress.IPv6Address):
        address = address.ipv4_mapped or address
    if address.is_loopback:
        return "this computer"
    return "this network" if address.is_private or address.is_link_local else "elsewhere"


def _log(request: Request) -> ActLog:
    return studio_of(request).log
