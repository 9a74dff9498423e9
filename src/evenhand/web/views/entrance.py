"""The entrance: health, readiness, figures of the server, login and logout, a student's link, a parent's.

A parent's link begins no session: its page is asked for by the link each time, so that taking it back ends
it, and a family's own device stays logged in as whoever it was.
"""

from __future__ import annotations

import hmac
from collections import Counter

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from evenhand import __version__
from evenhand.errors import NotFound
from evenhand.studio.practised import counted_since, practised_weeks
from evenhand.studio.store.second import SecondUse
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Session, TakeStatus
from evenhand.studio.work.children import HEARING_S
from evenhand.web.acted import note
from evenhand.web.checking import TooManyChecks
from evenhand.web.guard import (
    KNOWN,
    Limiter,
    browser_of,
    comes_from,
    give_cookie,
    home_of,
    plain,
    secret_of,
    take_cookie,
)
from evenhand.web.observed import metrics_text
from evenhand.web.pages import now, page
from evenhand.web.requests import school_of, studio_of, studio_of_link
from evenhand.web.serving import DEVICE_KNOWN, STUDENT_STAYS, TEACHER_STAYS

OPEN_METRICS = "application/openmetrics-text; version=1.0.0; charset=utf-8"
MOST_LOGIN = 60
TOO_OFTEN = "Too many tries in a short time. Wait a few minutes, then try again."


def health(request: Request) -> Response:
    """Say that the studio is there."""
    return JSONResponse({"status": "ok", "version": __version__, "demo": studio_of(request).facts.demo})


def ready(request: Request) -> Response:
    """Say whether a take could be kept at this moment; where not, 503 and what does not do its part."""
    lacks = studio_of(request).data.lacks()
    return JSONResponse(
        {"status": "not ready" if lacks else "ready", "lacks": lacks}, status_code=503 if lacks else 200
    )


def metrics(request: Request) -> Response:
    """Give the server's figures to whoever has the token; without one there is no such page."""
    state, token = request.app.state, request.app.state.settings.metrics_token
    if not token:
        raise NotFound(what="this page")
    given = request.headers.get("authorization", "").removeprefix("Bearer ")
    if not hmac.compare_digest(given.encode(), token.encode()):
        return plain(request, 401, "The metrics need their token.")
    hearing = state.hearing
    hearings = [0.0] * (len(HEARING_S) + 2) if hearing is None else hearing.times()
    counts = Counter[TakeStatus]()
    for studio in school_of(request).studios():
        counts.update(studio.queue.counts())
    text = metrics_text(counts, hearings, state.requests.counts())
    return Response(text, headers={"content-type": OPEN_METRICS})


def login_page(request: Request) -> Response:
    """Ask for the password."""
    if request.state.session is not None:
        return RedirectResponse(home_of(request.state.session), status_code=303)
    return _asked(request)


def _asked(request: Request, *, wrong: bool = False) -> Response:
    """Ask for the password, in a school for a name, and for a code where there may be a second factor."""
    names = school_of(request).asks_names
    second = names or bool(school_of(request).front.access.second.kept.sealed)
    login = _typed_login(request) if wrong else ""
    status = 403 if wrong else 200
    return page(request, "login.html", status=status, wrong=wrong, second=second, names=names, login=login)


def _typed_login(request: Request) -> str:
    """Return the name that was typed, as far as one can be."""
    return str(request.state.form.get("login", "")).strip().casefold()[:MOST_LOGIN]


def _studio_to_open(request: Request) -> tuple[Studio | None, str]:
    """Say which studio the form opens (in a school, by the name in it), and where wrong ones are counted."""
    school = school_of(request)
    if not school.asks_names:
        return school.front, "teacher"
    login = _typed_login(request)
    teacher = school.by_login(login)
    return (None if teacher is None else school.studio(teacher.id)), f"teacher {login}"


async def login(request: Request) -> Response:
    """Let a teacher in; guesses are counted before they are looked at, and right ones taken back."""
    studio, account = await run_in_threadpool(_studio_to_open, request)
    device = None if studio is None else await run_in_threadpool(_known_device, request, studio)
    counts = _counts(request, device, account)
    if not await run_in_threadpool(_counted, request, counts):
        return plain(request, 429, TOO_OFTEN)
    try:
        key, used = await request.app.state.passwords.run(lambda: _key_of_login(request, studio))
    except TooManyChecks:
        await run_in_threadpool(_take_back, request, counts)
        return plain(
            request, 503, "Too many passwords are being checked at this moment. Try again in a minute."
        )
    if studio is not None:
        request.state.studio = request.state.own_studio = studio
    if studio is None or key is None:
        await run_in_threadpool(note, request, "login refused")
        request.state.studio = None  # who is not in sees the same page whichever name it was
        return await run_in_threadpool(lambda: _asked(request, wrong=True))
    if used == "recovery":
        await run_in_threadpool(studio.log.note, "recovery code used", "teacher", address=comes_from(request))
    await run_in_threadpool(_take_back, request, counts)
    return await run_in_threadpool(_let_in, request, key, known=device is not None)


