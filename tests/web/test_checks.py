"""Forms, limits, headers, cookies and the socket: what is checked of whoever comes."""

from __future__ import annotations

import pytest
from httpx2 import Response
from starlette.websockets import WebSocketDisconnect

from evenhand.studio.values import Role
from evenhand.web.guard import COOKIE, HEADERS, HOST_ONLY, KNOWN, LIMITS, Limiter
from evenhand.web.routes import StudioRoute
from evenhand.web.serving import WebSettings
from tests.studios import PASSWORD
from tests.web.walked import (
    ELSEWHERE,
    GETS,
    HOST,
    HOUR,
    NO_SOCKETS,
    NOT_ALLOWED,
    POSTS,
    House,
    each,
)

# Requests from elsewhere.


@each([route for route in POSTS if route.checks == "csrf"])
def test_a_form_without_the_sessions_own_token_is_refused(house: House, route: StudioRoute) -> None:
    other = house.client(route.who).headers["x-evenhand-csrf"]  # type: ignore[arg-type]
    client = house.client(route.who)  # type: ignore[arg-type]
    for token in ("", "wrong", other):
        client.headers["x-evenhand-csrf"] = token
        answer = client.post(house.address(route), data={"csrf": token})
        assert answer.status_code == 403
        assert "open too long" in answer.text


@each(POSTS)
def test_a_form_from_another_page_is_refused(house: House, route: StudioRoute) -> None:
    client = house.client(route.who if route.who != "anyone" else None)
    for origin in (ELSEWHERE, "null", f"{HOST}.elsewhere.example", "http://testserver:81"):
        client.headers["origin"] = origin
        answer = house.ask(client, route)
        assert answer.status_code == 403
        assert "another page" in answer.text
    del client.headers["origin"]
    assert house.ask(client, route).status_code == 403


@each(POSTS)
def test_what_takes_a_form_is_not_done_by_looking(house: House, route: StudioRoute) -> None:
    looks = {other.path for other in GETS}
    if route.path not in looks:
        client = house.client(route.who if route.who != "anyone" else None)
        assert client.get(house.address(route)).status_code in {303, 404, 405}  # the first: another route's


# How much, and how often.


@each(POSTS)
def test_what_is_too_large_is_refused_before_it_is_read(house: House, route: StudioRoute) -> None:
    client = house.client(route.who if route.who != "anyone" else None)
    headers = {"content-length": str(route.largest_bytes + 1)}
    answer = client.post(house.address(route), content=b"", headers=headers)
    assert answer.status_code == 413
    assert "at most" in answer.text


def test_a_form_that_is_really_too_large_is_refused(house: House) -> None:
    client = house.client("teacher")
    assert client.post("/book/engrave", data={"text": "R" * (1 << 20)}).status_code == 413
    assert client.post("/book/engrave", data={"text": "R" * (1 << 10)}).status_code == 200


@each(POSTS)
def test_what_does_not_say_its_length_is_refused(house: House, route: StudioRoute) -> None:
    client = house.client(route.who if route.who != "anyone" else None)
    answer = client.post(house.address(route), content=iter([b"csrf=x"]))
    assert answer.status_code == 411


def test_a_broken_form_is_refused_and_nothing_breaks(house: House) -> None:
    kind = {"content-type": "multipart/form-data; boundary=x"}
    answer = house.client("student").post("/stand/takes", content=b"--y\r\nnonsense", headers=kind)
    assert answer.status_code in {400, 422}


@pytest.mark.parametrize("name", ["upload", "password"])
def test_too_often_is_refused(house: House, name: str) -> None:
    route = next(route for route in NO_SOCKETS if route.limit == name)
    client = house.client(route.who if route.who != "anyone" else None)
    most, _ = LIMITS[name]
    for _ in range(most):
        assert house.ask(client, route).status_code != 429
    assert house.ask(client, route).status_code == 429
    assert client.get("/health").status_code == 200  # the rest goes on
    assert house.ask(house.client(route.who), route).status_code == 429  # type: ignore[arg-type] # a new session is no new visitor
    if route.who == "student":  # another student is not kept out by the first
        assert house.ask(house.client("student", house.una), route).status_code != 429


# What every answer carries.


def check_headers(answer: Response) -> None:
    for name, value in HEADERS.items():
        assert answer.headers.get_list(name) == [value], (answer.status_code, str(answer.url), name)


@each(NO_SOCKETS)
def test_every_answer_has_the_headers_that_protect_it(house: House, route: StudioRoute) -> None:
    for role in (None, "teacher", "student"):
        check_headers(house.ask(house.client(role), route))


def test_static_files_and_refusals_have_them_too(house: House) -> None:
    client = house.client()
    for path, status in (("/static/studio.css", 200), ("/static/none.css", 404), ("/none", 404)):
        answer = client.get(path)
        assert answer.status_code == status
        check_headers(answer)
    check_headers(client.post("/health"))


