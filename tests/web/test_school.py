"""A school in the browser: login names, an administrator who hears nothing, moves, and substitutes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient

from evenhand.studio.school import School
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Student
from evenhand.web.app import create_app
from evenhand.web.guard import LIMITS, Limiter
from evenhand.web.pages import today
from evenhand.web.routes import ADMINISTRATORS_TOO, NOT_FOR_SUBSTITUTES, ROUTES, StudioRoute
from evenhand.web.serving import WebSettings
from tests.places import empty, postgres
from tests.postgres import Server
from tests.studios import PASSWORD, QUICK, a_new_take
from tests.web.walked import ELSEWHERE, HOST, HOUR, SOUND, form_of, name_of

__all__ = ["postgres"]
VIEWS = {route.view for route in ROUTES}
HTTP = [route for route in ROUTES if route.kind != "socket"]
SCHOOLS = [route for route in HTTP if route.who == "administrator"]
TEACHERS = [route for route in HTTP if route.who == "teacher"]
DAYS = timedelta(days=6)


@dataclass
class Open:
    """A school that is served: the office, Mara with Ida, and Iven with Una."""

    app: Starlette
    school: School
    ida: Student
    link: str
    names: dict[str, str]

    def studio(self, login: str) -> Studio:
        """Give a teacher's studio."""
        found = self.school.by_login(login)
        assert found is not None
        return self.school.studio(found.id)

    def client(self) -> TestClient:
        """Give a browser that is not logged in."""
        headers = {"origin": HOST, "accept": "text/html"}
        return TestClient(self.app, headers=headers, follow_redirects=False, raise_server_exceptions=False)

    def entered(self, login: str) -> TestClient:
        """Give a browser that came in by a name and the password."""
        client = self.client()
        answer = client.post("/login", data={"login": login, "password": PASSWORD})
        assert answer.status_code == 303
        answer = client.get("/access" if login == "office" else "/settings")
        client.headers["x-evenhand-csrf"] = answer.text.partition('data-csrf="')[2].partition('"')[0]
        return client

    def substitute(self) -> TestClient:
        """Give Iven's browser as it stands in for Mara."""
        client = self.entered("iven")
        mara, iven = (self.studio(each).id for each in ("mara", "iven"))
        set_ = self.school.stand_in(mara, iven, today(), today() + DAYS)
        assert client.post(f"/stand-in/{set_.id}").status_code == 303
        return client

    def address(self, route: StudioRoute) -> str:
        """Write a route's address, of Mara's studio."""
        return route.path.replace(":int", "").format_map(self.names)


@pytest.fixture
def opened(postgres: Server, tmp_path: Path) -> Iterator[Open]:
    """Serve a school."""
    url = postgres.url.render_as_string(hide_password=False)
    empty(url)
    school = School(tmp_path, Backing(url), hasher=QUICK)
    school.bring_up_to_date(finish=True)
    school.add("office", "Larkfield School", PASSWORD, administrator=True)
    mara, iven = (school.studio(school.add(n.casefold(), n, PASSWORD).id) for n in ("Mara", "Iven"))
    ida, una = mara.students.add("Ida Quill"), iven.students.add("Una Marsh")
    take = mara.takes.receive(a_new_take(ida.id), SOUND)[0]
    link, _ = mara.access.make_link(ida.id, lasts=HOUR)
    names = dict.fromkeys(
        ("said_id", "week_id", "change_id", "holiday_id", "session_id", "link_id", "number", "secret"), "none"
    )
    names |= {"student_id": ida.id, "take_id": take.id, "other_id": take.id, "substitute_id": "none"}
    names["entry_id"] = mara.book.add("1/8: RRLL").id
    app = create_app(WebSettings(tmp_path, backing=Backing(url)), hears=False)
    app.state.school.close()
    app.state.school = school
    app.state.limiter = Limiter({name: (100_000, seconds) for name, (_, seconds) in LIMITS.items()})
    assert una.id != ida.id
    yield Open(app, school, ida, link, names)
    school.close()


