"""A full disk, a read-only folder, a damaged database: each is said, and who may come in still does."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event
from starlette.testclient import TestClient

from evenhand.studio.store.layout import DATABASE
from evenhand.studio.store.studio import Studio
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.serving import WebSettings
from tests.desks import ORIGIN, ADesk
from tests.studios import PASSWORD, a_studio

LASTS = timedelta(hours=1)
SOUND = b"fLaC" + bytes(200_000)
PRAGMAS = {"full": "max_page_count = 1", "read-only": "query_only = ON"}


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[ADesk]:
    """Give a teacher's browser at a studio with all its routes."""
    a_studio(tmp_path).close()
    app = create_app(WebSettings(tmp_path / "studio"), hears=False)
    secret, session = app.state.school.front.access.begin("teacher", lasts=LASTS)
    yield ADesk(
        TestClient(app, headers=ORIGIN, cookies={COOKIE: secret}), app, app.state.school.front, session.csrf
    )
    app.state.school.front.close()


def let_nothing_be_kept(studio: Studio, how: str) -> None:
    """Let SQLite answer as on a disk that is full, or read-only."""
    engine = studio.data.database._engine  # noqa: SLF001 - every connection from here on

    def limit(connection: Any, _record: object) -> None:
        connection.execute(f"PRAGMA {PRAGMAS[how]}")

    connection = engine.raw_connection()
    connection.cursor().execute("VACUUM")  # pages that a migration freed are no free disk
    connection.close()
    event.listen(engine, "connect", limit)
    engine.dispose()


def fill(studio: Studio) -> None:
    """Use up the free places in the last pages, so that the next row needs a new one."""
    student = studio.students.add("Ida Quill")
    for _ in range(60):
        studio.access.make_link(student.id, lasts=LASTS)
        studio.access.begin("student", student_id=student.id, lasts=LASTS)


@pytest.mark.parametrize("how", PRAGMAS)
def test_the_teacher_and_a_student_come_in_where_nothing_can_be_kept(desk: ADesk, how: str) -> None:
    """And see what is there; what is to be kept is refused with 507."""
    fill(desk.studio)
    student = desk.studio.students.all()[0]
    secret, _ = desk.studio.access.make_link(student.id, lasts=LASTS)
    desk.client.cookies.clear()
    let_nothing_be_kept(desk.studio, how)
    for _ in range(8):  # the last pages have some room yet
        desk.client.cookies.clear()
        entered = desk.client.post("/login", data={"password": PASSWORD}, follow_redirects=False)
        assert entered.headers["location"] == "/"
        assert "Ida Quill" in desk.client.get("/students").text
    session = desk.studio.access.session(desk.client.cookies["evenhand"])
    assert session is not None
    notes = "x" * 4500  # longer than a page
    refused = desk.client.post(
        f"/students/{student.id}",
        data={"csrf": session.csrf, "part": "notes", "notes": notes},
    )
    assert refused.status_code == 507
    assert "nothing new can be kept" in refused.text
    assert str(desk.studio.data.database.where) not in refused.text
    desk.client.cookies.clear()
    entered = desk.client.get(f"/s/{secret}", follow_redirects=False)
    assert entered.headers["location"] == "/stand"
    assert desk.client.get("/stand/takes").status_code == 200


def test_a_session_that_is_not_kept_is_listed_and_ended_as_others(desk: ADesk) -> None:
    student = desk.studio.students.add("Ida Quill")
    let_nothing_be_kept(desk.studio, "read-only")
    secret, session = desk.studio.access.begin("student", student_id=student.id, lasts=LASTS)
    second, other = desk.studio.access.begin("teacher", lasts=LASTS, browser="Firefox")
    assert desk.studio.access.session(secret) == session
    assert {session.id, other.id} <= {each.id for each in desk.studio.access.sessions()}
    assert session.id in {each.id for each in desk.studio.access.sessions(student.id)}
    desk.studio.access.end_by_id(other.id)
    assert desk.studio.access.session(second) is None
    assert desk.studio.access.session(secret[:-1]) is None


@pytest.mark.parametrize("how", PRAGMAS)
def test_a_recording_that_cannot_be_kept_stays_on_its_device(desk: ADesk, how: str) -> None:
    """The answer is 507, by which the device sends it again; 422 would be for good."""
    student = desk.studio.students.add("Ida Quill")
    secret, session = desk.studio.access.begin("student", student_id=student.id, lasts=LASTS)
    desk.client.cookies.clear()
    desk.client.cookies.set("evenhand", secret)
    let_nothing_be_kept(desk.studio, how)
    form = {"csrf": session.csrf, "upload_key": "k" * 20}
    answer = desk.client.post(
        "/stand/takes",
        data={**form, "exercise": "1/8: " + "RL" * 2000, "tempo": "1/8=140"},
        files={"recording": ("take.flac", SOUND, "audio/flac")},
        headers={**ORIGIN, "accept": "application/json"},
    )
    assert answer.status_code == 507, answer.text
    assert "stays on the device" in answer.json()["error"]
    assert desk.studio.takes.all() == []
    if how == "full":  # where nothing can be written, the file is set aside by the next sweep
        assert list(desk.studio.data.recordings.kept_keys()) == []


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS])
def test_a_form_that_finds_no_room_for_its_files_is_said(
    desk: ADesk, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    """What comes lies in a temporary file first."""
    student = desk.studio.students.add("Ida Quill")

    async def full(*_args: object) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr("evenhand.web.app.read_form", full)
    assert desk.post(f"/students/{student.id}/takes").status_code == 507


def test_a_database_that_is_damaged_while_the_studio_is_open_is_said(desk: ADesk) -> None:
    engine = desk.studio.data.database._engine  # noqa: SLF001 - its connections read anew
    engine.dispose()
    place = Path(desk.studio.data.database.where) / DATABASE
    place.write_bytes(b"garbled " * 5000)
    answer = desk.client.get("/students")
    assert answer.status_code == 503
    assert "evenhand check says what to do" in answer.text
    assert "DatabaseError" not in answer.text
