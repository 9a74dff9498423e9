"""The studio as a web application: routes from their table, each behind the guard."""

from __future__ import annotations

import asyncio
import hashlib
import importlib
import inspect
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from datetime import datetime
from functools import cache
from threading import Event, Timer
from typing import TYPE_CHECKING, Any, cast

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import BaseRoute, Mount, Route, WebSocketRoute
from starlette.websockets import WebSocket

from evenhand.errors import CannotKeep, EvenhandError, NotFound, StudioDamaged, StudioFull
from evenhand.studio.school import School
from evenhand.studio.store.layout import trouble_of
from evenhand.studio.traces import is_on
from evenhand.studio.values import Session
from evenhand.studio.work.children import let_through
from evenhand.studio.work.shared import SharedTries, TakeNews
from evenhand.web.acted import act_of, note_done, target_of
from evenhand.web.assets import STATIC, Assets
from evenhand.web.checking import PasswordChecks
from evenhand.web.guard import (
    CSRF_FIELD,
    SEALS_BY,
    Headers,
    Limiter,
    csrf_holds,
    headers_of,
    plain,
    refusal,
    session_of,
    visitor,
)
from evenhand.web.observed import ROUTE, Observed, Requests, log_request, trace_request
from evenhand.web.pages import KEEPS_NOT
from evenhand.web.requests import (
    MOST_COMING_BYTES,
    MOST_PAGES_EACH,
    MOST_UPLOADS_EACH,
    MOST_WAITING_EACH,
    SMALL_BYTES,
    Occupancy,
    RequestRefused,
    RequestTooLarge,
    length_of,
    read_form,
)
from evenhand.web.routes import ROUTES, StudioRoute
from evenhand.web.serving import Alongside, WebSettings
from evenhand.web.views.live import MOST_EARS, MOST_EARS_EACH

if TYPE_CHECKING:
    from evenhand.studio.live.hearing import HearsLive


PREPARES_AFTER_S, BETWEEN_S = 5.0, 0.05
REFUSED = 400


