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
from tests.studios import a_new_take, a_studio

NAME, SECRET = "Ida Quill", "a-secret-that-was-typed"


@pytest.fixture
def logged(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """Log as JSON, and read the lines; the logs are as before at the end."""
    names = ("", "uvicorn", REQUESTS)
    before = {name: (logging.getLogger(name).handlers, logging.getLogger(name).level) for name in names}
    propagated = logging.getLogger("uvicorn").propagate
    for quiet in ("uvicorn.error", "asyncio"):  # a library that was used before may have switched them off
        monkeypatch.setattr(logging.getLogger(quiet), "disabled", False)
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


def test_the_figures_are_read_by_others_and_given_for_a_token_only(tmp_path: Path) -> None:
    """By prometheus_client's parser of OpenMetrics; the counts were made by hand."""
    parser = pytest.importorskip("prometheus_client.openmetrics.parser")
    with a_studio(tmp_path) as studio:
        student = studio.students.add(NAME)
        studio.takes.receive(a_new_take(student.id), b"RIFF")
    token = "by-chance-" * 2
    app = create_app(WebSettings(tmp_path / "studio", metrics_token=token), hears=False)
    asked = {"authorization": f"Bearer {token}"}
    with TestClient(app, follow_redirects=False) as client:
        app.state.hearing = Pool()
        assert client.get("/metrics").status_code == 401
        assert client.get("/metrics", headers={"authorization": f"Bearer {token}x"}).status_code == 401
        assert client.get("/health").status_code == 200
        answer = client.get("/metrics", headers=asked)
    assert answer.headers["content-type"].startswith("application/openmetrics-text; version=1.0.0")
    assert NAME not in answer.text
    families = {each.name: each for each in parser.text_string_to_metric_families(answer.text)}
    assert {name: each.type for name, each in families.items()} == {
        "evenhand_takes": "gauge",
        "evenhand_hearing_seconds": "histogram",
        "evenhand_requests": "counter",
    }
    takes = {each.labels["status"]: each.value for each in families["evenhand_takes"].samples}
    assert takes == {"waiting": 1, "hearing": 0, "heard": 0, "failed": 0}
    requests = {each.labels["status"]: each.value for each in families["evenhand_requests"].samples}
    assert requests == {"2xx": 1, "4xx": 2}
    hearing = families["evenhand_hearing_seconds"].samples
    buckets = {each.labels["le"]: each.value for each in hearing if "le" in each.labels}
    assert (buckets["0.1"], buckets["0.5"], buckets["120.0"], buckets["+Inf"]) == (0, 2, 2, 3)
    assert [each.value for each in hearing if "le" not in each.labels] == [3, 200.7]


class Pool:
    """Two takes were heard in a quarter to half a second, one in more than two minutes."""

    def times(self) -> list[float]:
        """Give the counts, and the sum."""
        return [0, 0, 2, 0, 0, 0, 0, 0, 0, 1, 200.7]

    def stop(self) -> None:
        """Stop."""


def test_without_a_token_there_are_no_figures(tmp_path: Path) -> None:
    a_studio(tmp_path).close()
    app = create_app(WebSettings(tmp_path / "studio"), hears=False)
    with TestClient(app) as client:
        assert client.get("/metrics", headers={"authorization": "Bearer "}).status_code == 404