def test_a_teacher_comes_in_by_name_and_password_to_their_own_studio(opened: Open) -> None:
    assert "Login name" in opened.client().get("/login").text
    for login, mine, others in (("mara", "Ida Quill", "Una Marsh"), ("IVEN ", "Una Marsh", "Ida Quill")):
        page = opened.entered(login).get("/students").text
        assert mine in page
        assert others not in page
    wrong = [("nobody", PASSWORD), ("mara", "wrong"), ("", PASSWORD), ("mara\x00", PASSWORD)]
    for login, password in wrong:
        answer = opened.client().post("/login", data={"login": login, "password": password})
        assert answer.status_code == 403
        assert "The name, the password or the code is not right" in answer.text
    assert [act.what for act in opened.studio("mara").log.newest(9)] == ["login refused", "login"]


def test_what_one_teacher_has_another_cannot_open(opened: Open) -> None:
    client = opened.entered("iven")
    for route in TEACHERS:
        if "{student_id}" in route.path or "{take_id}" in route.path:
            answer = client.request(route.method, opened.address(route), data=form_of(route))
            assert answer.status_code in {404, 422}, name_of(route)
            assert "Ida" not in answer.text
    assert opened.studio("mara").students.all() == [opened.ida]


def test_a_students_link_opens_the_stand_of_its_own_studio(opened: Open) -> None:
    client = opened.client()
    assert client.get(f"/s/{opened.link}").headers["location"] == "/stand"
    assert client.get("/stand").status_code == 200
    assert "Ida Quill" not in opened.entered("iven").get("/access").text


def test_the_administrator_opens_no_route_of_a_studio(opened: Open) -> None:
    """No recording, week, word, or page of a student, by any route there is."""
    client = opened.entered("office")
    assert client.get("/").headers["location"] == "/school"
    for route in HTTP:
        if route.who in {"anyone", "administrator"} or route.view in ADMINISTRATORS_TOO:
            continue
        answer = client.request(route.method, opened.address(route), data=form_of(route))
        assert answer.status_code in {303, 403}, name_of(route)
        assert answer.headers.get("location", "/school") == "/school", name_of(route)
        assert SOUND not in answer.content
    page = client.get("/school").text
    assert "Ida Quill" in page
    assert "/takes/" not in page
    for path in ("/access", "/access/log.csv", "/access/second"):
        assert client.get(path).status_code == 200
        assert "Ida" not in client.get(path).text
    assert (ADMINISTRATORS_TOO | NOT_FOR_SUBSTITUTES) <= VIEWS


@pytest.mark.parametrize("route", SCHOOLS, ids=name_of)
def test_a_school_page_is_the_administrators_alone(opened: Open, route: StudioRoute) -> None:
    student = opened.client()
    student.get(f"/s/{opened.link}")
    for client in (opened.entered("mara"), student, opened.client()):
        answer = client.request(route.method, opened.address(route), data=form_of(route))
        assert answer.status_code in {303, 401, 403}
        assert "Una" not in answer.text
    if route.method == "POST":
        office = opened.entered("office")
        office.headers["origin"] = ELSEWHERE
        assert "another page" in office.post(opened.address(route), data={"x": ""}).text
        office.headers |= {"origin": HOST, "x-evenhand-csrf": "wrong"}
        assert "open too long" in office.post(opened.address(route), data={"x": ""}).text


