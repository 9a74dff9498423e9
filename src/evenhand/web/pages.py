"""Pages from templates: what every page knows, and small ways to answer.

When something was, in words, on the teacher's own clock.
"""

from __future__ import annotations

import hashlib
import hmac
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from evenhand.errors import BadTempo, CannotKeep, DatabaseAway, DiskFull, ReadOnly, StoreAway, StudioDamaged
from evenhand.music.exercise import Tempo
from evenhand.report.words.figures import DAY_NAMES, PAIN, PARENT_CAUTION, TEACHER_CAUTION, day_words
from evenhand.studio.store.layout import Backing
from evenhand.studio.values import StudioFacts
from evenhand.web.assets import asset, build
from evenhand.web.guard import SEALS_BY
from evenhand.web.requests import studio_of

if TYPE_CHECKING:
    from jinja2 import Environment


HERE = Path(__file__).parent
ERROR = "error.html"
STUDENT_CAUTION = (
    f"{PAIN} Tell your teacher, too. Let the load rise gradually. "
    "Loud sound harms hearing: keep the click low."
)

KEEPS_NOT: dict[type[CannotKeep], tuple[int, str]] = {  # 507: insufficient storage (RFC 4918, 11.5)
    DiskFull: (
        507,
        (
            "The studio's disk is full, so nothing new can be kept. "
            "What was there before is safe. "
            "A recording stays on the device that made it, and is sent when there is room."
        ),
    ),
    ReadOnly: (
        507,
        (
            "The studio's folder cannot be written to, so nothing new can be kept. "
            "What was there before is safe. "
            "A recording stays on the device that made it, and is sent when it can be kept."
        ),
    ),
    DatabaseAway: (
        503,
        (
            "The studio's database cannot be reached just now. "
            "What was there before is safe. "
            "A recording stays on the device that made it, and is sent when it can be kept."
        ),
    ),
    StoreAway: (
        503,
        (
            "Where recordings lie cannot be reached just now, so none can be kept or played. "
            "What was there before is safe. "
            "A recording stays on the device that made it, and is sent when it can be kept."
        ),
    ),
    StudioDamaged: (
        503,
        (
            "The studio's database is damaged. "
            "The recordings are files of their own and untouched. "
            "Close the studio; evenhand check says what to do."
        ),
    ),
}


@cache
def environment() -> Environment:
    """Load the templates once; everything written into them is escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        auto_reload=False,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(
        asset=asset,
        build=build(),
        caution_student=STUDENT_CAUTION,
        caution_teacher=TEACHER_CAUTION,
        caution_parent=PARENT_CAUTION,
    )
    made.filters.update(day=weekday_words, clock=clock_words, tempo=tempo_words)
    return made


def page(request: Request, template: str, *, status: int = 200, **facts: Any) -> HTMLResponse:  # noqa: ANN401 - a template's facts are of any kind
    """Answer with a page.

    Each template knows ``studio``, ``session``, ``csrf``, ``path``, ``store``, ``demo``, ``filling``
    ``has_news`` and ``where_kept``.
    """
    session = getattr(request.state, "session", None)
    studio = _facts(request, even_away=template == ERROR)
    text = (
        environment()
        .get_template(template)
        .render(
            studio=studio,
            demo=studio.demo,
            has_news=request.app.state.news is not None,
            where_kept=_where_kept(request.app.state.settings.backing),
            filling=_filling(request) if studio.demo else None,
            session=session,
            csrf=session.csrf if session else "",
            stand_in=getattr(request.state, "stand_in", None),
            path=request.url.path,
            store=request.app.state.settings.store,
            **facts,
        )
    )
    return HTMLResponse(text, status_code=status)


def _facts(request: Request, *, even_away: bool) -> StudioFacts:
    """Return what the studio is called; an error's page stands also where its database is away."""
    try:
        return studio_of(request).facts
    except DatabaseAway:
        if even_away:
            return StudioFacts("Evenhand", demo=False, created_at=now())
        raise


def _where_kept(backing: Backing) -> str:
    """Say where recordings are: at the teacher's own computer only where the studio is in one folder."""
    if backing.objects is not None:
        return "in the studio's own store"
    return "on this computer" if backing.url is None else "on the studio's own server"


def _filling(request: Request) -> tuple[int, int] | None:
    """Return how far a demonstration is filled, while it is."""
    from evenhand.studio.demo.fill import filling_of

    return filling_of(request.app.state.settings.data)


def error_page(request: Request, status: int, words: str) -> Response:
    """Say in words what went wrong, with a way back."""
    return page(request, ERROR, status=status, words=words, title="That did not work")


def go(path: str, said: str = "", *, at: str = "") -> Response:
    """Go to a page after an act, with a line to show there; ``at`` is the id of a place on it.

    The line is sealed for that page by the session's own token, which any process knows again: whoever
    writes a link of their own cannot put words on ours.
    """
    ending = ""
    if said:
        ending = f"{'&' if '?' in path else '?'}said={quote(said)}&seal={_seal(path.partition('?')[0], said)}"
    return RedirectResponse(f"{path}{ending}{f'#{at}' if at else ''}", status_code=303)


def said_here(request: Request) -> str:
    """Return the line that ``go`` sent to this page; nothing where somebody else wrote it."""
    said, seal = (request.query_params.get(name, "") for name in ("said", "seal"))
    held = hmac.compare_digest(seal.encode(), _seal(request.url.path, said).encode())
    return said if held and SEALS_BY.get() else ""


def _seal(path: str, said: str) -> str:
    return hmac.new(SEALS_BY.get().encode(), f"{path}\0{said}".encode(), hashlib.sha256).hexdigest()[:32]


def today() -> date:
    """Return the day on the teacher's own clock."""
    return datetime.now().astimezone().date()


def now() -> datetime:
    """Return this moment, in UTC."""
    return datetime.now(UTC)


def weekday_words(day: date | datetime) -> str:
    """Write a day with its weekday; a moment's, on the teacher's own clock."""
    return day_words(day.astimezone().date() if isinstance(day, datetime) else day, weekday=True)


def tempo_words(text: str) -> str:
    """Write a tempo in one way, however it was typed; what is no tempo stays as it stands.

    >>> tempo_words("1/8=150"), tempo_words("")
    ('1/8 = 150', '')
    """
    try:
        return str(Tempo.parse(text))
    except BadTempo:
        return text


def clock_words(moment: datetime) -> str:
    """Write a time of day on the teacher's own clock."""
    return f"{moment.astimezone():%H:%M}"


NAMED_DAYS = 7  # within these a weekday's name is enough


def when_words(moment: datetime, today: date) -> str:
    """Say when something was: today, yesterday, a weekday, or a date; and the time."""
    day, clock = moment.astimezone().date(), clock_words(moment)
    days = (today - day).days
    if days in {0, 1}:
        return f"{'yesterday' if days else 'today'}, {clock}"
    near = 1 < days < NAMED_DAYS and day.year == today.year
    named = DAY_NAMES[day.weekday()] if near else day_words(day, year=day.year != today.year)
    return f"{named}, {clock}"
