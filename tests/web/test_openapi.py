"""What the studio says of its JSON is valid OpenAPI, and holds for whatever is asked."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given
from hypothesis import strategies as st
from schemathesis.checks import CheckFunction, not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from starlette.applications import Starlette
from starlette.testclient import TestClient

from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE, LIMITS, Limiter
from evenhand.web.routes import ROUTES, StudioRoute
from evenhand.web.serving import WebSettings
from tests.depth import share
from tests.desks import heard_json
from tests.studios import a_new_take, a_studio

HOST = "http://testserver"
CHECKS: list[CheckFunction] = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
JSON_DOORS = [route for route in ROUTES if route.kind == "json"]
Login = dict[str, str]


class Described:
    """An app, what it says of itself, and how each role's requests look."""

    def __init__(self, app: Starlette) -> None:
        self.app, studio = app, app.state.school.front
        ida = studio.students.add("Ida Quill")
        self.take, _ = studio.takes.receive(a_new_take(ida.id), b"RIFF")
        studio.queue.took_heard(self.take.id, heard_json(), 12.0)
        self.logins: dict[str, Login] = {"anyone": {"Accept": "application/json"}}
        for role, student_id in (("teacher", None), ("student", ida.id)):
            secret, session = studio.access.begin(role, student_id=student_id, lasts=timedelta(hours=1))
            self.logins[role] = {
                "cookie": f"{COOKIE}={secret}",
                "origin": HOST,
                "Accept": "application/json",
                "x-evenhand-csrf": session.csrf,
            }
        self.text: dict[str, Any] = (
            TestClient(app, headers=self.logins["teacher"]).get("/openapi.json").json()
        )


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Described]:
    folder = tmp_path_factory.mktemp("described")
    a_studio(folder).close()
    app = create_app(WebSettings(folder / "studio"), hears=False)
    app.state.limiter = Limiter({name: (100_000, seconds) for name, (_, seconds) in LIMITS.items()})
    yield Described(app)
    app.state.school.front.close()


@pytest.fixture(scope="module")
def api(described: Described) -> Any:
    read = schemathesis.openapi.from_dict(described.text)
    read.app = described.app
    return read


def test_the_description_is_valid(api: Any) -> None:
    """By schemathesis' copy of the OpenAPI Initiative's own schema for 3.1."""
    assert api.raw_schema["openapi"].startswith("3.1")
    api.validate()


def test_an_invalid_description_would_be_noticed(described: Described) -> None:
    broken = {**described.text, "paths": {"/health": {"get": {"responses": {"200": {}}}}}}
    with pytest.raises(Exception, match="description"):
        schemathesis.openapi.from_dict(broken).validate()


def test_every_json_route_is_described(described: Described) -> None:
    wanted = {(route.method.lower(), route.path) for route in JSON_DOORS}
    found = {(method, path) for path, methods in described.text["paths"].items() for method in methods}
    assert found == wanted


@pytest.mark.parametrize("route", JSON_DOORS, ids=lambda route: f"{route.method} {route.path}")
@share(0.12, suppress=list(HealthCheck))
@given(data=st.data())
def test_nothing_that_is_asked_breaks_it(
    api: Any, described: Described, route: StudioRoute, data: Any
) -> None:
    case = data.draw(api[route.path][route.method].as_strategy())
    if "take_id" in route.path and data.draw(st.booleans()):
        case.path_parameters["take_id"] = described.take.id  # else a take that is not there
    case.call_and_validate(checks=CHECKS, headers=described.logins[route.who])
