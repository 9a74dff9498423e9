"""The guard at every route: who is there, may they, did our own page ask, and how often.

Conventions: a session's secret travels in the cookie ``evenhand`` (HttpOnly, SameSite=Lax);
the CSRF token comes as the form field ``csrf`` or the header ``X-Evenhand-Csrf``.

Name a browser in a few words.
"""

from __future__ import annotations

import hmac
import ipaddress
import threading
import time
from collections import defaultdict, deque
from collections.abc import Mapping
from contextlib import suppress
from contextvars import ContextVar
from dataclasses import replace
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from sqlalchemy.exc import SQLAlchemyError
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from evenhand.errors import CannotKeep
from evenhand.studio.school import School
from evenhand.studio.values import Session
from evenhand.studio.work.shared import SharedTries
from evenhand.web.assets import build
from evenhand.web.routes import StudioRoute, may

COOKIE, KNOWN, STANDS_IN = (
    "evenhand",
    "evenhand-known",
    "evenhand-for",
)  # with HTTPS each has the prefix, see cookie_name
HOST_ONLY = "__Host-"  # a browser takes such a cookie by HTTPS only, for this host and the whole of it
CSRF_FIELD, CSRF_HEADER = "csrf", "x-evenhand-csrf"
CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "font-src 'self'; connect-src 'self'; media-src 'self' blob:; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'; worker-src 'self'; manifest-src 'self'"
)


def content_policy(store: str = "") -> str:
    """Say what a page may load; with a store that browsers reach, recordings from and to there."""
    policy = CONTENT_POLICY
    for name in ("connect-src", "media-src") if store else ():
        policy = policy.replace(f"{name} 'self'", f"{name} 'self' {store}")
    return policy


HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "microphone=(self), camera=(self), geolocation=()",
}
HSTS: Mapping[str, str] = {"Strict-Transport-Security": "max-age=31536000"}  # where there is TLS
SEALS_BY: ContextVar[str] = ContextVar("SEALS_BY", default="")  # the token of the session that asks
# How many in how many seconds, for one address (or one student, once there is a session).
# What was right is not counted where secrets are tried: a school behind one address comes in.
LIMITS: Mapping[str, tuple[int, float]] = {
    "login": (10, 300.0),  # wrong passwords from one address, or from one device that is known
    "account": (30, 300.0),  # wrong passwords from all devices that are not known
    "password": (10, 300.0),
    "link": (30, 300.0),  # wrong links from one address
    "opened": (60, 300.0),  # one student's links
    "upload": (120, 300.0),
    "live": (120, 300.0),
    "words": (40, 300.0),
    "ready": (120, 300.0),  # each tries the disk
    "metrics": (300, 300.0),
    "hear": (240, 300.0),  # exercises of the book that are played
}


TIDIED_EVERY_S = 60.0  # who came long ago is forgotten


class Limiter:
    """Counts what came from one visitor in the last while.

    Where several processes serve, ``tries`` counts for all of them. While their database takes no counts,
    each counts by itself, so that somebody may try more often, but no more than so many times more.
    """

    def __init__(
        self, limits: Mapping[str, tuple[int, float]] = LIMITS, *, tries: SharedTries | None = None
    ) -> None:
        self._limits, self._tries = limits, tries
        self._came: dict[tuple[str, str], deque[float]] = defaultdict(deque)
        self._lock = threading.Lock()
        self._tidied_at = time.monotonic()

    def allows(self, limit: str, who: str) -> bool:
        """Count one more, and tell whether it is still within the limit."""
        most, seconds = self._limits[limit]
        self._tidy()
        if self._tries is not None:
            with suppress(CannotKeep, SQLAlchemyError):
                return self._tries.count(limit, who, most, seconds)
        with self._lock:
            now = time.monotonic()
            came = self._came[limit, who]
            while came and now - came[0] > seconds:
                came.popleft()
            if len(came) >= most:
                return False
            came.append(now)
            return True

    def takes_back(self, limit: str, who: str) -> None:
        """Count one less: it was no guess."""
        if self._tries is not None:
            with suppress(CannotKeep, SQLAlchemyError):
                self._tries.take_back(limit, who)
        with self._lock:
            came = self._came.get((limit, who))
            if came:
                came.pop()

    def _tidy(self) -> None:
        """Forget, now and then, who did not come again within the limit's time."""
        with self._lock:
            now = time.monotonic()
            if now - self._tidied_at < TIDIED_EVERY_S:
                return
            self._tidied_at = now
            for (limit, who), came in list(self._came.items()):
                if not came or now - came[-1] > self._limits[limit][1]:
                    del self._came[limit, who]
        if self._tries is not None:
            with suppress(CannotKeep, SQLAlchemyError):
                self._tries.tidy()


