"""Where traces are switched on, spans go out by OpenTelemetry's protocol, and name nobody.

A collector of our own takes them; its messages are read by OpenTelemetry's own definitions of the protocol.
"""

from __future__ import annotations

import gzip
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest
from opentelemetry.proto.collector.trace.v1.trace_service_pb2 import ExportTraceServiceRequest
from starlette.testclient import TestClient

from evenhand.errors import WrongOptions
from evenhand.studio import traces
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.serving import WebSettings
from tests.studios import a_studio

NAME, SECRET = "Ida Quill", "a-secret-that-was-typed"


@contextmanager
def collecting() -> Iterator[tuple[str, list[bytes]]]:
    """Take what is sent: the address, and the messages."""
    came: list[bytes] = []

    class Collector(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["content-length"]))
            came.append(gzip.decompress(body) if self.headers["content-encoding"] == "gzip" else body)
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    server = HTTPServer(("127.0.0.1", 0), Collector)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", came
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@pytest.fixture
def spans(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """Switch traces on; give a function that lists what was sent."""
    monkeypatch.setenv(traces.VARIABLE, "0")  # so that it is as before in the end
    with collecting() as (address, came):
        monkeypatch.setenv("OTEL_EXPORTER_OTLP_ENDPOINT", address)
        traces.switch_on()
        tracer = traces.tracer.__wrapped__()
        monkeypatch.setattr(traces, "tracer", lambda: tracer)

        def sent() -> list[Any]:
            tracer.span_processor.force_flush()
            assert not any(word.encode() in each for word in (NAME, SECRET) for each in came)
            whole = [ExportTraceServiceRequest.FromString(each) for each in came]
            assert {
                attribute.value.string_value
                for each in whole
                for resource in each.resource_spans
                for attribute in resource.resource.attributes
                if attribute.key == "service.name"
            } == {"evenhand"}
            return [
                span
                for each in whole
                for resource in each.resource_spans
                for scope in resource.scope_spans
                for span in scope.spans
            ]

        yield sent
        tracer.span_processor.shutdown()


def test_a_request_is_a_span_named_by_its_route(tmp_path: Path, spans: Any) -> None:
    with a_studio(tmp_path) as studio:
        student = studio.students.add(NAME)
        secret, _ = studio.access.begin("teacher", lasts=timedelta(hours=1))
    app = create_app(WebSettings(tmp_path / "studio"), hears=False)
    with TestClient(app, cookies={COOKIE: secret}, follow_redirects=False) as client:
        client.get(f"/students/{student.id}?note={NAME}")
        client.get(f"/{SECRET}")
    found = spans()
    assert [span.name for span in found] == ["GET /students/{student_id}", "GET none"]
    first = {each.key: each.value for each in found[0].attributes}
    assert first["http.route"].string_value == "/students/{student_id}"
    assert first["http.response.status_code"].int_value == 200
    assert 0 < found[0].end_time_unix_nano - found[0].start_time_unix_nano < 60e9


def test_what_went_wrong_is_marked_and_lasts_as_long_as_is_said(spans: Any) -> None:
    traces.traced("hear a take", 1.5, {"evenhand.source": "microphone"}, failed=True)
    (span,) = spans()
    assert span.status.code == span.status.STATUS_CODE_ERROR
    assert span.end_time_unix_nano - span.start_time_unix_nano == 1_500_000_000


def test_without_traces_nothing_is_loaded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(traces.VARIABLE, raising=False)
    monkeypatch.setattr(traces, "tracer", lambda: pytest.fail("a tracer was made"))
    traces.traced("hear a take", 1.0, {})


def test_where_it_is_not_installed_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "opentelemetry.sdk.trace", None)
    with pytest.raises(WrongOptions, match=r"evenhand\[traces\]"):
        traces.switch_on()
    assert not traces.is_on()
