"""The table of doors is the permission: every route, tried by whoever should not come in, and how."""

from __future__ import annotations

import importlib
import inspect

from evenhand.web.guard import COOKIE
from evenhand.web.routes import DOORS, Door
from tests.web.walked import (
    GETS,
    GUARDED,
    HOUR,
    POSTS,
    House,
    each,
    name_of,
)

# The table itself.


@each(list(DOORS))
def test_every_door_of_the_table_has_its_view(door: Door) -> None:
    module, _, name = door.view.partition(".")
    view = getattr(importlib.import_module(f"evenhand.web.views.{module}"), name)
    assert len(inspect.signature(view).parameters) == 1
    assert view.__doc__


def test_what_stands_open_to_anyone_is_this_and_no_more() -> None:
    """By hand: whether it is there, the login, a student's link, and where a dead link leads."""
    assert [name_of(door) for door in DOORS if door.who == "anyone"] == [
        "GET /health",
        "GET /login",
        "POST /login",
        "GET /s/{secret}",
        "GET /gone",
    ]


def test_whatever_changes_something_is_checked() -> None:
    unchecked = [door for door in DOORS if door.method != "GET" and door.checks == "none"]
    assert unchecked == []
    without_token = [door.path for door in POSTS if door.checks != "csrf"]
    assert without_token == ["/login"]  # no session yet, so no token
    assert [door.checks for door in DOORS if door.kind == "socket"] == ["origin"]


def test_no_route_is_there_twice_or_besides_the_table(house: House) -> None:
    wanted = [name_of(door) for door in DOORS]
    assert len(set(wanted)) == len(wanted)
    paths = [getattr(route, "path", "") for route in house.app.routes]
    assert sorted(paths) == sorted([*(door.path for door in DOORS), "/static"])


# Who may come in.


@each(GUARDED)
def test_nobody_comes_in_without_a_login(house: House, door: Door) -> None:
    answer = house.ask(house.client(), door)
    if door.kind == "page":
        entrance = "/login" if door.who == "teacher" else "/gone"
        assert (answer.status_code, answer.headers["location"]) == (303, entrance)
    else:
        assert answer.status_code == 401


@each(GUARDED)
def test_an_unknown_or_expired_session_is_no_session(house: House, door: Door) -> None:
    over, _ = house.studio.access.begin("teacher", lasts=-HOUR)
    for secret in ("", "x" * 43, over):
        client = house.client()
        client.cookies.set(COOKIE, secret)
        assert house.ask(client, door).status_code in {303, 401}


@each([door for door in GUARDED if door.who == "teacher"])
def test_a_student_comes_to_no_door_of_the_teachers(house: House, door: Door) -> None:
    answer = house.ask(house.client("student"), door)
    if door.kind == "page":
        assert (answer.status_code, answer.headers["location"]) == (303, "/stand")
    else:
        assert answer.status_code == 403


@each([door for door in GUARDED if door.who == "student"])
def test_the_teacher_is_no_student(house: House, door: Door) -> None:
    answer = house.ask(house.client("teacher"), door)
    if door.kind == "page":
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
    else:
        assert answer.status_code == 403


@each([door for door in GUARDED if door.who == "student" and "{take_id}" in door.path])
def test_another_students_take_is_not_there(house: House, door: Door) -> None:
    client = house.client("student", house.una)
    assert house.ask(client, door, take_id=house.takes[house.ida.id]).status_code == 404
    assert house.ask(client, door, take_id="unknown").status_code == 404
    assert house.ask(client, door, take_id=house.takes[house.una.id]).status_code in {200, 202}


def test_what_a_student_sees_names_no_other(house: House) -> None:
    client = house.client("student", house.una)
    for door in [door for door in GETS if door.who == "student"]:
        answer = house.ask(client, door, take_id=house.takes[house.una.id])
        assert house.ida.name not in answer.text
        assert house.ida.id not in answer.text


@each([door for door in GUARDED if "{" in door.path])
def test_what_is_not_there_is_said_and_is_no_error_of_ours(house: House, door: Door) -> None:
    nothing = dict.fromkeys(house.names, "nothing") | {"number": "77"}
    answer = house.ask(house.client(door.who), door, **nothing)  # type: ignore[arg-type]
    assert answer.status_code in {404, 422}, answer.text


def test_leaving_ends_the_session_itself(house: House) -> None:
    for role, out in (("teacher", "/logout"), ("student", "/stand/leave")):
        client = house.client(role)  # type: ignore[arg-type]
        secret = client.cookies[COOKIE]
        assert client.post(out, data={"nothing": ""}).status_code in {200, 303}
        assert house.studio.access.session(secret) is None


def test_a_link_taken_back_lets_out_who_came_in_by_it(house: House) -> None:
    nora = house.studio.students.add("Nora Veldt")
    secret, link = house.studio.access.make_link(nora.id, lasts=HOUR)
    client = house.client()
    assert client.get(f"/s/{secret}").headers["location"] == "/stand"
    assert client.get("/stand").status_code == 200
    house.studio.access.revoke_link(link.id)
    assert client.get("/stand").headers["location"] == "/gone"
    assert client.get(f"/s/{secret}").headers["location"] == "/gone"
    assert client.get("/gone").status_code == 410


def test_a_link_that_ran_out_and_an_archived_students_lead_nowhere(house: House) -> None:
    nora = house.studio.students.add("Nora Veldt")
    over, _ = house.studio.access.make_link(nora.id, lasts=-HOUR)
    good, _ = house.studio.access.make_link(nora.id, lasts=HOUR)
    client = house.client()
    assert client.get(f"/s/{over}").headers["location"] == "/gone"
    assert client.get(f"/s/{good}").headers["location"] == "/stand"
    house.studio.students.change(nora.id, archived=True)
    assert client.get("/stand").headers["location"] == "/gone"
    assert client.get(f"/s/{good}").headers["location"] == "/gone"