def cookie_name(connection: HTTPConnection, name: str = COOKIE) -> str:
    """Return what a cookie is called: with HTTPS a neighbour's site on the same domain can set none of it."""
    return f"{HOST_ONLY}{name}" if connection.app.state.settings.secure else name


def secret_of(connection: HTTPConnection, name: str = COOKIE) -> str:
    """Return the secret that a cookie brought; empty where there is none."""
    return connection.cookies.get(cookie_name(connection, name), "")


def give_cookie(
    connection: HTTPConnection, answer: Response, secret: str, lasts: timedelta, name: str = COOKIE
) -> Response:
    """Give a secret, where no script can read it."""
    answer.set_cookie(
        cookie_name(connection, name),
        secret,
        max_age=int(lasts.total_seconds()),
        httponly=True,
        secure=connection.app.state.settings.secure,
        samesite="lax",
    )
    return answer


def take_cookie(connection: HTTPConnection, answer: Response, name: str = COOKIE) -> None:
    """Let a browser forget a secret."""
    answer.delete_cookie(
        cookie_name(connection, name), secure=connection.app.state.settings.secure, httponly=True
    )


def session_of(connection: HTTPConnection) -> Session | None:
    """Return the session that the cookie names, if it still holds; and note whose studio it is of."""
    secret = secret_of(connection)
    if not secret:
        return None
    school: School = connection.app.state.school
    studio = school.of_secret(secret)
    session = None if studio is None else studio.access.session(secret)
    if studio is None or session is None:
        return None
    connection.state.studio = connection.state.own_studio = studio
    return session if session.role == "student" else _as_at_school(connection, school, session)


def _as_at_school(connection: HTTPConnection, school: School, session: Session) -> Session:
    """Say of a teacher's session whether it is the administrator's, or a substitute's on such a day."""
    own = connection.state.own_studio.id
    teacher = school.teacher(own)
    if teacher is None or teacher.login is None:  # one teacher alone
        return session
    if teacher.administrator:
        return replace(session, role="administrator")
    chosen, day = secret_of(connection, STANDS_IN), datetime.now().astimezone().date()
    standing = school.stands_in(own, chosen, day)
    if standing is None and chosen:
        chosen, standing = "", school.stands_in(own, "", day)
    if standing is None:
        return session
    other = school.teacher(standing.for_id)
    name = "" if other is None else other.name
    connection.state.stand_in = {"id": standing.id, "last": standing.last, "name": name}
    if not chosen:
        return session
    connection.state.studio = school.studio(standing.for_id)
    return replace(session, stands_in_for=name)


def refusal(request: Request, route: StudioRoute, session: Session | None) -> Response | None:
    """Say no, or return None where all is well but the form's token, which ``csrf_holds`` checks."""
    if route.limit and not request.app.state.limiter.allows(route.limit, visitor(request, session)):
        return plain(request, 429, "Too many tries in a short time. Wait a few minutes, then try again.")
    if route.checks != "none" and not origin_holds(request):
        return plain(request, 403, "This came from another page than the studio's own.")
    if route.who != "anyone" and (session is None or not may(session, route)):
        return _to_the_entrance(request, route, session)
    return None


def home_of(session: Session) -> str:
    """Return the page on which somebody begins."""
    return {"teacher": "/", "student": "/stand", "administrator": "/school"}[session.role]


def visitor(connection: HTTPConnection, session: Session | None) -> str:
    """Name who comes, so that it can be counted: a student whichever session it is, else an address.

    A link gives a new session whenever it is opened, so sessions are not what is counted.
    """
    if session is not None:
        whose = session.student_id or connection.state.own_studio.id
        return f"{session.role} {whose}"
    return comes_from(connection)


def comes_from(connection: HTTPConnection) -> str:
    """Return where somebody comes from; of the newer addresses, the part that one household has."""
    host = connection.client.host if connection.client else "nobody"
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return host
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped is not None:
            return str(address.ipv4_mapped)
        return str(ipaddress.ip_network((address, 64), strict=False).network_address)
    return host


