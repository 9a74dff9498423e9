"""Words both ways: what teacher and student say of a take or a week, opened, answered, taken back.

Nothing is sent anywhere: what was said stands on the other's pages, marked until it is opened.
"""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from evenhand.errors import NotFound
from evenhand.studio.values import Said, Student, Week
from evenhand.web.pages import go, page, said_here
from evenhand.web.requests import RequestRefused, address_of, sound_answer, studio_of
from evenhand.web.threads import keep_said, thread_facts
from evenhand.web.views.stand import about_student, again_link, own_student, own_take, titles_for
from evenhand.web.views.widget import heard_facts

# The teacher's.


def of_week(request: Request) -> Response:
    """Show what was said of a week."""
    return _week_page(request)


def say_of_week(request: Request) -> Response:
    """Keep the teacher's words on a week."""
    week, student = _week_of(request)
    try:
        keep_said(request, "teacher", student, week_id=week.id)
    except RequestRefused as error:
        return _week_page(request, error)
    return go(f"/weeks/{week.id}/words", f"Sent. {student.name} sees it in practice.")


def sound(request: Request) -> Response:
    """Give a voice note."""
    threads = studio_of(request).threads
    return sound_answer(request, threads.get(request.path_params["said_id"]).recording)


def take_back(request: Request) -> Response:
    """Delete something said, the teacher's own or a student's."""
    return _taken_back(request, studio_of(request).threads.get(request.path_params["said_id"]), "")


def _week_of(request: Request) -> tuple[Week, Student]:
    week = studio_of(request).weeks.get(request.path_params["week_id"])
    return week, studio_of(request).students.get(week.student_id)


def _week_page(request: Request, wrong: RequestRefused | None = None) -> Response:
    week, student = _week_of(request)
    thread = studio_of(request).threads.of_week(week.id)
    facts = thread_facts(request, thread, "teacher", student, wrong)
    link = f"{address_of(request)}/stand/weeks/{week.id}/words"
    return page(
        request,
        "week_thread.html",
        status=wrong.status_code if wrong else 200,
        week=week,
        student=student,
        link=link,
        said=said_here(request),
        **facts,
    )


# The student's.


def own_take_page(request: Request) -> Response:
    """Show one of the student's recordings, what was heard, and what was said of it."""
    return _take_page(request)


def _take_page(request: Request, wrong: RequestRefused | None = None) -> Response:
    student, take = own_student(request), own_take(request)
    thread = studio_of(request).threads.of_take(take.id) if take.student_id == student.id else []
    facts = {
        "take": take,
        "title": titles_for(request, [take])[take.id],
        "again": again_link(take),
        **heard_facts(request, take),
        **thread_facts(request, thread, "student", student, wrong),
    }
    status = wrong.status_code if wrong else 200
    return page(request, "stand_take.html", status=status, **about_student(request, student), **facts)


def answer_take(request: Request) -> Response:
    """Keep what a student says of an own take."""
    student, take = own_student(request), own_take(request)
    if take.student_id != student.id:
        raise NotFound(what="this recording")
    try:
        keep_said(request, "student", student, take_id=take.id)
    except RequestRefused as error:
        return _take_page(request, error)
    return go(f"/stand/takes/{take.id}", "Your teacher can see it now.")


def own_week(request: Request) -> Response:
    """Show a student what was said of a week."""
    return _own_week_page(request)


def answer_week(request: Request) -> Response:
    """Keep what a student says of a week."""
    student, week = own_student(request), _own_week(request)
    try:
        keep_said(request, "student", student, week_id=week.id)
    except RequestRefused as error:
        return _own_week_page(request, error)
    return go(f"/stand/weeks/{week.id}/words", "Your teacher can see it now.")


def own_sound(request: Request) -> Response:
    """Give a voice note of a student's own threads."""
    return sound_answer(request, _own_said(request).recording)


def take_back_own(request: Request) -> Response:
    """Delete what the student said."""
    found = _own_said(request)
    if found.who != "student":
        raise NotFound(what="what was said")
    return _taken_back(request, found, "/stand")


def _own_said(request: Request) -> Said:
    found = studio_of(request).threads.get(request.path_params["said_id"])
    if found.student_id != request.state.session.student_id:
        raise NotFound(what="what was said")
    return found


def _own_week(request: Request) -> Week:
    """Return the week that the address names, if it is the student's own and was sent."""
    week = studio_of(request).weeks.find(request.path_params["week_id"])
    if week is None or week.student_id != request.state.session.student_id or week.sent_at is None:
        raise NotFound(what="this week")
    return week


def _own_week_page(request: Request, wrong: RequestRefused | None = None) -> Response:
    student, week = own_student(request), _own_week(request)
    thread = studio_of(request).threads.of_week(week.id)
    facts = thread_facts(request, thread, "student", student, wrong)
    status = wrong.status_code if wrong else 200
    return page(
        request, "stand_words.html", status=status, week=week, **about_student(request, student), **facts
    )


def _taken_back(request: Request, found: Said, base: str) -> Response:
    studio_of(request).threads.take_back(found.id)
    to = f"/takes/{found.take_id}" if found.take_id else f"/weeks/{found.week_id}/words"
    return go(f"{base}{to}", "Taken back; nothing of it is kept.")
