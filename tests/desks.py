"""The teacher's desk in tests: a studio, a logged-in client, and takes that were really heard."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient

from evenhand.acts.takes.document import json_text
from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.simulate import Wanted, simulate_take
from evenhand.media.open_take import open_take
from evenhand.media.write import write_wav
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake
from evenhand.synthesis.instruments import Scene
from evenhand.web import app as web_app
from evenhand.web.guard import COOKIE
from evenhand.web.routes import ROUTES
from evenhand.web.serving import TEACHER_STAYS, WebSettings
from tests.studios import a_new_take, a_studio

ORIGIN = {"origin": "http://testserver"}
LATE = ("late-hand=L:24",)
TEXT, TEMPO = "1/8: RLRR LRLL", "1/8=160"
PLACES = (
    "entrance",
    "desk",
    "students",
    "rudiments",
    "settings",
    "path",
    "whole",
)  # the other places have tests of their own


@dataclass
class ADesk:
    """A teacher's browser at a studio."""

    client: TestClient
    app: Starlette
    studio: Studio
    csrf: str

    def get(self, path: str) -> Any:
        """Open a page."""
        return self.client.get(path)

    def post(self, path: str, **fields: object) -> Any:
        """Send a form, and stay where it leads."""
        return self.client.post(path, data={"csrf": self.csrf, **fields}, follow_redirects=False)


def make_the_desks_routes_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let an application have no routes but the desk's own: it is made more quickly."""
    monkeypatch.setattr(web_app, "ROUTES", [each for each in ROUTES if each.view.partition(".")[0] in PLACES])


def a_desk(folder: Path, monkeypatch: pytest.MonkeyPatch, **changes: object) -> ADesk:
    """Give a desk with a new, empty studio; only the desk's own routes are hung."""
    make_the_desks_routes_only(monkeypatch)
    a_studio(folder, **changes).close()
    app = web_app.create_app(WebSettings(folder / "studio"), hears=False)
    secret, session = app.state.school.front.access.begin("teacher", lasts=TEACHER_STAYS)
    client = TestClient(app, headers=ORIGIN, cookies={COOKIE: secret})
    return ADesk(client, app, app.state.school.front, session.csrf)


@cache
def heard_json(faults: tuple[str, ...] = LATE, repetitions: int = 8, seed: int = 1) -> str:
    """Play a take with faults, hear it, and give what was heard as JSON."""
    asked = TakeRequest.read(TEXT, TEMPO)
    take = simulate_take(Wanted(asked, repetitions, faults, seed), Scene(rate_hz=24_000, noise_snr_db=40.0))
    with TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        write_wav(path, take.samples, take.rate_hz)
        return json_text(hear_take(path, asked, opens=open_take))


def a_heard_take(
    studio: Studio, student_id: str, at: datetime, *, heard: str | None = None, **changes: object
) -> StudioTake:
    """Put a take into the studio that came at a moment and was heard."""
    key = f"{at.isoformat()}-{len(studio.takes.all(student_id))}"
    new = a_new_take(student_id, key, recorded_at=at, exercise=TEXT, tempo=TEMPO, **changes)
    take, _ = studio.takes.receive(new, key.encode(), received_at=at + timedelta(seconds=5))
    studio.queue.took_heard(take.id, heard_json() if heard is None else heard, 20.0)
    return take


def words_of(page: str) -> str:
    """Give a page's words, markup and needless space left out."""
    return " ".join(re.sub(r"<[^>]+>", " ", page).replace("\xa0", " ").replace("&#39;", "'").split())
