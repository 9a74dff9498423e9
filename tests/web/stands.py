"""A student at the stand, for the tests of its pages."""

from __future__ import annotations

import html
import io
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf
from starlette.testclient import TestClient

from evenhand.acts.weeks.document import plan_to_json
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.studio.store.layout import FOLDER_ALONE, Backing
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Student, StudioTake, Week
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import SimulatedTake, simulate
from evenhand.synthesis.playing import Player
from evenhand.take import in_words
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.serving import STUDENT_STAYS, TEACHER_STAYS, WebSettings
from tests.studios import a_studio

ORIGIN = {"origin": "http://testserver"}
JSON = {"accept": "application/json"}
KEY = "0123456789abcdef0123"
TEXT, TEMPO = "1/8: RLRR LRLL", "1/4=110"


@dataclass
class Stand:
    """A client who was let in, with the form's token and the studio behind."""

    client: TestClient
    csrf: str
    studio: Studio
    student: Student

    def send(self, content: bytes, *, key: str = KEY, kind: str = "audio/wav", **fields: Any) -> Any:
        """Send a recording as the script does."""
        form = {"csrf": self.csrf, "upload_key": key, "exercise": TEXT, "tempo": TEMPO, **fields}
        files = {"recording": ("take.wav", content, kind)}
        return self.client.post("/stand/takes", data=form, files=files, headers=JSON)

    def as_another(self, student: Student) -> Stand:
        """Let another student in, in a client of their own."""
        secret, session = self.studio.access.begin("student", student_id=student.id, lasts=STUDENT_STAYS)
        client = TestClient(self.client.app, headers=ORIGIN, cookies={COOKIE: secret})
        return Stand(client, session.csrf, self.studio, student)

    def as_teacher(self) -> TestClient:
        """Let the teacher in, in a client of their own."""
        secret, _ = self.studio.access.begin("teacher", lasts=TEACHER_STAYS)
        return TestClient(self.client.app, headers=ORIGIN, cookies={COOKIE: secret})

    def only_take(self) -> StudioTake:
        """Give the one take there is."""
        (take,) = self.studio.takes.all(self.student.id)
        return take


@contextmanager
def a_stand(folder: Path, *, backing: Backing = FOLDER_ALONE, **student: Any) -> Iterator[Stand]:
    """Open a studio's stand to one student; nothing is assigned yet."""
    a_studio(folder, backing=backing).close()
    app = create_app(WebSettings(folder / "studio", backing), hears=False)
    with TestClient(app, headers=ORIGIN) as client:
        studio: Studio = app.state.school.front
        who = studio.students.add("Ines Hollander", **student)
        secret, session = studio.access.begin("student", student_id=who.id, lasts=STUDENT_STAYS)
        client.cookies.set(COOKIE, secret)
        yield Stand(client, session.csrf, studio, who)


def a_plan() -> PracticePlan:
    """Give three days alike: two exercises, 90 s and 60 s, half a minute of rest after each."""
    items = (
        _item(TEXT, 90.0, stroke="tap", title="Paradiddle", why=in_words("The left came late.")),
        _item("1/16: >RLRL RRLL", 60.0, stroke="half"),
    )
    return PracticePlan((PracticeDay(items),) * 3)


def _item(text: str, seconds: float, **changes: Any) -> PracticeItem:
    return PracticeItem(parse_exercise(text), Tempo.parse(TEMPO), 8, seconds, rest_s=30.0, **changes)


def assign(stand: Stand, starts: date, *, words: str = "Let the stick fall.", plan: str = "") -> Week:
    """Send a week to the student."""
    week = Week("", stand.student.id, starts, "half", plan or plan_to_json(a_plan()), words=words)
    return stand.studio.weeks.send(stand.studio.weeks.save(week).id)


def yesterday() -> date:
    """Give the day before today, on this machine's clock, as the pages see it."""
    return date.today() - timedelta(days=1)  # noqa: DTZ011 - the teacher's own clock is what the pages go by


def practice_of(page: str) -> dict[str, Any]:
    """Read what the page gives its script."""
    found = re.search(r"data-practice='([^']*)'", page)
    assert found
    facts: dict[str, Any] = json.loads(html.unescape(found[1]))
    return facts


def a_playing(times: int = 6, **player: Any) -> SimulatedTake:
    """Let the simulated player play the exercise, on a dry pad without a click; its first note at 0.5 s."""
    scene = Scene(lead_in_s=0.5, count_in="none")
    exercise, tempo = parse_exercise(TEXT), Tempo.parse(TEMPO)
    return simulate(exercise, tempo, times, player=Player(**player), scene=scene, seed=4)


def wav_of(samples: Any, rate_hz: int) -> bytes:
    """Write samples as WAV."""
    out = io.BytesIO()
    sf.write(out, np.asarray(samples), rate_hz, format="WAV", subtype="PCM_16")
    return out.getvalue()


def a_recording(times: int = 6, **player: Any) -> bytes:
    """Give a recording of the exercise."""
    played = a_playing(times, **player)
    return wav_of(played.samples, played.rate_hz)