def _key_of_login(request: Request, studio: Studio | None) -> tuple[str | None, SecondUse]:
    """Check what was typed; for a name that nobody has it takes as long."""
    password, typed = (str(request.state.form.get(name, "")) for name in ("password", "code"))
    if studio is not None:
        return studio.access.key_of_login(password, typed)
    school_of(request).front.access.check_password(password)
    return None, ""


def _let_in(request: Request, key: str, *, known: bool) -> Response:
    """Begin the teacher's session, and remember the device."""
    studio = studio_of(request)
    try:
        secret, _ = studio.access.begin("teacher", lasts=TEACHER_STAYS, browser=browser_of(request), key=key)
    except NotFound:  # the password was changed in this very moment
        return _asked(request, wrong=True)
    studio.log.note("login", "teacher", address=comes_from(request))
    answer = give_cookie(request, RedirectResponse("/", status_code=303), secret, TEACHER_STAYS)
    if not known:
        give_cookie(request, answer, studio.access.know_device(), DEVICE_KNOWN, KNOWN)
    return answer


def _known_device(request: Request, studio: Studio) -> str | None:
    """Return the device from which the teacher came in before, if it is one."""
    secret = secret_of(request, KNOWN)
    return studio.access.known_device(secret) if secret else None


def _counts(request: Request, device: str | None, account: str) -> tuple[tuple[str, str], ...]:
    """Say where a guess is counted: a known device's by itself, so that no stranger keeps it out."""
    if device is not None:
        return (("login", f"device {device}"),)
    return (("login", comes_from(request)), ("account", account))


def _counted(request: Request, counts: tuple[tuple[str, str], ...]) -> bool:
    """Count a guess in each place, or in none where one is full."""
    limiter: Limiter = request.app.state.limiter
    for number, each in enumerate(counts):
        if not limiter.allows(*each):
            for before in counts[:number]:
                limiter.takes_back(*before)
            return False
    return True


def _take_back(request: Request, counts: tuple[tuple[str, str], ...]) -> None:
    for each in counts:
        request.app.state.limiter.takes_back(*each)


def logout(request: Request) -> Response:
    """End the session."""
    return leave(request, "/login")


def leave(request: Request, to: str) -> Response:
    """End whoever's session it is, and go somewhere."""
    request.state.own_studio.access.end(secret_of(request))
    answer = RedirectResponse(to, status_code=303)
    take_cookie(request, answer)
    return answer


def student_link(request: Request) -> Response:
    """Let a student in by the private link; only wrong ones are counted, so a school comes in."""
    limiter: Limiter = request.app.state.limiter
    studio = studio_of_link(request)
    student = studio.access.student_of_link(request.path_params["secret"])
    if student is None:
        return _no_link(request)
    if not limiter.allows("opened", student.id):
        return plain(request, 429, TOO_OFTEN)
    if _is_in_already(request, student.id):
        return RedirectResponse("/stand", status_code=303)
    try:
        secret, _ = studio.access.begin(
            "student",
            student_id=student.id,
            lasts=STUDENT_STAYS,
            browser=browser_of(request),
            key=request.path_params["secret"],
        )
    except NotFound:  # taken back in this very moment
        return RedirectResponse("/gone", status_code=303)
    studio.log.note("link opened", "student", about=student.id, address=comes_from(request))
    return give_cookie(request, RedirectResponse("/stand", status_code=303), secret, STUDENT_STAYS)


def _is_in_already(request: Request, student_id: str) -> bool:
    """Tell whether this browser is in as this student, for a good while yet."""
    session: Session | None = request.state.session
    if session is None or session.student_id != student_id:
        return False
    return session.expires_at - now() > STUDENT_STAYS / 2


def parents_page(request: Request) -> Response:
    """Show a parent days and minutes, and nothing else."""
    studio = studio_of_link(request)
    student = studio.access.student_of_link(request.path_params["secret"], "days")
    if student is None:
        return _no_link(request)
    if not request.app.state.limiter.allows("opened", f"parent {student.id}"):
        return plain(request, 429, TOO_OFTEN)
    at = now().astimezone()
    weeks = practised_weeks(studio.takes.all(student.id, since=counted_since(at)), at)
    answer = page(request, "parent.html", name=student.name.split(" ")[0], weeks=weeks)
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _no_link(request: Request) -> Response:
    """Lead on from a link that opens nothing; it is counted, so that links are not guessed."""
    if not request.app.state.limiter.allows("link", comes_from(request)):
        return plain(request, 429, TOO_OFTEN)
    return RedirectResponse("/gone", status_code=303)


def link_gone(request: Request) -> Response:
    """Say that a link holds no more."""
    return page(request, "gone.html", status=410)
