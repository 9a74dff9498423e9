"""A school whose database goes away in the middle: one clear page at most, and nothing is lost."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient

from evenhand.errors import DatabaseAway
from evenhand.studio.moving import move_student
from evenhand.studio.safekeeping.check import check_studio
from evenhand.studio.school import School
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.studio import Studio
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.serving import WebSettings
from tests.postgres import Server, programs, running
from tests.studios import PASSWORD, QUICK, a_new_take
from tests.web.walked import HOST, SOUND

LASTS = timedelta(hours=1)
SETTINGS = {"name": "Mara's drums", "unit": "cm"}
WORDS = "cannot be reached just now"
PAGES = ("/", "/students", "/lessons", "/book", "/settings", "/access")


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """Run a Postgres that no other test needs."""
    if programs() is None:
        pytest.skip("Postgres is not installed")
    with running() as found:
        yield found


@pytest.fixture
def school(server: Server, tmp_path: Path) -> Iterator[School]:
    """Make a school of two teachers."""
    opened = School(tmp_path, Backing(server.url.render_as_string(hide_password=False)), hasher=QUICK)
    opened.bring_up_to_date(finish=True)
    if opened.by_login("mara") is None:
        for login in ("mara", "iven"):
            opened.add(login, login.capitalize(), PASSWORD)
    yield opened
    opened.close()


def studio(school: School, login: str = "mara") -> Studio:
    found = school.by_login(login)
    assert found is not None
    return school.studio(found.id)


def desk(school: School, server: Server, tmp_path: Path) -> TestClient:
    """Give a browser in which Mara is logged in."""
    app: Starlette = create_app(
        WebSettings(tmp_path, backing=Backing(server.url.render_as_string(hide_password=False))), hears=False
    )
    app.state.school.close()
    app.state.school = school
    secret, session = studio(school).access.begin("teacher", lasts=LASTS)
    headers = {"origin": HOST, "accept": "text/html", "x-evenhand-csrf": session.csrf}
    return TestClient(app, headers=headers, cookies={COOKIE: secret}, raise_server_exceptions=False)


def test_connections_that_are_cut_between_two_pages_are_not_noticed(
    school: School, server: Server, tmp_path: Path
) -> None:
    client = desk(school, server, tmp_path)
    for path in PAGES:
        assert client.get(path).status_code == 200
        assert server.end_connections() > 0
        assert client.get(path).status_code == 200, path


def test_a_take_whose_connection_is_cut_is_kept_when_it_is_sent_again(
    school: School, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Right before its row is written: nobody was told that it is kept, and sent again it is there once."""
    mara = studio(school)
    new = a_new_take(mara.students.add("Ida Quill").id)
    room = StudioData.check_room

    def cut(self: StudioData, *given: Any) -> None:
        server.end_connections()
        room(self, *given)

    monkeypatch.setattr(StudioData, "check_room", cut)
    with pytest.raises(DatabaseAway):
        mara.takes.receive(new, SOUND)
    monkeypatch.undo()
    take, is_new = mara.takes.receive(new, SOUND)
    assert is_new
    assert [each.id for each in mara.takes.all(new.student_id)] == [take.id]
    mara.data.sweep()
    assert check_studio(mara).is_well
    claimed = mara.queue.claim("w")
    while claimed is not None and claimed.id != take.id:
        claimed = mara.queue.claim("w")
    assert claimed is not None


def test_a_move_whose_connection_is_cut_moved_nothing(
    school: School, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    mara, iven = studio(school), studio(school, "iven")
    ida = mara.students.add("Ida Quill")
    take, _ = mara.takes.receive(a_new_take(ida.id), SOUND)

    def cut(*_: object) -> None:
        server.end_connections()

    monkeypatch.setattr("evenhand.studio.moving._bring", cut)
    with pytest.raises(DatabaseAway):
        move_student(mara, iven, ida.id, with_past=True)
    monkeypatch.undo()
    assert (mara.students.get(ida.id), iven.students.find(ida.id)) == (ida, None)
    move_student(mara, iven, ida.id, with_past=True)
    assert [each.id for each in iven.takes.all(ida.id)] == [take.id]
    for each in (mara, iven):
        each.data.sweep()
        assert check_studio(each).is_well


def test_a_server_that_is_started_anew_is_found_again(school: School, server: Server, tmp_path: Path) -> None:
    client, mara = desk(school, server, tmp_path), studio(school)
    ida = mara.students.add("Ida Quill")
    take, _ = mara.takes.receive(a_new_take(ida.id), SOUND)
    with server.down():
        for path in PAGES:
            answer = client.get(path)
            assert answer.status_code == 503, path
            assert WORDS in answer.text
            assert "Traceback" not in answer.text
        assert client.post("/settings", data=SETTINGS).status_code == 503
        assert client.get("/health").status_code in {200, 503}
    for path in PAGES:
        assert client.get(path).status_code == 200, path  # still logged in
    assert client.post("/settings", data=SETTINGS, follow_redirects=False).status_code == 303
    assert mara.takes.get(take.id).status == "waiting"
    assert check_studio(mara).is_well