@pytest.mark.filterwarnings("ignore")
def test_an_error_of_ours_shows_no_trace_and_has_the_headers(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_request: object) -> None:
        raise RuntimeError("a secret place")

    monkeypatch.setattr("evenhand.web.app._view", lambda _door: broken)
    answer = house.client("teacher").get("/settings")
    assert answer.status_code == 500
    assert "a secret place" not in answer.text
    assert "Traceback" not in answer.text
    assert "Nothing was lost" in answer.text
    check_headers(answer)


def test_the_policy_lets_in_no_script_and_no_address_of_others(house: House) -> None:
    policy = house.client().get("/login").headers["content-security-policy"]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == "'self'"
    assert rules["frame-ancestors"] == "'none'"
    assert rules["base-uri"] == "'none'"
    assert "http" not in policy
    assert "*" not in policy


@pytest.mark.parametrize("secure", [False, True])
def test_a_sessions_cookie_is_for_the_server_alone(house: House, secure: bool) -> None:  # noqa: FBT001 - a case
    settings = house.app.state.settings
    house.app.state.settings = WebSettings(settings.data, secure=secure)
    link, _ = house.studio.access.make_link(house.ida.id, lasts=HOUR)
    try:
        client = house.client()
        made = [client.post("/login", data={"password": PASSWORD}), client.get(f"/s/{link}")]
    finally:
        house.app.state.settings = settings
    for answer, count in zip(made, (2, 1), strict=True):  # the login's device is known from now on, too
        cookies = answer.headers.get_list("set-cookie")
        assert len(cookies) == count
        for cookie in cookies:
            name, _, rest = cookie.partition("=")
            assert name.removeprefix(HOST_ONLY) in {COOKIE, KNOWN}
            assert name.startswith(HOST_ONLY) == secure
            flags = {part.strip().lower() for part in cookie.split(";")[1:]}
            assert {"httponly", "samesite=lax", "path=/"} <= flags
            assert ("secure" in flags) == secure
            assert any(flag.startswith("max-age=") for flag in flags)
            assert "domain" not in cookie.lower()
            assert len(rest.partition(";")[0]) >= 43  # 256 bits in base64


def test_its_health_is_told_to_anyone(house: House) -> None:
    answer = house.client().get("/health")
    assert answer.status_code == 200
    assert answer.json()["status"] == "ok"


def test_its_readiness_says_what_would_keep_no_take_and_nothing_else(house: House) -> None:
    client = house.client()
    ready = client.get("/ready")
    assert (ready.status_code, ready.json()) == (200, {"status": "ready", "lacks": []})
    unfinished = house.studio.data.recordings.folder / "unfinished"
    away = unfinished.rename(unfinished.with_name("away"))
    try:
        answer = client.get("/ready")
    finally:
        away.rename(unfinished)
    assert (answer.status_code, answer.json()) == (503, {"status": "not ready", "lacks": ["recordings"]})
    assert list(unfinished.iterdir()) == []
    assert client.get("/ready").status_code == 200


# The socket.


def test_the_socket_opens_to_a_student_from_our_own_page(house: House) -> None:
    with house.client("student").websocket_connect("/stand/live") as socket:
        socket.send_json({"rate": 48000, "exercise": "1/8: RLRL", "tempo": "1/4=80", "first_note_s": 1.0})
        assert socket.receive_json() == {"ready": True}


@pytest.mark.parametrize(
    ("role", "origin"),
    [
        (None, HOST),
        ("teacher", HOST),
        ("student", ELSEWHERE),
        ("student", "null"),
        ("student", None),
    ],
)
def test_the_socket_opens_to_nobody_else(house: House, role: Role | None, origin: str | None) -> None:
    client = house.client(role)
    del client.headers["origin"]
    headers = {} if origin is None else {"origin": origin}
    with (
        pytest.raises(WebSocketDisconnect) as closed,
        client.websocket_connect("/stand/live", headers=headers),
    ):
        pass
    assert closed.value.code == NOT_ALLOWED


def test_the_socket_stays_shut_for_a_minor_without_consent(house: House) -> None:
    theo = house.studio.students.add("Theo Marchbank", minor=True)
    client = house.client("student", theo)
    with pytest.raises(WebSocketDisconnect), client.websocket_connect("/stand/live"):
        pass


def test_the_socket_opens_only_so_often(house: House) -> None:
    client = house.client("student")
    house.app.state.limiter = Limiter({**LIMITS, "live": (2, 300.0)})
    for _ in range(2):
        with client.websocket_connect("/stand/live"):
            pass
    with pytest.raises(WebSocketDisconnect), client.websocket_connect("/stand/live"):
        pass
