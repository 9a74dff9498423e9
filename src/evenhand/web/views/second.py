"""The teacher's two-step login: switch it on by a first code, make recovery codes anew, switch it off.

Conventions: each act asks for the password again, and for a code; guesses are counted as those of a new
password are. While it is being switched on, its secret travels in the teacher's own form and is kept nowhere.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from evenhand.report.print.lesson_sheet import qr_picture
from evenhand.studio.store.access import Access
from evenhand.studio.store.second import is_otp_secret, new_otp_secret, otp_address
from evenhand.web import pages
from evenhand.web.checking import TooManyChecks
from evenhand.web.pages import go
from evenhand.web.requests import studio_of

WRONG = "The password or the code is not right, or the code was used before. Nothing was changed."
BUSY = "Too many passwords are being checked. Try again in a minute."
OFF = "Two-step login is off: the password alone opens the studio."


def page(request: Request, *, wrong: str = "", secret: str = "", codes: tuple[str, ...] = ()) -> Response:
    """Show whether two-step login is on, and what can be done; new recovery codes, this once."""
    studio = studio_of(request)
    kept = studio.access.second.kept
    facts: dict[str, Any] = {"on": bool(kept.sealed), "left": kept.n_recovery, "wrong": wrong, "codes": codes}
    if not kept.sealed:
        secret = secret or new_otp_secret()
        address = otp_address(secret, studio.facts.name)
        facts |= {"secret": secret, "address": address, "picture": Markup(qr_picture(address))}  # noqa: S704 - our own drawing
    answer = pages.page(request, "second.html", status=422 if wrong else 200, **facts)
    answer.headers["Cache-Control"] = "no-store"
    return answer


async def put_on(request: Request) -> Response:
    """Switch it on, once the app's first code shows that it has the secret."""
    secret = str(request.state.form.get("secret", ""))

    def done(access: Access, password: str, code: str) -> tuple[str, ...] | None:
        if access.second.kept.sealed or not is_otp_secret(secret) or not access.check_password(password):
            return None
        return access.second.put_on(password, secret, code)

    return await _with_codes(request, done, secret if is_otp_secret(secret) else "")


async def new_codes(request: Request) -> Response:
    """Make recovery codes in the place of the old ones."""

    def done(access: Access, password: str, code: str) -> tuple[str, ...] | None:
        key, used = access.key_of_login(password, code)
        return access.second.new_codes() if key and used else None

    return await _with_codes(request, done)


async def drop(request: Request) -> Response:
    """Switch it off."""

    def done(access: Access, password: str, code: str) -> tuple[str, ...] | None:
        key, used = access.key_of_login(password, code)
        if not key or not used:
            return None
        access.second.drop()
        return ()

    answer = await _checked(request, done)
    return answer if isinstance(answer, Response) else go("/access", OFF)


Done = Callable[[Access, str, str], tuple[str, ...] | None]


async def _with_codes(request: Request, done: Done, secret: str = "") -> Response:
    answer = await _checked(request, done, secret)
    if isinstance(answer, Response):
        return answer
    return await run_in_threadpool(lambda: page(request, codes=answer))


async def _checked(request: Request, done: Done, secret: str = "") -> Response | tuple[str, ...]:
    """Do what the password and the code allow, where passwords are checked; else the page that says no."""
    password, code = (str(request.state.form.get(name, "")) for name in ("password", "code"))
    access = studio_of(request).access
    try:
        found = await request.app.state.passwords.run(lambda: done(access, password, code))
    except TooManyChecks:
        return await run_in_threadpool(lambda: page(request, wrong=BUSY, secret=secret))
    if found is None:
        return await run_in_threadpool(lambda: page(request, wrong=WRONG, secret=secret))
    return tuple(found)
