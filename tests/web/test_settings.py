"""The path, the settings, the password, the whole studio, and the description of its JSON."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from evenhand.report.words.figures import TEACHER_CAUTION
from evenhand.web.openapi import SHAPES, openapi_of
from evenhand.web.routes import ROUTES
from tests.desks import ADesk, a_desk, a_heard_take, heard_json, words_of
from tests.studios import NOON, PASSWORD


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def test_the_path_says_its_stages_and_who_is_where(desk: ADesk) -> None:
    desk.studio.students.add("Nora Veldt", stage="tap")
    words = words_of(desk.get("/path").text)
    for stage in ("rebound", "half", "full", "tap", "speed in bursts", "doubles by rebound"):
        assert stage in words
    assert "One student: Nora Veldt" in words
    assert TEACHER_CAUTION in words


def test_the_studios_name_unit_and_originals_are_changed(desk: ADesk) -> None:
    answer = desk.post("/settings", name="Studio  Larkfield East", unit="cm", keep_originals="yes")
    assert answer.status_code == 303
    facts = desk.studio.facts
    assert (facts.name, facts.unit, facts.keep_originals) == ("Studio Larkfield East", "cm", True)
    assert "half strokes, 15–23 cm" in words_of(desk.get("/path").text)
    assert not facts.keep_videos
    desk.post("/settings", name="Studio Larkfield", unit="in", keep_videos="yes")
    assert (desk.studio.facts.keep_originals, desk.studio.facts.keep_videos) == (False, True)
    assert "half strokes, 6–9 in" in words_of(desk.get("/path").text)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"name": "", "unit": "cm"}, "The studio's name must be 1 to 80 characters."),
        ({"name": "x" * 81, "unit": "cm"}, "The studio's name must be 1 to 80 characters."),
        ({"name": "Larkfield", "unit": "feet"}, "Heights are in inches or centimetres."),
    ],
)
def test_settings_that_cannot_be_read_change_nothing(desk: ADesk, fields: dict[str, str], said: str) -> None:
    before = desk.studio.facts
    shown = desk.post("/settings", **fields)
    assert shown.status_code == 422
    assert said in words_of(shown.text)
    assert desk.studio.facts == before


@pytest.mark.parametrize(
    ("old", "new", "again", "said"),
    [
        ("wrong", "another password", "another password", "That is not the current password."),
        (PASSWORD, "short", "short", "must have 12 characters or more"),
        (PASSWORD, "x" * 201, "x" * 201, "200 characters at most"),
        (PASSWORD, "another password", "another passwort", "The two new passwords differ"),
    ],
)
def test_a_password_that_will_not_do_changes_nothing(
    desk: ADesk, old: str, new: str, again: str, said: str
) -> None:
    shown = desk.post("/settings/password", old=old, new=new, again=again)
    assert shown.status_code == 422
    assert said in words_of(shown.text)
    assert desk.studio.access.check_password(PASSWORD)


def test_a_new_password_logs_everybody_out(desk: ADesk) -> None:
    answer = desk.post("/settings/password", old=PASSWORD, new="another password", again="another password")
    assert answer.headers["location"] == "/login"
    assert desk.studio.access.check_password("another password")
    assert desk.client.get("/settings", follow_redirects=False).headers["location"] == "/login"


def test_the_whole_studio_comes_as_one_archive(desk: ADesk) -> None:
    desk.studio.students.add("Nora Veldt")
    answer = desk.get("/export")
    assert answer.status_code == 200
    assert answer.headers["content-disposition"].endswith('.zip"')
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        assert any("manifest" in name for name in archive.namelist())


def test_every_json_route_is_described(desk: ADesk) -> None:
    described = desk.get("/openapi.json").json()
    assert described["openapi"].startswith("3.1.")
    wanted = {(route.method.lower(), route.path) for route in ROUTES if route.kind == "json"}
    assert {(method, path) for path, each in described["paths"].items() for method in each} == wanted
    assert {(route.method, route.path) for route in ROUTES if route.kind == "json"} == set(SHAPES)


def test_what_is_described_is_what_comes(desk: ADesk) -> None:
    described = desk.get("/openapi.json").json()
    schema = described["paths"]["/health"]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
    Draft202012Validator(schema).validate(desk.get("/health").json())
    whole = {"$ref": "#/components/schemas/heard_take", "components": described["components"]}
    Draft202012Validator(whole).validate(json.loads(heard_json()))
    with pytest.raises(Exception, match="required property"):
        Draft202012Validator(whole).validate({"schema": "urn:evenhand:listen-2"})


def test_a_door_without_a_shape_is_described_all_the_same() -> None:
    route = next(route for route in ROUTES if route.path == "/takes/{take_id}")
    new = type(route)("GET", "/new/{number:int}", "student", "json", "stand.new")
    operation = openapi_of([new], version="1", title="t")["paths"]["/new/{number}"]["get"]
    assert operation["parameters"][0]["schema"] == {"type": "integer", "minimum": 0}
    assert set(operation["responses"]) == {"200", "401", "403", "404"}
    assert operation["security"] == [{"student": []}]


def test_a_change_is_described_with_its_token_and_its_refusals() -> None:
    operation = openapi_of(ROUTES, version="1", title="t")["paths"]["/stand/takes"]["post"]
    assert [each["name"] for each in operation["parameters"]] == ["X-Evenhand-Csrf"]
    assert {"202", "413", "415", "422", "429"} <= set(operation["responses"])


def test_a_table_of_all_comes_as_csv_and_names_only_if_asked_for(desk: ADesk) -> None:
    nora = desk.studio.students.add("Nora Veldt")
    take = a_heard_take(desk.studio, nora.id, NOON)
    assert "Download the table" in words_of(desk.get("/settings").text)
    answer = desk.get("/table?rows=takes")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert answer.headers["cache-control"] == "no-store"
    assert f"{nora.id},{take.id},2026-03-02T12:00:00Z," in answer.text
    assert "Nora" not in answer.text
    assert f"{nora.id},Nora Veldt,2026-03-02," in desk.get("/table?rows=weeks&names=yes").text
    assert desk.get("/table?rows=students").status_code == 404
    assert desk.studio.log.newest(1)[0].what == "table exported"
