"""What the server says of itself names nobody: lines of JSON for whoever runs it."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.observed import REQUESTS, log_as_json
from evenhand.web.serving import WebSettings
from evenhand.web.wire import Sparse
from tests.studios import a_studio

NAME, SECRET = "Ida Quill", "a-secret-that-was-typed"


@pytest.fixture
def logged() -> Iterator[Any]:
    """Log as JSON, and read the lines; the logs are as before at the end."""
    names = ("", "uvicorn", REQUESTS)
    before = {name: (logging.getLogger(name).handlers, logging.getLogger(name).level) for name in names}
    propagated = logging.getLogger("uvicorn").propagate
    written = io.StringIO()
    log_as_json(written)

    def lines() -> list[dict[str, Any]]:
        text = written.getvalue()
        assert NAME not in text
        assert SECRET not in text
        return [json.loads(line) for line in text.splitlines()]

    yield lines
    for name, (handlers, level) in before.items():
        logging.getLogger(name).handlers = handlers
        logging.getLogger(name).setLevel(level)
    logging.getLogger("uvicorn").propagate = propagated


def test_a_request_is_named_by_its_route_and_never_by_what_was_typed(tmp_path: Path, logged: Any) -> None:
    with a_studio(tmp_path) as studio:
        student = studio.students.add(NAME)
        secret, _ = studio.access.begin("teacher", lasts=timedelta(hours=1))
    app = create_app(WebSettings(tmp_path / "studio", json_logs=True), hears=False)
    with TestClient(app, cookies={COOKIE: secret}, follow_redirects=False) as client:
        client.get(f"/students/{student.id}?note={NAME}")
        client.get(f"/s/{SECRET}")
        client.get(f"/{SECRET}")
        client.get("/static/studio.css")
    lines = [line for line in logged() if line["event"] == "request"]
    assert [(line["method"], line["route"], line["status"]) for line in lines] == [
        ("GET", "/students/{student_id}", 200),
        ("GET", "/s/{secret}", 303),
        ("GET", "none", 404),
        ("GET", "/static", 200),
    ]
    assert all(
        line["ms"] >= 0 and line["level"] == "info" and line["time"].endswith("+00:00") for line in lines
    )


def test_an_error_is_named_by_its_kind_and_its_place(logged: Any) -> None:
    def breaks() -> None:
        raise RuntimeError(NAME)

    try:
        breaks()
    except RuntimeError:
        logging.getLogger("uvicorn.error").exception("Exception in ASGI application\n")
    logging.getLogger("asyncio").error(f"Exception in callback asked(<{SECRET}>)\nhandle: {NAME}")  # noqa: G004 - as asyncio does
    error, callback = logged()
    assert (error["level"], error["event"]) == ("error", "Exception in ASGI application")
    assert error["error"] == "RuntimeError"
    assert error["at"][0].startswith("test_an_error_is_named_by_its_kind_and_its_place:")
    assert callback["event"] == "Exception in callback asked"


def test_how_many_lines_were_left_out_stands_by_itself(logged: Any) -> None:
    """As the filter writes it that keeps lines alike from filling the log."""
    sparse = Sparse(most=1, within_s=0.0)
    for _ in range(3):
        record = logging.LogRecord(
            "uvicorn.error", logging.WARNING, "", 0, "Invalid HTTP request received.", (), None
        )
        sparse._seen = {key: (since, 4) for key, (since, _) in sparse._seen.items()}  # noqa: SLF001 - four came
        sparse.filter(record)
        logging.getLogger("uvicorn.error").handle(record)
    assert [line.get("left_out") for line in logged()] == [None, 3, 3]
