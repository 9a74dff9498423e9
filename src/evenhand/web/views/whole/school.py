"""The school's page, for its administrator: who teaches whom, by name only; and who stands in for whom.

An administrator moves students and sets substitutes, and opens nothing of a studio: no take, no week, no
words. A substitute is a teacher who chose to see another one's studio on a day on which that is set.
"""

from __future__ import annotations

from datetime import date, timedelta

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from evenhand.errors import NotFound, WrongOptions
from evenhand.studio.moving import move_student
from evenhand.studio.school import Teacher
from evenhand.studio.store.studio import Studio
from evenhand.web.acted import place_of
from evenhand.web.guard import STANDS_IN, give_cookie, take_cookie
from evenhand.web.pages import go, said_here, today
from evenhand.web.pages import page as made
from evenhand.web.requests import school_of, texts_of

HERE = "/school"
WRONG_DAYS = "The days must be dates, the first not after the last, six weeks at most."
A_WEEK = timedelta(days=6)
A_DAY = timedelta(days=1)


def page(request: Request, *, status: int = 200, wrong: str = "") -> Response:
    """Show who teaches whom, and who stands in."""
    school = school_of(request)
    teachers = _teaching(request)
    return made(
        request,
        "school.html",
        status=status,
        teachers=[(each, school.studio(each.id).students.all()) for each in teachers],
        names={each.id: each.name for each in teachers},
        substitutes=school.substitutes(last_from=today()),
        first=today(),
        last=today() + A_WEEK,
        wrong=wrong,
        said=said_here(request),
    )


def move(request: Request) -> Response:
    """Let a student go to another teacher, with the past or without."""
    typed = texts_of(request)
    source, target = (_studio(request, typed.get(name, "")) for name in ("from", "to"))
    if typed.get("past") not in {"with", "without"}:
        return page(request, status=422, wrong="Say whether the past goes along.")
    student = source.students.get(typed.get("student", ""))
    with_past = typed["past"] == "with"
    try:
        move_student(source, target, student.id, with_past=with_past)
    except WrongOptions:
        return page(request, status=422, wrong=f"{student.name} is with that teacher already.")
    for studio in (source, target):
        studio.log.note("student moved", "administrator", about=student.id, address=place_of(request))
    along = "All takes, weeks and words went along." if with_past else "The past stays where it was."
    return go(HERE, f"{student.name} is with {_name(request, target)} now. {along}")


def add_substitute(request: Request) -> Response:
    """Let a teacher stand in for another one."""
    typed = texts_of(request)
    try:
        first, last = (date.fromisoformat(typed.get(name, "")) for name in ("first", "last"))
        school_of(request).stand_in(typed.get("for", ""), typed.get("by", ""), first, last)
    except ValueError:
        return page(request, status=422, wrong=WRONG_DAYS)
    except WrongOptions as error:
        days = "days" in error.got
        return page(request, status=422, wrong=WRONG_DAYS if days else "Choose two different teachers.")
    return go(HERE, "The substitute is set.")


def remove_substitute(request: Request) -> Response:
    """End that somebody stands in, from this moment."""
    school_of(request).stand_in_no_more(request.path_params["substitute_id"])
    return go(HERE, "The substitute is taken back.")


def stand_in(request: Request) -> Response:
    """Show a teacher the studio for which they stand in today."""
    school = school_of(request)
    found = school.stands_in(request.state.own_studio.id, request.path_params["substitute_id"], today())
    if found is None:
        raise NotFound(what="this substitute today")
    log = school.studio(found.for_id).log
    log.note("substitute came", "substitute", address=place_of(request))
    return give_cookie(request, RedirectResponse("/", status_code=303), found.id, A_DAY, STANDS_IN)


def back(request: Request) -> Response:
    """Show a substitute their own studio again."""
    answer = RedirectResponse("/", status_code=303)
    take_cookie(request, answer, STANDS_IN)
    return answer


def _teaching(request: Request) -> list[Teacher]:
    return [each for each in school_of(request).teachers() if not each.administrator]


def _studio(request: Request, studio_id: str) -> Studio:
    """Return the studio of a teacher who teaches here."""
    if studio_id not in {each.id for each in _teaching(request)}:
        raise NotFound(what="this teacher")
    return school_of(request).studio(studio_id)


def _name(request: Request, studio: Studio) -> str:
    return next(each.name for each in _teaching(request) if each.id == studio.id)
