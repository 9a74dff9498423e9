"""Spans of requests and hearings, where traces are switched on: to whatever speaks OpenTelemetry's protocol.

Where they go stands in the environment, in OpenTelemetry's own variables (``OTEL_EXPORTER_OTLP_ENDPOINT`` and
its like; OpenTelemetry specification, "OTLP exporter configuration"). A span names a route or what was done;
no person, no recording and no address.

Conventions: moments in ns since 1970, as OpenTelemetry has them; attributes by its semantic conventions for
HTTP, version 1.23 and later, where there is one.
"""

from __future__ import annotations

import os
import time
from collections.abc import Mapping
from functools import cache
from importlib import import_module
from typing import Any

from evenhand.errors import WrongOptions

_OF_OPTIONS = "EVENHAND_SERVE_"
VARIABLE = f"{_OF_OPTIONS}TRACES"  # the option as a variable: processes that are begun later read it, too


def switch_on() -> None:
    """Trace from now on, here and in processes that are begun from here.

    Raises
    ------
    WrongOptions
        OpenTelemetry is not installed.
    """
    try:
        for needed in ("opentelemetry.sdk.trace", "opentelemetry.exporter.otlp.proto.http"):
            import_module(needed)
    except ImportError as error:
        must_be = "installed with it: pip install 'evenhand[traces]'"
        raise WrongOptions(got="--traces without OpenTelemetry", must_be=must_be) from error
    os.environ[VARIABLE] = "1"


def is_on() -> bool:
    """Tell whether this process is to trace."""
    return os.environ.get(VARIABLE) == "1"


def traced(name: str, seconds: float, attributes: Mapping[str, str | int], *, failed: bool = False) -> None:
    """Give a span of what has just ended, and took so long; nothing where traces are off."""
    if not is_on():
        return
    from opentelemetry.trace import SpanKind, Status, StatusCode

    ended_ns = time.time_ns()
    kind = SpanKind.SERVER if "http.route" in attributes else SpanKind.CONSUMER
    span = tracer().start_span(
        name, kind=kind, attributes=dict(attributes), start_time=ended_ns - int(seconds * 1e9)
    )
    if failed:
        span.set_status(Status(StatusCode.ERROR))
    span.end(ended_ns)


@cache
def tracer() -> Any:  # noqa: ANN401 - the library is an extra
    """Make this process's tracer; what it has is sent every few seconds, and at the process's end."""
    from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
    from opentelemetry.sdk.resources import Resource
    from opentelemetry.sdk.trace import TracerProvider
    from opentelemetry.sdk.trace.export import BatchSpanProcessor

    from evenhand import __version__

    named = {"service.name": "evenhand", "service.version": __version__}
    provider = TracerProvider(resource=Resource.create(named))
    provider.add_span_processor(BatchSpanProcessor(OTLPSpanExporter()))
    return provider.get_tracer("evenhand")
