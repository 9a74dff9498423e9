"""The log of who did what: every act is in it, on whom and on what, and nothing that was written."""

from __future__ import annotations

from typing import get_args

from evenhand.studio.values import ActKind
from evenhand.web.acted import ACT_OF, act_of, place_of
from evenhand.web.routes import ROUTES
from evenhand.web.views.access import ACTS, ON_A_PAGE
from tests.web.walked import HOUR, House


def test_every_act_has_its_name_and_its_words() -> None:
    assert set(ACTS) == set(get_args(ActKind))
    assert set(ACT_OF) <= {route.view for route in ROUTES}
    assert all(act_of(route) for route in ROUTES if route.method == "POST" and route.kind != "part") is False
    silent = {
        route.view
        for route in ROUTES
        if route.method == "POST" and not act_of(route) and route.kind != "part"
    }
    assert silent == {
        "entrance.login",
        "whole.school.stand_in",
        "whole.school.back",
    }  # which notes its refusals, too


def test_what_is_done_is_noted_with_whom_it_is_about(house: House) -> None:
    client, take = house.client("teacher"), house.takes[house.ida.id]
    client.post(f"/takes/{take}/words", data={"words": "Slower than you think."})
    (act,) = house.studio.log.newest(1)
    assert (act.what, act.who, act.about) == ("take words", "teacher", house.ida.id)
    assert act.thing == f"take {take}"
    assert "Slower" not in repr(act)
    shown = client.get("/access").text
    assert "Words about a take were saved" in shown
    assert "Ida Quill" in shown
    student = house.client("student", house.una)
    student.post("/stand/leave", data={"x": ""})
    (act,) = house.studio.log.newest(1)
    assert (act.what, act.who, act.about) == ("logout", "student", house.una.id)


def test_what_is_refused_is_not_noted_as_done(house: House) -> None:
    client = house.client("teacher")
    before = house.studio.log.newest(1)
    for path, form in (
        ("/settings", {"name": ""}),
        ("/takes/none/delete", {}),
        (f"/students/{house.ida.id}/erase", {"name": "not the name"}),
    ):
        assert client.post(path, data={"x": "", **form}).status_code >= 400
    assert house.studio.log.newest(1) == before


def test_an_archived_student_has_left(house: House) -> None:
    leaving = house.studio.students.add("Nora Veldt")
    secret, _ = house.studio.access.make_link(leaving.id, lasts=HOUR)
    student, client = house.client("student", leaving), house.client("teacher")
    assert student.get("/stand").status_code == 200
    client.post(f"/students/{leaving.id}", data={"part": "archive"})
    assert student.get("/stand").headers["location"] == "/gone"
    assert house.client().get(f"/s/{secret}").headers["location"] == "/gone"
    client.post(f"/students/{leaving.id}", data={"part": "archive"})
    assert house.client().get(f"/s/{secret}").headers["location"] == "/gone"  # back, but not by the old link
    assert [act.what for act in house.studio.log.of_student(leaving.id)] == ["student back", "student left"]


def test_the_log_is_paged_and_comes_as_a_table(house: House) -> None:
    client = house.client("teacher")
    for _ in range(ON_A_PAGE + 3):
        house.studio.log.note("logout", "teacher", thing="=1+1", address="this network")
    first, second = (client.get(f"/access?page={page}").text for page in ("1", "2"))
    assert 'href="?page=2#log"' in first
    assert 'href="?page=1#log"' in second
    for odd in ("0", "-1", "x", "9" * 50):
        assert client.get(f"/access?page={odd}").status_code == 200
    table = client.get("/access/log.csv")
    assert table.headers["content-type"].startswith("text/csv")
    lines = table.text.splitlines()
    assert lines[0] == "at,who,what,about,thing,address"
    assert len(lines) > ON_A_PAGE
    assert "'=1+1" in lines[1]  # no spreadsheet takes it for a formula


def test_where_somebody_comes_from_is_a_class() -> None:
    def of(host: str) -> str:
        from types import SimpleNamespace

        return place_of(SimpleNamespace(client=SimpleNamespace(host=host)))  # type: ignore[arg-type]

    for near in ("127.0.0.1", "::1", "::ffff:127.0.0.1"):
        assert of(near) == "this computer"
    for private in ("192.168.1.9", "10.0.0.5", "fe80::1", "fd00::1"):
        assert of(private) == "this network"
    for public in ("9.9.9.9", "2600::1"):
        assert of(public) == "elsewhere"


def test_who_may_hear_is_said_on_stand_and_take(house: House) -> None:
    take = house.takes[house.ida.id]
    student = house.client("student")
    for path in ("/stand", "/stand/takes", f"/stand/takes/{take}"):
        assert "Your teacher can hear what you record" in student.get(path).text
    assert "You can hear what Ida Quill records" in house.client("teacher").get(f"/takes/{take}").text
