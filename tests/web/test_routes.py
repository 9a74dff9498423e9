"""The table of routes is the permission: every route, tried by whoever should not come in, and how."""

from __future__ import annotations

import importlib
import inspect

from evenhand.web.guard import COOKIE
from evenhand.web.routes import ROUTES, StudioRoute
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


@each(list(ROUTES))
def test_every_route_of_the_table_has_its_view(route: StudioRoute) -> None:
    module, _, name = route.view.rpartition(".")
    view = getattr(importlib.import_module(f"evenhand.web.views.{module}"), name)
    asked = inspect.signature(view)
    asked.bind(object())  # it takes what came in, and needs no more
    assert view.__doc__


def test_what_stands_open_to_anyone_is_this_and_no_more() -> None:
    """By hand: is it well, the login; links of a student, a parent, lessons, a dead one; the manifest."""
    assert [name_of(route) for route in ROUTES if route.who == "anyone"] == [
        "GET /health",
        "GET /ready",
        "GET /metrics",
        "GET /login",
        "POST /login",
        "GET /s/{secret}",
        "GET /p/{secret}",
        "GET /gone",
        "GET /calendar/{secret}/lessons.ics",
        "GET /stand-worker.js",
        "GET /stand.webmanifest",
    ]


def test_whatever_changes_something_is_checked() -> None:
    unchecked = [route for route in ROUTES if route.method != "GET" and route.checks == "none"]
    assert unchecked == []
    without_token = [route.path for route in POSTS if route.checks != "csrf"]
    assert without_token == ["/login"]  # no session yet, so no token
    assert [route.checks for route in ROUTES if route.kind == "socket"] == ["origin"]


def test_no_route_is_there_twice_or_besides_the_table(house: House) -> None:
    wanted = [name_of(route) for route in ROUTES]
    assert len(set(wanted)) == len(wanted)
    paths = [getattr(route, "path", "") for route in house.app.routes]
    assert sorted(paths) == sorted([*(route.path for route in ROUTES), "/static"])


# Who may come in.


@each(GUARDED)
def test_nobody_comes_in_without_a_login(house: House, route: StudioRoute) -> None:
    answer = house.ask(house.client(), route)
    if route.kind == "page":
        entrance = "/login" if route.who == "teacher" else "/gone"
        assert (answer.status_code, answer.headers["location"]) == (303, entrance)
    else:
        assert answer.status_code == 401


@each(GUARDED)
def test_an_unknown_or_expired_session_is_no_session(house: House, route: StudioRoute) -> None:
    over, _ = house.studio.access.begin("teacher", lasts=-HOUR)
    for secret in ("", "x" * 43, over):
        client = house.client()
        client.cookies.set(COOKIE, secret)
        assert house.ask(client, route).status_code in {303, 401}


@each([route for route in GUARDED if route.who == "teacher"])
def test_a_student_comes_to_no_door_of_the_teachers(house: House, route: StudioRoute) -> None:
    answer = house.ask(house.client("student"), route)
    if route.kind == "page":
        assert (answer.status_code, answer.headers["location"]) == (303, "/stand")
    else:
        assert answer.status_code == 403


@each([route for route in GUARDED if route.who == "student"])
def test_the_teacher_is_no_student(house: House, route: StudioRoute) -> None:
    answer = house.ask(house.client("teacher"), route)
    if route.kind == "page":
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
    else:
        assert answer.status_code == 403


@each([route for route in GUARDED if route.who == "student" and "{take_id}" in route.path])
def test_another_students_take_is_not_there(house: House, route: StudioRoute) -> None:
    client = house.client("student", house.una)
    assert house.ask(client, route, take_id=house.takes[house.ida.id]).status_code == 404
    assert house.ask(client, route, take_id="unknown").status_code == 404
    own = house.ask(client, route, take_id=house.takes[house.una.id]).status_code
    assert own in ({200, 202} if route.method == "GET" else {422})  # an empty form says nothing


def test_what_a_student_sees_names_no_other(house: House) -> None:
    client = house.client("student", house.una)
    for route in [route for route in GETS if route.who == "student"]:
        answer = house.ask(client, route, take_id=house.takes[house.una.id])
        assert house.ida.name not in answer.text
        assert house.ida.id not in answer.text


@each([route for route in GUARDED if "{" in route.path])
def test_what_is_not_there_is_said_and_is_no_error_of_ours(house: House, route: StudioRoute) -> None:
    nothing = dict.fromkeys(house.names, "nothing") | {"number": "77"}
    answer = house.ask(house.client(route.who), route, **nothing)  # type: ignore[arg-type]
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
