"""A lesson's page: what is listed to hear, whose a recording made there is, and where its week leads."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from evenhand.acts.takes.document import json_text
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import IN_LESSON, Said, Student, StudioTake
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.pages import today
from evenhand.web.serving import TEACHER_STAYS, WebSettings
from tests.builders import a_heard_take
from tests.studios import a_new_take, a_studio

ORIGIN = {"origin": "http://testserver"}
KEY = "0123456789abcdef0123"
PART = {"hx-request": "true"}


@dataclass
class Place:
    """A studio behind its routes, with a teacher logged in and one student."""

    client: TestClient
    csrf: str
    studio: Studio
    student: Student

    @property
    def here(self) -> str:
        """The lesson's address."""
        return f"/students/{self.student.id}/lesson"

    def heard(self, key: str, *, hours_ago: float, student: Student | None = None, **more: Any) -> StudioTake:
        """Let a take come that was heard."""
        at = datetime.now().astimezone() - timedelta(hours=hours_ago)
        new = a_new_take((student or self.student).id, key, recorded_at=at, **more)
        take, _ = self.studio.takes.receive(new, b"fLaC" + key.encode(), received_at=at)
        self.studio.queue.took_heard(take.id, json_text(a_heard_take()), 31.2)
        return take

    def record(self, student: Student | None = None, **fields: str) -> Any:
        """Send a recording as the lesson's script does."""
        sent = {"csrf": self.csrf, "upload_key": KEY, "exercise": "1/8: RLRR LRLL", "tempo": "1/8=140"}
        return self.client.post(
            f"/students/{(student or self.student).id}/lesson/takes",
            data={**sent, "source": "microphone", "click": "room", "first_note_s": "1.5", **fields},
            files={"recording": ("take.wav", b"RIFF" + bytes(64), "audio/wav")},
            headers={"accept": "application/json"},
        )

    def listed(self, query: str = "") -> list[str]:
        """List the takes as they stand in the page."""
        return re.findall(r'id="take-(\w+)"', self.client.get(self.here + query).text)


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    studio = a_studio(tmp_path)
    student = studio.students.add(
        "Ines Varga", stage="tap", lesson_day=today().weekday(), lesson_time="15:00"
    )
    secret, session = studio.access.begin("teacher", lasts=TEACHER_STAYS)
    studio.close()
    app = create_app(WebSettings(tmp_path / "studio"), hears=False)
    with TestClient(app, headers=ORIGIN, cookies={COOKIE: secret}) as client:
        yield Place(client, session.csrf, app.state.school.front, student)


def test_the_week_is_listed_as_it_was_played_and_of_takes_alike_the_newest(place: Place) -> None:
    fresh = place.heard("now", hours_ago=0.1)
    first, alike = place.heard("one", hours_ago=100.2), place.heard("two", hours_ago=100)
    other = place.heard("three", hours_ago=100.1, tempo="1/8=150")
    place.heard("old", hours_ago=24 * 9)
    place.heard("mine", hours_ago=30, source="teacher", model=True)
    assert place.listed() == [fresh.id, other.id, alike.id]
    assert place.listed("?every") == [fresh.id, first.id, other.id, alike.id]
    shown = place.client.get(place.here).text
    assert "the newest of 2" in shown
    assert shown.index("In this lesson") < shown.index(fresh.id) < shown.index(other.id)


def test_without_a_take_this_week_the_last_ones_are_there(place: Place) -> None:
    old = place.heard("old", hours_ago=24 * 30)
    assert place.listed() == [old.id]


def test_a_recording_made_in_the_lesson_is_the_students_own(place: Place) -> None:
    answer = place.record()
    assert answer.status_code == 202
    assert place.record().status_code == 200  # sent twice, kept once
    (take,) = place.studio.takes.all()
    assert answer.json() == {"id": take.id, "status": "waiting"}
    assert (take.student_id, take.source, take.model) == (place.student.id, "microphone", False)
    assert take.facts | {IN_LESSON: "yes", "first_note_s": "1.5"} == take.facts
    assert take.urgency == "lesson"
    assert "recorded in the lesson" in place.client.get(place.here).text
    assert place.record(upload_key="short").status_code == 422