@pytest.mark.parametrize("past", ["with", "without"])
def test_the_administrator_moves_a_student(opened: Open, past: str) -> None:
    """The student's browser stays in, and what it sends comes to the new teacher."""
    stand, office = opened.client(), opened.entered("office")
    stand.get(f"/s/{opened.link}")
    mara, iven = opened.studio("mara"), opened.studio("iven")
    form = {"from": mara.id, "to": iven.id, "student": opened.ida.id, "past": past}
    assert office.post("/school/move", data={**form, "past": ""}).status_code == 422
    assert office.post("/school/move", data={**form, "to": opened.studio("office").id}).status_code == 404
    answer = office.post("/school/move", data=form)
    assert answer.status_code == 303
    assert "Ida Quill is with Iven now" in office.get(answer.headers["location"]).text
    assert stand.get("/stand").status_code == 200
    assert len(iven.takes.all(opened.ida.id)) == (past == "with")
    assert len(mara.takes.all(opened.ida.id)) == (past == "without")
    assert "student moved" in {act.what for act in iven.log.newest(9)} & {a.what for a in mara.log.newest(9)}
    assert office.post("/school/move", data=form).status_code in {404, 422}


def test_a_substitute_sees_the_students_and_changes_nothing_that_lasts(opened: Open) -> None:
    client = opened.substitute()
    page = client.get("/students").text
    assert "Ida Quill" in page
    assert "Una Marsh" not in page
    assert "You stand in for Mara" in page
    assert client.get(f"/takes/{opened.names['take_id']}/sound").content == SOUND
    opened.studio("mara").students.change(opened.ida.id, notes="for Mara alone")
    for path in (f"/students/{opened.ida.id}", "/lessons", f"/takes/{opened.names['take_id']}", "/students"):
        page = client.get(path).text
        assert "for Mara alone" not in page
        assert not any(f'action="{each}"' in page for each in ("/students", "/lessons/feed"))
        assert not any(each in page for each in ('/erase"', '/export"', '/delete"', '/links"', '/parent"'))
    for route in TEACHERS:
        if route.view in NOT_FOR_SUBSTITUTES:
            answer = client.request(route.method, opened.address(route), data=form_of(route))
            assert answer.status_code == 403, name_of(route)
            assert "A substitute cannot do this" in answer.text
    assert [act.who for act in opened.studio("mara").log.newest(9)] == ["substitute"]
    assert client.post("/stand-in/end").status_code == 303
    assert "Una Marsh" in client.get("/students").text


def test_a_substitute_is_one_on_those_days_only(opened: Open) -> None:
    mara, iven = (opened.studio(each).id for each in ("mara", "iven"))
    before = opened.school.stand_in(mara, iven, today() - DAYS, today() - timedelta(days=1))
    later = opened.school.stand_in(mara, iven, today() + timedelta(days=1), today() + DAYS)
    for each in (before, later):
        client = opened.entered("iven")
        assert client.post(f"/stand-in/{each.id}").status_code == 404
        client.cookies.set("evenhand-for", each.id)  # as if it had been taken
        assert "Una Marsh" in client.get("/students").text
    client = opened.substitute()
    taken = next(each for each in opened.school.substitutes() if each.is_on(today()))
    assert opened.entered("mara").post(f"/stand-in/{taken.id}").status_code == 404  # another's
    opened.school.stand_in_no_more(taken.id)
    assert "Una Marsh" in client.get("/students").text


def test_the_administrator_sets_a_substitute(opened: Open) -> None:
    office = opened.entered("office")
    mara, iven = (opened.studio(each).id for each in ("mara", "iven"))
    form = {"for": mara, "by": iven, "first": "2030-01-07", "last": "2030-01-13"}
    for wrong in (
        {"by": mara},
        {"by": "x"},
        {"last": "2030-01-06"},
        {"last": "2031-01-06"},
        {"first": "soon"},
    ):
        answer = office.post("/school/substitutes", data={**form, **wrong})
        assert answer.status_code == 422
        assert "Nothing was changed" in answer.text
    assert office.post("/school/substitutes", data=form).status_code == 303
    assert "Iven for Mara" in office.get("/school").text
    (found,) = opened.school.substitutes()
    assert office.post(f"/school/substitutes/{found.id}/remove").status_code == 303
    assert opened.school.substitutes() == []


def test_who_logs_out_as_a_substitute_is_out(opened: Open) -> None:
    client = opened.substitute()
    assert client.post("/logout").status_code == 303
    assert client.get("/students").headers["location"] == "/login"