def create_app(settings: WebSettings, *, hears: bool = True, alongside: Alongside | None = None) -> Starlette:
    """Make the application of a studio that exists.

    ``hears`` starts the processes that hear what waits; tests hear by themselves. ``alongside`` is what a
    process has of the others of its server.
    """
    alongside = alongside or Alongside()
    school = School.open(settings.data, settings.backing, quota=settings.quota)
    database = school.front.data.database
    news = None if database.is_sqlite else TakeNews(database.url)

    @asynccontextmanager
    async def living(app: Starlette) -> AsyncIterator[None]:
        over = Event()
        listens = None if news is None else asyncio.create_task(news.listen())
        pool = _started_pool(settings) if hears and settings.workers else None
        if pool is not None:
            app.state.hearing = pool.hearing
        if hears:
            app.state.hears_live = await _start_live(alongside.of)
            _prepare(app.state.school, over, PREPARES_AFTER_S * (1 + alongside.number))
            let_through()  # from now on the server ends in order
        try:
            yield
        finally:
            over.set()
            if listens is not None:
                listens.cancel()
            await app.state.hears_live.stop()
            if pool is not None:
                await run_in_threadpool(pool.stop)
            app.state.passwords.close()
            app.state.school.close()

    app = Starlette(
        routes=[
            *(_mounted(route) for route in ROUTES),
            Mount(
                "/static", Assets(directory=STATIC, packages=[("evenhand.report", "style")]), name="static"
            ),
        ],
        middleware=[
            *_observing(settings, requests := Requests(alongside.requests, alongside.number)),
            Middleware(Headers),
        ],
        exception_handlers={
            HTTPException: _http_error,
            ClientDisconnect: _gone,
            EvenhandError: _our_error,
            OSError: _system_error,
            Exception: _any_error,
        },
        lifespan=living,
    )
    app.state.settings = settings
    app.state.requests, app.state.hearing = requests, alongside.hearing
    app.state.school, app.state.news = school, news
    app.state.limiter = Limiter(tries=None if database.is_sqlite else SharedTries(database))
    app.state.pages = Occupancy(MOST_PAGES_EACH)
    app.state.waits = Occupancy(MOST_WAITING_EACH)
    app.state.uploads = Occupancy(MOST_UPLOADS_EACH, MOST_COMING_BYTES // alongside.of, small=SMALL_BYTES)
    app.state.passwords = PasswordChecks()
    app.state.hears_live = _live_here()
    app.state.ears = Occupancy(MOST_EARS_EACH, max(1, MOST_EARS // alongside.of))
    return app


def _observing(settings: WebSettings, requests: Requests) -> list[Middleware]:
    """Put what tells of requests around everything, where somebody wants to know."""
    wanted = (
        (settings.json_logs, log_request),
        (settings.metrics_token, requests.count),
        (is_on(), trace_request),
    )
    return [Middleware(Observed, tell=tell) for is_wanted, tell in wanted if is_wanted]


def _started_pool(settings: WebSettings) -> Any:  # noqa: ANN401 - the pool's type brings the whole ear
    from evenhand.studio.work.pool import WorkerPool

    pool = WorkerPool(settings.data, settings.workers, backing=settings.backing)
    pool.start()
    return pool


async def _start_live(among: int) -> HearsLive:
    """Start the ears of one of so many processes, which share this computer's cores."""
    from evenhand.studio.live.hearing import MOST_PROCESSES, LiveProcesses

    processes = LiveProcesses(max(1, MOST_PROCESSES // among))
    await processes.start()
    return processes


def _prepare(school: School, over: Event, after_s: float) -> None:
    """Weigh the library and read the histories a little after the start, so that no page waits for it."""

    def prepare() -> None:
        from evenhand.studio.shelves import prepare
        from evenhand.studio.students import heard_so_far

        with suppress(CannotKeep):  # whoever opens a page is told
            for studio in school.studios():
                prepare(studio.book.all())
                for student in studio.students.all():
                    if over.wait(BETWEEN_S):  # pages go first
                        return
                    heard_so_far(studio, student, datetime.now().astimezone())

    soon = Timer(after_s, prepare)
    soon.daemon = True
    soon.start()


def _live_here() -> HearsLive:
    from evenhand.studio.live.hearing import LiveHere

    return LiveHere(run_in_threadpool)


def _mounted(route: StudioRoute) -> BaseRoute:
    if route.kind == "socket":
        return WebSocketRoute(route.path, _socket(route))
    return Route(route.path, _guarded(route), methods=[route.method])


@cache
def _view(route: StudioRoute) -> Any:  # noqa: ANN401 - a view or a socket's endpoint
    """Find what answers at a route, the first time someone comes: a page nobody opens loads nothing."""
    module, _, name = route.view.rpartition(".")
    return getattr(importlib.import_module(f"evenhand.web.views.{module}"), name)


def _socket(route: StudioRoute) -> Callable[[WebSocket], Awaitable[None]]:
    async def socket(connection: WebSocket) -> None:
        connection.scope[ROUTE] = route.path
        view = await run_in_threadpool(_view, route)
        await view(connection)

    return socket


def _guarded(route: StudioRoute) -> Callable[[Request], Awaitable[Response]]:
    """Put the guard in front of a view; views that are plain functions run beside the event loop."""

    async def guarded(request: Request) -> Response:
        request.scope[ROUTE] = route.path
        request.state.kind = route.kind
        try:
            refused = await run_in_threadpool(_let_in, request, route)
            SEALS_BY.set(request.state.session.csrf if request.state.session else "")
            if refused is None and route.method != "GET":
                refused = await _form_refusal(request, route)
            if refused is not None:
                return refused
            return _for_worker(request, route, await _done(request, route))
        finally:
            await request.close()  # the files of a form

    return guarded


def _let_in(request: Request, route: StudioRoute) -> Response | None:
    """See who is there, and say no where that must be."""
    request.state.session = session = session_of(request)
    return refusal(request, route, session)


async def _done(request: Request, route: StudioRoute) -> Response:
    """Answer, and note what was done, if anything was."""
    act = act_of(route)
    if act is None:
        return await _answered(request, route)
    target = await run_in_threadpool(target_of, request)
    answer = await _answered(request, route)
    if answer.status_code < REFUSED:
        await run_in_threadpool(note_done, request, act, target)
    return answer


def _for_worker(request: Request, route: StudioRoute, answer: Response) -> Response:
    """Say whose a student's page is, so that a device keeps the pages of one session and no others."""
    session: Session | None = request.state.session
    if route.who == "student" and route.kind == "page" and session is not None:
        whose = hashlib.sha256(f"{session.student_id} {session.csrf}".encode()).hexdigest()
        answer.headers["Evenhand-Whose"] = whose[:24]
    return answer


async def _answered(request: Request, route: StudioRoute) -> Response:
    """Let the view answer, unless its visitor has many pages in the making already."""
    if route.waits:
        return cast("Response", await (await run_in_threadpool(_view, route))(request))
    pages: Occupancy = request.app.state.pages
    session = request.state.session
    with pages.room_for("" if session is None else visitor(request, session)) as room:
        if session is not None and not room:
            return plain(request, 429, "Too much at once. Wait a moment, then try again.")
        view = await run_in_threadpool(_view, route)
        if inspect.iscoroutinefunction(view):
            return cast("Response", await view(request))
        return await run_in_threadpool(cast("Callable[[Request], Response]", view), request)


async def _form_refusal(request: Request, route: StudioRoute) -> Response | None:
    """Read the form, if there is one, into ``request.state.form``; refuse what is too large or not ours."""
    length = length_of(request.headers)
    if length is None:
        return plain(request, 411, "The request must say its length, and come in one piece.")
    if length > route.largest_bytes:
        raise RequestTooLarge(route.largest_bytes)
    uploads: Occupancy = request.app.state.uploads
    who = visitor(request, request.state.session)
    with uploads.room_for(who, length) as room:
        if not room:
            return plain(request, 503, "Too much comes in at this moment. Try again in a minute.")
        form = request.state.form = await read_form(request, route.largest_bytes)
    given = form.get(CSRF_FIELD)
    token = given if isinstance(given, str) else None
    if route.checks == "csrf" and not csrf_holds(request, request.state.session, token):
        return plain(request, 403, "The page was open too long. Go back, reload it, and try again.")
    return None


async def _http_error(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    words = {404: "There is no such page.", 405: "That cannot be done here."}.get(
        status, "That did not work."
    )
    if isinstance(error, RequestRefused):
        words = error.detail
    return await run_in_threadpool(plain, request, status, words)


async def _gone(_request: Request, _error: Exception) -> Response:
    """Answer somebody who went away while sending; nobody reads it."""
    return Response(status_code=400)


async def _our_error(request: Request, error: Exception) -> Response:
    if isinstance(error, CannotKeep):
        return await _cannot_keep(request, error)
    status = {NotFound: 404, StudioFull: 413}.get(type(error), 422)
    return await run_in_threadpool(plain, request, status, str(error))


async def _cannot_keep(request: Request, error: CannotKeep) -> Response:
    """Say that the disk does not do its part; where the studio lies is nothing for a page."""
    status, words = KEEPS_NOT[type(error)]
    if isinstance(error, StudioDamaged):  # a page of the studio's own could not be read either
        return PlainTextResponse(f"{words}\n", status)
    return await run_in_threadpool(plain, request, status, words)


async def _system_error(request: Request, error: Exception) -> Response:
    """Say that a temporary file found no room; whatever else the system says is ours."""
    trouble = trouble_of(error, "")
    if trouble is None:
        raise error
    return await _cannot_keep(request, trouble)


async def _any_error(request: Request, error: Exception) -> Response:
    words = (
        f"An error of Evenhand's own ({type(error).__name__}). Nothing was lost. Please report what you did."
    )
    answer = await run_in_threadpool(plain, request, 500, words)
    answer.headers.update(headers_of(request.scope))  # it is answered outside of all that wraps the routes
    return answer