def test_of_a_minor_nothing_is_recorded_before_somebody_agreed(place: Place) -> None:
    minor = place.studio.students.add("Ben Osgood", minor=True)
    assert place.record(minor).status_code == 403
    assert place.studio.takes.all() == []
    assert 'id="record"' not in place.client.get(f"/students/{minor.id}/lesson").text


def test_the_list_is_sent_again_only_when_it_is_another(place: Place) -> None:
    place.heard("one", hours_ago=30)
    part = place.client.get(f"{place.here}/takes")
    stamp = re.search(r'data-stamp="(\w+)"', part.text)
    assert stamp
    assert "<html" not in part.text
    assert place.client.get(f"{place.here}/takes?seen={stamp[1]}").status_code == 204
    new = place.heard("two", hours_ago=0)
    again = place.client.get(f"{place.here}/takes?seen={stamp[1]}")
    assert again.status_code == 200
    assert new.id in again.text


def test_two_side_by_side_and_never_anothers(place: Place) -> None:
    una = place.studio.students.add("Una Fell")
    one, two = place.heard("one", hours_ago=30), place.heard("two", hours_ago=54)
    theirs = place.heard("theirs", hours_ago=30, student=una)
    shown = place.client.get(f"{place.here}?beside={two.id}&beside={one.id}").text
    assert f'href="/takes/{two.id}/beside/{one.id}"' in shown
    for ids in ((one.id, theirs.id), (one.id,), (one.id, one.id), ("none", "nothing")):
        shown = place.client.get(place.here, params={"beside": ids}).text
        assert "Tick two takes that were heard" in shown
        assert theirs.id not in shown


def test_a_week_sent_in_the_lesson_leads_back_to_it(place: Place) -> None:
    week = f"/students/{place.student.id}/week"
    head = {"starts": today().isoformat(), "stage": "tap", "minutes": "4", "days": "2", "words": ""}
    head |= {"csrf": place.csrf, "view": "lesson"}
    proposed = place.client.post(f"{week}/propose", data=head, headers=PART).text
    assert 'class="exercises"' in proposed
    assert 'id="grounds"' not in proposed
    rows: dict[str, Any] = {}
    for name, value in re.findall(r'name="(row_\w+|day_count)" value="([^"]*)"', proposed):
        rows.setdefault(name, []).append(value.replace("&gt;", ">"))
    put = place.client.post(
        f"{week}/sum", data={**head, **rows, "act": "put", "put": "1/8: RRLL"}, headers=PART
    )
    assert put.text.count('name="row_exercise" value="1/8: RRLL"') == 2
    sent = place.client.post(week, data={**head, **rows, "do": "send"}, follow_redirects=False)
    (kept,) = [each for each in place.studio.weeks.all(place.student.id) if each.sent_at]
    assert sent.headers["location"].startswith(f"{place.here}?week={kept.id}&said=")
    back = place.client.get(sent.headers["location"]).text
    assert "Sent. It is on Ines Varga&#39;s stand" in back
    assert "Send the changes" in back


def test_what_the_student_said_and_nobody_opened_is_there(place: Place) -> None:
    take = place.heard("one", hours_ago=30)
    said = Said("s1", place.student.id, "student", datetime.now().astimezone(), take.id, text="Which hand?")
    place.studio.threads.say(said)
    shown = place.client.get(place.here).text
    assert f'<a href="/takes/{take.id}#thread">Answers about' in shown
    assert "Which hand?" in shown


def test_the_next_lesson_of_the_day_is_one_tap_away(place: Place) -> None:
    later = place.studio.students.add("Una Fell", lesson_day=today().weekday(), lesson_time="15:30")
    place.studio.students.add("Ben Osgood", lesson_day=today().weekday(), lesson_time="14:30")
    assert (
        f'href="/students/{later.id}/lesson">Next lesson: Una Fell, 15:30'
        in place.client.get(place.here).text
    )
