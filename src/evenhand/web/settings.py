"""How a studio is served."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

from evenhand.storage.quota import Quota

TEACHER_STAYS = timedelta(days=14)
STUDENT_STAYS = timedelta(days=180)
LINK_LASTS = timedelta(days=180)
DEVICE_KNOWN = timedelta(days=400)  # as long as browsers keep a cookie


@dataclass(frozen=True, slots=True)
class WebSettings:
    """Where the studio lies and how it is reached.

    ``origins`` are the addresses that a page of ours may come from (scheme, host, port);
    ``secure`` says that it is reached by HTTPS, so that cookies go no other way; ``workers``
    are the processes that hear. ``hosts`` are the names by which the studio may be called, beside the address
    that a connection came to; none: whatever it is called.
    """

    data: Path
    url: str | None = None
    origins: tuple[str, ...] = ()
    secure: bool = False
    workers: int = 1
    hosts: tuple[str, ...] = ()
    quota: Quota = field(default_factory=Quota)
