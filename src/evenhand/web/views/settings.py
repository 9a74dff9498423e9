"""The studio's settings, the whole studio as one file, and what its JSON is."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import ExitStack
from os import SEEK_END
from typing import Any

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response, StreamingResponse

from evenhand import __version__
from evenhand.errors import NotFound
from evenhand.studio.safekeeping.export import exported
from evenhand.studio.typed import wrong_with
from evenhand.studio.whole.rows import COLUMNS
from evenhand.studio.whole.table import csv_table
from evenhand.web import pages
from evenhand.web.acted import note
from evenhand.web.checking import TooManyChecks
from evenhand.web.guard import home_of, take_cookie
from evenhand.web.openapi import openapi_of
from evenhand.web.pages import go, said_here, today
from evenhand.web.requests import studio_of
from evenhand.web.routes import ROUTES

AT_ONCE = 1 << 20
MOST_LETTERS = 80
UNITS = ("in", "cm")
KEEPS = ("keep_originals", "keep_videos")

WRONG = {
    "name": "The studio's name must be 1 to 80 characters.",
    "unit": "Heights are in inches or centimetres.",
}
WRONG_PASSWORD = {
    "wrong": "That is not the current password. Nothing was changed.",
    "short": "The new password must have 12 characters or more. Nothing was changed.",
    "long": "The new password must have 200 characters at most. Nothing was changed.",
    "common": (
        "That is one of the passwords that are tried first. Take some words of your own. Nothing was changed."
    ),
    "busy": "Too many passwords are being checked. Try again in a minute.",
    "differs": "The two new passwords differ. Nothing was changed.",
}


def page(
    request: Request,
    *,
    status: int = 200,
    wrong: dict[str, str] | None = None,
    typed: dict[str, str] | None = None,
) -> Response:
    """Show the settings; what cannot be read stands there again."""
    facts = studio_of(request).facts
    kept = {"name": facts.name, "unit": facts.unit}
    kept |= {each: "yes" if getattr(facts, each) else "" for each in KEEPS}
    return pages.page(
        request,
        "settings.html",
        status=status,
        values=kept if typed is None else {name: typed.get(name, "") for name in kept},
        wrong=wrong or {},
        version=__version__,
        said=said_here(request),
    )


def change(request: Request) -> Response:
    """Change what the studio is called and how it keeps things."""
    form = {name: str(value) for name, value in request.state.form.items()}
    fields, wrong = _read(form)
    if wrong:
        return page(request, status=422, wrong={wrong: WRONG[wrong]}, typed=form)
    studio_of(request).change_facts(**fields)
    return go("/settings", "Saved.")


async def change_password(request: Request) -> Response:
    """Change the password; everybody who came in by the old one is out."""
    old, new, again = (str(request.state.form.get(name, "")) for name in ("old", "new", "again"))
    try:
        wrong = await request.app.state.passwords.run(lambda: _changed(request, old, new, again))
    except TooManyChecks:
        wrong = "busy"
    if wrong and request.state.session.role == "administrator":
        return go(home_of(request.state.session), WRONG_PASSWORD[wrong])
    if wrong:
        words = {"password": WRONG_PASSWORD[wrong]}
        return await run_in_threadpool(lambda: page(request, status=422, wrong=words))
    answer = RedirectResponse("/login", status_code=303)
    take_cookie(request, answer)
    return answer


def _changed(request: Request, old: str, new: str, again: str) -> str:
    """Change the password, or tell what is wrong."""
    studio = studio_of(request)
    wrong = wrong_with(new, again) if studio.access.check_password(old) else "wrong"
    if not wrong:
        studio.access.change_password(new, old=old)
    return wrong


def export(request: Request) -> Response:
    """Give the whole studio as one archive; the file has no name here, so that nothing of it can stay."""
    with ExitStack() as lent:
        file = lent.enter_context(exported(studio_of(request)))
        file.seek(0, SEEK_END)
        n_bytes = file.tell()
        file.seek(0)
        kept = lent.pop_all()
    note(request, "studio exported")
    return StreamingResponse(
        iter(lambda: file.read(AT_ONCE), b""),
        media_type="application/zip",
        headers={
            "Cache-Control": "no-store",
            "Content-Length": str(n_bytes),
            "Content-Disposition": f'attachment; filename="evenhand-studio-{today():%Y-%m-%d}.zip"',
        },
        background=BackgroundTask(kept.close),
    )


def table(request: Request) -> Response:
    """Give a table across all students and years as CSV, while it is made; names only if asked for."""
    asked, names = request.query_params.get("rows", "takes"), "names" in request.query_params
    rows = next((each for each in COLUMNS if each == asked), None)
    if rows is None:
        raise NotFound(what="this table")
    note(request, "table exported")
    return StreamingResponse(
        csv_table(studio_of(request), rows, names=names),
        media_type="text/csv; charset=utf-8",
        headers={
            "Cache-Control": "no-store",
            "Content-Disposition": f'attachment; filename="evenhand-{rows}-{today():%Y-%m-%d}.csv"',
        },
    )


def openapi(request: Request) -> Response:
    """Describe the JSON that the studio gives."""
    described = openapi_of(ROUTES, version=__version__, title=studio_of(request).facts.name)
    return JSONResponse(described)


def _read(typed: Mapping[str, str]) -> tuple[dict[str, Any], str]:
    """Read the studio's settings: the changes, or the field that cannot be read."""
    name = " ".join(typed.get("name", "").split())
    if not 1 <= len(name) <= MOST_LETTERS or not name.isprintable():
        return {}, "name"
    if typed.get("unit") not in UNITS:
        return {}, "unit"
    return {"name": name, "unit": typed["unit"], **{each: bool(typed.get(each)) for each in KEEPS}}, ""
