"""Write down who did what, and name a browser in a few words."""

from __future__ import annotations

from starlette.requests import Request

from evenhand.domain.studio import ActKind, Session
from evenhand.web.guard import comes_from

BROWSERS = (("Firefox/", "Firefox"), ("Edg/", "Edge"), ("Chrome/", "Chrome"), ("Safari/", "Safari"))
SYSTEMS = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("Mac OS", "Mac"),
    ("Linux", "Linux"),
)


def note(request: Request, what: ActKind, about: str = "") -> None:
    """Write down that whoever asks did something."""
    session: Session | None = request.state.session
    who = session.role if session is not None else "nobody"
    request.app.state.studio.note(what, who, about=about, address=comes_from(request))


def browser_of(request: Request) -> str:
    """Name the browser and the system that a request comes from; what it says of itself is not kept."""
    said = request.headers.get("user-agent", "")
    named = [next((name for mark, name in table if mark in said), "") for table in (BROWSERS, SYSTEMS)]
    return ", ".join(name for name in named if name)