def _to_the_entrance(request: Request, route: StudioRoute, session: Session | None) -> Response:
    """Send a page's visitor to the login, and refuse everything else."""
    if route.kind == "page" and session is not None and session.role != route.who:
        return RedirectResponse(home_of(session), status_code=303)
    if route.kind == "page" and session is None:
        return RedirectResponse("/gone" if route.who == "student" else "/login", status_code=303)
    if session is not None and session.stands_in_for:
        words = f"A substitute cannot do this. It is {session.stands_in_for}'s own."
        return plain(request, 403, words)
    return plain(request, 403 if session else 401, "This is not yours to open.")


def origin_holds(connection: HTTPConnection) -> bool:
    """Tell whether a request that changes something came from our own page.

    A browser sends ``Origin`` with every POST and every socket; where it is missing, ``Sec-Fetch-Site``
    must say the same origin.
    """
    origin = connection.headers.get("origin")
    if origin is None or origin == "null":
        return connection.headers.get("sec-fetch-site") == "same-origin"
    allowed = connection.app.state.settings.origins
    if origin in allowed:
        return True
    try:
        host = urlsplit(origin).netloc
    except ValueError:  # no address at all
        return False
    return bool(host) and host == connection.headers.get("host", "")


def host_holds(connection: HTTPConnection) -> bool:
    """Tell whether the studio was called by a name that it has.

    A page from elsewhere may let its own name lead to this computer, and would then be of our own origin.
    """
    hosts = connection.app.state.settings.hosts
    if not hosts:
        return True
    try:
        called = urlsplit(f"//{connection.headers.get('host', '')}").hostname
    except ValueError:
        return False
    came_to = connection.scope.get("server") or ("",)
    return bool(called) and (called in hosts or called == came_to[0])


def csrf_holds(request: Request, session: Session | None, form_token: str | None) -> bool:
    """Tell whether the token of the session came with the request."""
    given = request.headers.get(CSRF_HEADER) or form_token or ""
    return session is not None and hmac.compare_digest(given.encode(), session.csrf.encode())


def plain(request: Request, status: int, words: str) -> Response:
    """Answer in words: as JSON at a route that gives JSON or where it was asked for, else as a small page."""
    wants_json = getattr(request.state, "kind", "") == "json"
    if wants_json or "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"error": words}, status_code=status)
    from evenhand.web.pages import error_page

    return error_page(request, status, words)


class Headers:
    """Puts the security headers on every answer, and answers nobody who calls the studio by another name."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, its answer with the headers."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        extra = [(k.lower().encode(), v.encode()) for k, v in headers_of(scope).items()]

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                fixed = {name for name, _ in extra} if scope["app"].state.settings.secure else set()
                have = [h for h in message.get("headers", []) if h[0].lower() not in fixed - _OWN]
                names = {name.lower() for name, _ in have}
                message = {**message, "headers": [*have, *(h for h in extra if h[0] not in names)]}
            await send(message)

        if host_holds(HTTPConnection(scope)):
            await self._app(scope, receive, with_headers)
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
        else:
            words = "This studio has no such name. Type the address that it shows when it starts.\n"
            await PlainTextResponse(words, 421)(scope, receive, with_headers)


_OWN = frozenset({b"content-security-policy"})  # what a page may have of its own, where there is TLS too


def headers_of(scope: Scope) -> dict[str, str]:
    """List an answer's headers: what a session opens is its own, and with TLS stays nowhere."""
    static = str(scope.get("path", "")).startswith("/static/")
    settings = scope["app"].state.settings
    policy = content_policy(settings.store)
    fixed = {**HEADERS, "Content-Security-Policy": policy, "Evenhand-Build": build()}
    if not settings.secure:
        return {**fixed, **({} if static else {"Cache-Control": "private, no-cache"})}
    return {**fixed, **HSTS, **({} if static else {"Cache-Control": "no-store"})}


BROWSERS = (("Firefox/", "Firefox"), ("Edg/", "Edge"), ("Chrome/", "Chrome"), ("Safari/", "Safari"))
SYSTEMS = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("Mac OS", "Mac"),
    ("Linux", "Linux"),
)


def browser_of(request: Request) -> str:
    """Name the browser and the system that a request comes from; what it says of itself is not kept."""
    said = request.headers.get("user-agent", "")
    named = [next((name for mark, name in table if mark in said), "") for table in (BROWSERS, SYSTEMS)]
    return ", ".join(name for name in named if name)
