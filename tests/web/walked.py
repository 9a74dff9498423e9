"""A studio whose every route is tried: who may come in by which secret, and what stands for the braces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Literal

import pytest
from httpx2 import Response
from starlette.applications import Starlette
from starlette.testclient import TestClient

from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Role, Student
from evenhand.web.guard import COOKIE
from evenhand.web.routes import ROUTES, StudioRoute

HOST = "http://testserver"
ELSEWHERE = "http://elsewhere.example"
HOUR = timedelta(hours=1)
NOT_ALLOWED = 1008  # RFC 6455, 7.4.1: a policy was violated
SOUND = b"RIFF\x00\x00\x00\x00WAVEfmt " + bytes(64)

NO_SOCKETS = [route for route in ROUTES if route.kind != "socket" and route.who != "administrator"]
GETS = [route for route in NO_SOCKETS if route.method == "GET"]
POSTS = [route for route in NO_SOCKETS if route.method == "POST"]
GUARDED = [route for route in NO_SOCKETS if route.who != "anyone"]


def name_of(route: StudioRoute) -> str:
    return f"{route.method} {route.path}"


def each(routes: list[StudioRoute]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("route", routes, ids=name_of)


@dataclass(frozen=True)
class House:
    """A studio with two students, each with a take, and who may come in by which secret."""

    app: Starlette
    studio: Studio
    ida: Student
    una: Student
    takes: Mapping[str, str]  # a student's id to the take's id
    names: Mapping[str, str]  # what the addresses' braces stand for

    def client(
        self, role: Role | Literal["administrator"] | None = None, who: Student | None = None
    ) -> TestClient:
        """Give a browser that is logged in as nobody, the teacher, or a student."""
        cookies, token = {}, ""
        if role is not None and role != "administrator":
            student_id = (who or self.ida).id if role == "student" else None
            secret, session = self.studio.access.begin(role, student_id=student_id, lasts=HOUR)
            cookies, token = {COOKIE: secret}, session.csrf
        headers = {"origin": HOST, "accept": "text/html", "x-evenhand-csrf": token}
        return TestClient(
            self.app, headers=headers, cookies=cookies, follow_redirects=False, raise_server_exceptions=False
        )

    def address(self, route: StudioRoute, **others: str) -> str:
        """Write a route's address; what is not said otherwise is Ida's."""
        return route.path.replace(":int", "").format_map({**self.names, **others})

    def ask(self, client: TestClient, route: StudioRoute, **others: str) -> Response:
        """Come to a route, with an empty form where there is one."""
        return client.request(route.method, self.address(route, **others), data=form_of(route))


def form_of(route: StudioRoute) -> dict[str, str] | None:
    return {"nothing": ""} if route.method == "POST" else None
