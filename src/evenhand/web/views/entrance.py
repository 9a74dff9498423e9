"""The entrance: health, login and logout, a student's link."""

from __future__ import annotations

from datetime import timedelta

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from evenhand import __version__
from evenhand.web.guard import COOKIE
from evenhand.web.pages import page
from evenhand.web.settings import STUDENT_STAYS, TEACHER_STAYS


def health(request: Request) -> Response:
    """Say that the studio is there."""
    return JSONResponse({"status": "ok", "version": __version__, "demo": request.app.state.studio.facts.demo})


def login_page(request: Request) -> Response:
    """Ask for the password."""
    if request.state.session is not None:
        return RedirectResponse("/" if request.state.session.role == "teacher" else "/stand", status_code=303)
    return page(request, "login.html", wrong=False)


def login(request: Request) -> Response:
    """Let the teacher in."""
    studio = request.app.state.studio
    if not studio.check_password(str(request.state.form.get("password", ""))):
        return page(request, "login.html", status=403, wrong=True)
    secret, _ = studio.begin_session("teacher", lasts=TEACHER_STAYS)
    return _with_cookie(request, RedirectResponse("/", status_code=303), secret, TEACHER_STAYS)


def logout(request: Request) -> Response:
    """End the session."""
    return leave(request, "/login")


def leave(request: Request, to: str) -> Response:
    """End whoever's session it is, and go somewhere."""
    request.app.state.studio.end_session(request.cookies.get(COOKIE, ""))
    answer = RedirectResponse(to, status_code=303)
    answer.delete_cookie(COOKIE)
    return answer


def student_link(request: Request) -> Response:
    """Let a student in by the private link."""
    studio = request.app.state.studio
    student = studio.student_of_link(request.path_params["secret"])
    if student is None:
        return RedirectResponse("/gone", status_code=303)
    secret, _ = studio.begin_session("student", student_id=student.id, lasts=STUDENT_STAYS)
    return _with_cookie(request, RedirectResponse("/stand", status_code=303), secret, STUDENT_STAYS)


def link_gone(request: Request) -> Response:
    """Say that a link holds no more."""
    return page(request, "gone.html", status=410)


def _with_cookie(request: Request, answer: Response, secret: str, lasts: timedelta) -> Response:
    """Give the session's secret, where no script can read it."""
    answer.set_cookie(
        COOKIE,
        secret,
        max_age=int(lasts.total_seconds()),
        httponly=True,
        secure=request.app.state.settings.secure,
        samesite="lax",
    )
    return answer
