"""The table of doors is the permission: every route, tried by whoever should not come in, and how."""

from __future__ import annotations

import importlib
import inspect
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta

import pytest
from httpx2 import Response
from starlette.applications import Starlette
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from evenhand.domain.studio import Role, Student
from evenhand.storage.studio import Studio
from evenhand.web.app import create_app
from evenhand.web.doors import DOORS, Door
from evenhand.web.guard import COOKIE, HEADERS, LIMITS, Limiter
from evenhand.web.settings import WebSettings
from tests.studios import PASSWORD, QUICK, a_new_take, a_studio

HOST = "http://testserver"
ELSEWHERE = "http://elsewhere.example"
HOUR = timedelta(hours=1)
NOT_ALLOWED = 1008  # RFC 6455, 7.4.1: a policy was violated
SOUND = b"RIFF\x00\x00\x00\x00WAVEfmt " + bytes(64)

ROUTES = [door for door in DOORS if door.kind != "socket"]
GETS = [door for door in ROUTES if door.method == "GET"]
POSTS = [door for door in ROUTES if door.method == "POST"]
GUARDED = [door for door in ROUTES if door.who != "anyone"]


def name_of(door: Door) -> str:
    return f"{door.method} {door.path}"


def each(doors: list[Door]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("door", doors, ids=name_of)


@dataclass(frozen=True)
class House:
    """A studio with two students, each with a take, and who may come in by which secret."""

    app: Starlette
    studio: Studio
    ida: Student
    una: Student
    takes: Mapping[str, str]  # a student's id to the take's id
    names: Mapping[str, str]  # what the addresses' braces stand for

    def client(self, role: Role | None = None, who: Student | None = None) -> TestClient:
        """Give a browser that is logged in as nobody, the teacher, or a student."""
        cookies, token = {}, ""
        if role is not None:
            student_id = (who or self.ida).id if role == "student" else None
            secret, session = self.studio.begin_session(role, student_id=student_id, lasts=HOUR)
            cookies, token = {COOKIE: secret}, session.csrf
        headers = {"origin": HOST, "accept": "text/html", "x-evenhand-csrf": token}
        return TestClient(
            self.app, headers=headers, cookies=cookies, follow_redirects=False, raise_server_exceptions=False
        )

    def address(self, door: Door, **others: str) -> str:
        """Write a door's address; what is not said otherwise is Ida's."""
        return door.path.replace(":int", "").format_map({**self.names, **others})

    def ask(self, client: TestClient, door: Door, **others: str) -> Response:
        """Come to a door, with an empty form where there is one."""
        return client.request(door.method, self.address(door, **others), data=form_of(door))


def form_of(door: Door) -> dict[str, str] | None:
    return {"nothing": ""} if door.method == "POST" else None


@pytest.fixture(scope="module")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    folder = tmp_path_factory.mktemp("doors")
    a_studio(folder).close()
    app = create_app(WebSettings(folder / "studio"), hears=False)
    app.state.studio.close()
    app.state.studio = studio = Studio.open(folder / "studio", hasher=QUICK)
    ida, una = studio.add_student("Ida Quill"), studio.add_student("Una Marsh")
    takes = {who.id: studio.receive_take(a_new_take(who.id), SOUND)[0].id for who in (ida, una)}
    secret, link = studio.make_link(ida.id, lasts=HOUR)
    entry = studio.add_entry("1/8: RRLL", "Doubles", "")
    names = {
        "student_id": ida.id,
        "take_id": takes[ida.id],
        "other_id": takes[una.id],
        "link_id": link.id,
        "entry_id": entry.id,
        "secret": secret,
        "week_id": "none",
        "number": "1",
    }
    yield House(app, studio, ida, una, takes, names)
    studio.close()


@pytest.fixture
def house(furnished: House) -> House:
    furnished.app.state.limiter = Limiter()
    return furnished


# The table itself.


@each(list(DOORS))
def test_every_door_of_the_table_has_its_view(door: Door) -> None:
    module, _, name = door.view.partition(".")
    view = getattr(importlib.import_module(f"evenhand.web.views.{module}"), name)
    assert len(inspect.signature(view).parameters) == 1
    assert view.__doc__


def test_what_stands_open_to_anyone_is_this_and_no_more() -> None:
    """By hand: whether it is there, the login, a student's link, and where a dead link leads."""
    assert [name_of(door) for door in DOORS if door.who == "anyone"] == [
        "GET /health",
        "GET /login",
        "POST /login",
        "GET /s/{secret}",
        "GET /gone",
    ]


def test_whatever_changes_something_is_checked() -> None:
    unchecked = [door for door in DOORS if door.method != "GET" and door.checks == "none"]
    assert unchecked == []
    without_token = [door.path for door in POSTS if door.checks != "csrf"]
    assert without_token == ["/login"]  # no session yet, so no token
    assert [door.checks for door in DOORS if door.kind == "socket"] == ["origin"]


def test_no_route_is_there_twice_or_besides_the_table(house: House) -> None:
    wanted = [name_of(door) for door in DOORS]
    assert len(set(wanted)) == len(wanted)
    paths = [getattr(route, "path", "") for route in house.app.routes]
    assert sorted(paths) == sorted([*(door.path for door in DOORS), "/static"])


# Who may come in.


@each(GUARDED)
def test_nobody_comes_in_without_a_login(house: House, door: Door) -> None:
    answer = house.ask(house.client(), door)
    if door.kind == "page":
        entrance = "/login" if door.who == "teacher" else "/gone"
        assert (answer.status_code, answer.headers["location"]) == (303, entrance)
    else:
        assert answer.status_code == 401


@each(GUARDED)
def test_an_unknown_or_expired_session_is_no_session(house: House, door: Door) -> None:
    over, _ = house.studio.begin_session("teacher", lasts=-HOUR)
    for secret in ("", "x" * 43, over):
        client = house.client()
        client.cookies.set(COOKIE, secret)
        assert house.ask(client, door).status_code in {303, 401}


@each([door for door in GUARDED if door.who == "teacher"])
def test_a_student_comes_to_no_door_of_the_teachers(house: House, door: Door) -> None:
    answer = house.ask(house.client("student"), door)
    if door.kind == "page":
        assert (answer.status_code, answer.headers["location"]) == (303, "/stand")
    else:
        assert answer.status_code == 403


@each([door for door in GUARDED if door.who == "student"])
def test_the_teacher_is_no_student(house: House, door: Door) -> None:
    answer = house.ask(house.client("teacher"), door)
    if door.kind == "page":
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
    else:
        assert answer.status_code == 403


@each([door for door in GUARDED if door.who == "student" and "{take_id}" in door.path])
def test_another_students_take_is_not_there(house: House, door: Door) -> None:
    client = house.client("student", house.una)
    assert house.ask(client, door, take_id=house.takes[house.ida.id]).status_code == 404
    assert house.ask(client, door, take_id="unknown").status_code == 404
    assert house.ask(client, door, take_id=house.takes[house.una.id]).status_code in {200, 202}


def test_what_a_student_sees_names_no_other(house: House) -> None:
    client = house.client("student", house.una)
    for door in [door for door in GETS if door.who == "student"]:
        answer = house.ask(client, door, take_id=house.takes[house.una.id])
        assert house.ida.name not in answer.text
        assert house.ida.id not in answer.text


@each([door for door in GUARDED if "{" in door.path])
def test_what_is_not_there_is_said_and_is_no_error_of_ours(house: House, door: Door) -> None:
    nothing = dict.fromkeys(house.names, "nothing") | {"number": "77"}
    answer = house.ask(house.client(door.who), door, **nothing)  # type: ignore[arg-type]
    assert answer.status_code in {404, 422}, answer.text


def test_leaving_ends_the_session_itself(house: House) -> None:
    for role, out in (("teacher", "/logout"), ("student", "/stand/leave")):
        client = house.client(role)  # type: ignore[arg-type]
        secret = client.cookies[COOKIE]
        assert client.post(out, data={"nothing": ""}).status_code in {200, 303}
        assert house.studio.session(secret) is None


def test_a_link_taken_back_lets_out_who_came_in_by_it(house: House) -> None:
    nora = house.studio.add_student("Nora Veldt")
    secret, link = house.studio.make_link(nora.id, lasts=HOUR)
    client = house.client()
    assert client.get(f"/s/{secret}").headers["location"] == "/stand"
    assert client.get("/stand").status_code == 200
    house.studio.revoke_link(link.id)
    assert client.get("/stand").headers["location"] == "/gone"
    assert client.get(f"/s/{secret}").headers["location"] == "/gone"
    assert client.get("/gone").status_code == 410


def test_a_link_that_ran_out_and_an_archived_students_lead_nowhere(house: House) -> None:
    nora = house.studio.add_student("Nora Veldt")
    over, _ = house.studio.make_link(nora.id, lasts=-HOUR)
    good, _ = house.studio.make_link(nora.id, lasts=HOUR)
    client = house.client()
    assert client.get(f"/s/{over}").headers["location"] == "/gone"
    assert client.get(f"/s/{good}").headers["location"] == "/stand"
    house.studio.change_student(nora.id, archived=True)
    assert client.get("/stand").headers["location"] == "/gone"
    assert client.get(f"/s/{good}").headers["location"] == "/gone"


# Requests from elsewhere.


@each([door for door in POSTS if door.checks == "csrf"])
def test_a_form_without_the_sessions_own_token_is_refused(house: House, door: Door) -> None:
    other = house.client(door.who).headers["x-evenhand-csrf"]  # type: ignore[arg-type]
    client = house.client(door.who)  # type: ignore[arg-type]
    for token in ("", "wrong", other):
        client.headers["x-evenhand-csrf"] = token
        answer = client.post(house.address(door), data={"csrf": token})
        assert answer.status_code == 403
        assert "open too long" in answer.text


@each(POSTS)
def test_a_form_from_another_page_is_refused(house: House, door: Door) -> None:
    client = house.client(door.who if door.who != "anyone" else None)
    for origin in (ELSEWHERE, "null", f"{HOST}.elsewhere.example", "http://testserver:81"):
        client.headers["origin"] = origin
        answer = house.ask(client, door)
        assert answer.status_code == 403
        assert "another page" in answer.text
    del client.headers["origin"]
    assert house.ask(client, door).status_code == 403


@each(POSTS)
def test_what_takes_a_form_is_not_done_by_looking(house: House, door: Door) -> None:
    looks = {other.path for other in GETS}
    if door.path not in looks:
        client = house.client(door.who if door.who != "anyone" else None)
        assert client.get(house.address(door)).status_code in {303, 404, 405}  # the first: another door's


# How much, and how often.


@each(POSTS)
def test_what_is_too_large_is_refused_before_it_is_read(house: House, door: Door) -> None:
    client = house.client(door.who if door.who != "anyone" else None)
    headers = {"content-length": str(door.largest_bytes + 1)}
    answer = client.post(house.address(door), content=b"", headers=headers)
    assert answer.status_code == 413
    assert "at most" in answer.text


def test_a_form_that_is_really_too_large_is_refused(house: House) -> None:
    client = house.client("teacher")
    assert client.post("/book/engrave", data={"text": "R" * (1 << 20)}).status_code == 413
    assert client.post("/book/engrave", data={"text": "R" * (1 << 10)}).status_code == 200


@each(POSTS)
def test_what_does_not_say_its_length_is_refused(house: House, door: Door) -> None:
    client = house.client(door.who if door.who != "anyone" else None)
    answer = client.post(house.address(door), content=iter([b"csrf=x"]))
    assert answer.status_code == 411


def test_a_broken_form_is_refused_and_nothing_breaks(house: House) -> None:
    kind = {"content-type": "multipart/form-data; boundary=x"}
    answer = house.client("student").post("/stand/takes", content=b"--y\r\nnonsense", headers=kind)
    assert answer.status_code in {400, 422}


@pytest.mark.parametrize("name", ["login", "link", "upload"])
def test_too_often_is_refused(house: House, name: str) -> None:
    door = next(door for door in ROUTES if door.limit == name)
    client = house.client("student" if door.who == "student" else None)
    most, _ = LIMITS[name]
    for _ in range(most):
        assert house.ask(client, door, secret="wrong").status_code != 429  # noqa: S106 - a wrong one
    assert house.ask(client, door, secret="wrong").status_code == 429  # noqa: S106 - a wrong one
    assert client.get("/health").status_code == 200  # the rest goes on
    if door.who == "student":  # another student is not kept out by the first
        assert house.ask(house.client("student", house.una), door).status_code != 429


def test_who_guesses_the_password_is_kept_waiting_even_with_the_right_one(house: House) -> None:
    client = house.client()
    for _ in range(LIMITS["login"][0]):
        assert client.post("/login", data={"password": "guessed"}).status_code == 403
    assert client.post("/login", data={"password": PASSWORD}).status_code == 429


# What every answer carries.


def check_headers(answer: Response) -> None:
    for name, value in HEADERS.items():
        assert answer.headers.get_list(name) == [value], (answer.status_code, str(answer.url), name)


@each(ROUTES)
def test_every_answer_has_the_headers_that_protect_it(house: House, door: Door) -> None:
    for role in (None, "teacher", "student"):
        check_headers(house.ask(house.client(role), door))


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
    link, _ = house.studio.make_link(house.ida.id, lasts=HOUR)
    try:
        client = house.client()
        made = [client.post("/login", data={"password": PASSWORD}), client.get(f"/s/{link}")]
    finally:
        house.app.state.settings = settings
    for answer in made:
        (cookie,) = answer.headers.get_list("set-cookie")
        flags = {part.strip().lower() for part in cookie.split(";")[1:]}
        assert {"httponly", "samesite=lax", "path=/"} <= flags
        assert ("secure" in flags) == secure
        assert any(flag.startswith("max-age=") for flag in flags)
        assert "domain" not in cookie.lower()
        assert len(cookie.partition(";")[0].removeprefix(f"{COOKIE}=")) >= 43  # 256 bits in base64


def test_its_health_is_told_to_anyone(house: House) -> None:
    answer = house.client().get("/health")
    assert answer.status_code == 200
    assert answer.json()["status"] == "ok"


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
    theo = house.studio.add_student("Theo Marchbank", minor=True)
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
