"""The studio's JSON described in OpenAPI 3.1, from the table of routes.

Conventions: a route whose kind is ``json`` is described; who may use it and how it is checked come from the
table, what goes in and comes out from ``SHAPES`` here. A route that ``SHAPES`` lacks is described as any
object, never left out.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from evenhand.planning.practice import BLOCKS
from evenhand.web.requests import MOST_WAIT_S
from evenhand.web.routes import StudioRoute

Json = dict[str, Any]

_PARAMETER = re.compile(r"\{(\w+)(?::(\w+))?\}")
_SECURITY = {"teacher": "teacher", "student": "student"}
_NUMBER = {"type": "number"}
_TEXT = {"type": "string"}


@dataclass(frozen=True, slots=True)
class RouteShape:
    """What a route does, what it takes as a form, and what it answers by status."""

    summary: str
    answers: Mapping[int, Json]
    form: Json | None = None


def _object(required: Iterable[str] | None = None, **properties: Json) -> Json:
    """Describe an object; all of it is required where nothing is said."""
    wanted = properties if required is None else required
    return {"type": "object", "required": list(wanted), "properties": properties}


def _or_null(kind: Json) -> Json:
    return {"anyOf": [kind, {"type": "null"}]}


_STATUS = {"type": "string", "enum": ["waiting", "hearing", "heard", "failed"]}
_ITEM = _object(
    number={"type": "integer", "minimum": 1},
    title=_TEXT,
    exercise=_TEXT,
    tempo=_TEXT,
    stroke=_or_null(_TEXT),
    repetitions={"type": "integer", "minimum": 1},
    seconds=_NUMBER,
    block=_or_null({"enum": list(BLOCKS)}),
    purpose=_TEXT,
    goes={"type": "integer"},
    pause_s=_NUMBER,
    rest_s=_NUMBER,
    played_s=_NUMBER,
    done={"type": "boolean"},
)
_DAY = _object(
    number={"type": "integer"},
    of={"type": "integer"},
    on={"type": "string", "format": "date"},
    starts={"type": "string", "format": "date"},
    standing={"enum": ["today", "early", "running", "over"]},
    seconds=_NUMBER,
)
_TAKE_FORM = _object(
    ("recording", "exercise", "tempo", "upload_key"),
    recording={"type": "string", "format": "binary"},
    upload_key={**_TEXT, "description": "Chosen by the device; sent twice, a take is kept once."},
    exercise={**_TEXT, "description": "Such as 1/8: RLRR LRLL"},
    tempo={**_TEXT, "description": "Such as 1/8=140; 140 alone is of the exercise's own beat"},
    stroke={"enum": ["", "tap", "half", "full"], "description": "How high the sticks start."},
)
_DEVICE_FORM = _object((), device=_TEXT, label=_TEXT, latency_ms=_TEXT)
_KEPT = _object(id=_TEXT, status=_STATUS)
_SENT = RouteShape(
    "Send a recording; it is safe once this is answered.", {200: _KEPT, 202: _KEPT}, _TAKE_FORM
)
_TICKET = RouteShape(
    "Ask for a link by which a recording is sent to the store itself; what was sent is kept by the next.",
    {200: _object(url=_TEXT, headers={"type": "object"})},
    _object(
        ("sent", "bytes"),
        sent={**_TEXT, "pattern": "^[0-9a-f]{64}$", "description": "The SHA-256 of its bytes."},
        bytes={**_TEXT, "description": "How many bytes it has."},
    ),
)
_HEARD_SO_FAR = RouteShape(
    "How far the hearing is.",
    {
        200: _object(
            status=_STATUS,
            progress={"type": "number", "minimum": 0, "maximum": 1},
            reason=_or_null(_TEXT),
            said=_TEXT,
        )
    },
)
_MEASURED = RouteShape(
    "Keep a device's measured delay.",
    {200: _object(id=_TEXT, latency_ms=_or_null(_NUMBER))},
    _DEVICE_FORM,
)
_READY = _object(
    status={"enum": ["ready", "not ready"]},
    lacks={"type": "array", "items": {"enum": ["database", "recordings"]}},
)
SHAPES: Mapping[tuple[str, str], RouteShape] = {
    ("GET", "/health"): RouteShape(
        "Whether the studio is there.",
        {200: _object(status={"type": "string", "const": "ok"}, version=_TEXT, demo={"type": "boolean"})},
    ),
    ("GET", "/ready"): RouteShape("Whether a take could be kept at this moment.", {200: _READY, 503: _READY}),
    ("GET", "/news"): RouteShape(
        "Whether a take of the studio came in or got on since, once one did; whether that can be waited for.",
        {200: _object(came={"type": "boolean"}, at=_NUMBER, holds={"type": "boolean"})},
    ),
    ("GET", "/openapi.json"): RouteShape("This description.", {200: {"type": "object"}}),
    ("GET", "/takes/{take_id}/figures.json"): RouteShape(
        "What was heard of a take.", {200: {"$ref": "#/components/schemas/heard_take"}}
    ),
    ("GET", "/stand/today.json"): RouteShape(
        "Today's practice.",
        {
            200: _object(
                ("day", "items"), day=_or_null(_DAY), week=_TEXT, items={"type": "array", "items": _ITEM}
            )
        },
    ),
    ("POST", "/stand/takes"): _SENT,
    ("POST", "/stand/ticket"): _TICKET,
    ("POST", "/models/takes"): _SENT,
    ("POST", "/students/{student_id}/lesson/takes"): _SENT,
    ("GET", "/stand/takes/{take_id}/state.json"): _HEARD_SO_FAR,
    ("GET", "/models/takes/{take_id}/state.json"): _HEARD_SO_FAR,
    ("POST", "/stand/device"): _MEASURED,
    ("POST", "/models/device"): _MEASURED,
}
REFUSALS: Mapping[int, str] = {
    401: "Nobody is logged in.",
    403: "It is another's, or the request did not come from the studio's own page.",
    404: "There is none such.",
    411: "The request does not say its length.",
    413: "Too large.",
    415: "No recording.",
    422: "It cannot be read; the answer says what must be.",
    429: "Too many tries in a short time.",
}


def openapi_of(routes: Iterable[StudioRoute], *, version: str, title: str) -> Json:
    """Describe the JSON routes among the routes."""
    paths: dict[str, Json] = {}
    for route in routes:
        if route.kind == "json":
            path = _PARAMETER.sub(r"{\1}", route.path)
            paths.setdefault(path, {})[route.method.lower()] = _operation(route)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": title,
            "version": version,
            "description": "What a studio of Evenhand gives as JSON.",
        },
        "paths": paths,
        "components": {
            "schemas": {"error": _object(error=_TEXT), **_heard_schemas()},
            "securitySchemes": {
                who: {
                    "type": "apiKey",
                    "in": "cookie",
                    "name": "evenhand",
                    "description": f"A {who}'s session.",
                }
                for who in _SECURITY
            },
        },
    }


def _operation(route: StudioRoute) -> Json:
    """Describe one route."""
    shape = SHAPES.get((route.method, route.path)) or RouteShape("", {200: {"type": "object"}})
    described: Json = {
        "summary": shape.summary,
        "operationId": re.sub(r"\W+", "_", f"{route.method.lower()}{route.path}").strip("_"),
        "parameters": [*_parameters(route)],
        "responses": {
            **{str(status): _answer("It did.", body) for status, body in shape.answers.items()},
            **{
                str(status): _answer(REFUSALS[status], {"$ref": "#/components/schemas/error"})
                for status in _refusals(route)
            },
        },
        "security": [{route.who: []}] if route.who in _SECURITY else [],
    }
    if shape.form is not None:
        described["requestBody"] = {
            "required": True,
            "content": {"multipart/form-data": {"schema": shape.form}},
        }
    return described


def _parameters(route: StudioRoute) -> Iterable[Json]:
    """List what stands in the path, and the header that a change needs."""
    for name, kind in _PARAMETER.findall(route.path):
        schema: Json = (
            {"type": "integer", "minimum": 0} if kind == "int" else {"type": "string", "minLength": 1}
        )
        yield {"name": name, "in": "path", "required": True, "schema": schema}
    if route.waits:
        seconds = {"type": "number", "minimum": 0, "maximum": MOST_WAIT_S}
        words = "How many seconds the answer may wait until something has changed; without it, none."
        yield {"name": "wait", "in": "query", "schema": seconds, "description": words}
    if route.checks == "csrf":
        yield {
            "name": "X-Evenhand-Csrf",
            "in": "header",
            "required": True,
            "schema": _TEXT,
            "description": "The session's token, which every page of the studio carries.",
        }


def _refusals(route: StudioRoute) -> tuple[int, ...]:
    """Name the refusals that a route may give."""
    found: tuple[int, ...] = ()
    if route.who != "anyone":
        found += (401, 403)
    if _PARAMETER.search(route.path):
        found += (404,)
    if route.method == "POST":
        found += (411, 413, 415, 422)
    return (*found, *((429,) if route.limit else ()))


def _answer(words: str, body: Json) -> Json:
    return {"description": words, "content": {"application/json": {"schema": body}}}


def _heard_schemas() -> dict[str, Json]:
    """Take over the schema of what is heard, its parts as components."""
    text = files("evenhand").joinpath("schema/listen-2.json").read_text("utf-8")
    whole: Json = json.loads(text.replace("#/$defs/", "#/components/schemas/heard_"))
    parts = {f"heard_{name}": part for name, part in whole.pop("$defs").items()}
    return {"heard_take": {k: v for k, v in whole.items() if k not in {"$id", "$schema"}}, **parts}
