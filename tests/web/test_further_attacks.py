"""Further ways to do harm, thought of after the first were mended. On loopback, bounded in count."""

from __future__ import annotations

import json
import socket
import struct
from collections.abc import Iterator
from pathlib import Path

import pytest

from evenhand.web.guard import COOKIE
from evenhand.web.requests import MOST_FIELD_BYTES, MOST_PAGES_EACH
from evenhand.web.serving import STUDENT_STAYS
from tests.desks import make_the_desks_routes_only
from tests.properties.test_bounded_work import calls_of
from tests.studios import PASSWORD
from tests.web.asked_raw import Sent, post
from tests.web.server_here import GET, Here, a_server, is_ended
from tests.web.stands import a_recording, a_stand
from tests.web.test_bounds import a_session
from tests.web.walked import GUARDED, HOST, HOUR, House, each


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Here]:
    make_the_desks_routes_only(monkeypatch)
    with a_server(tmp_path, most=20, most_from_one=20) as found:
        yield found


# 1. Connections that never begin to speak TLS.


def test_half_handshakes_keep_nobody_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make_the_desks_routes_only(monkeypatch)
    with a_server(tmp_path, most=10, most_from_one=10, https=True) as here:
        for first in (b"", b"\x16\x03\x01"):
            for _ in range(30):
                here.connect(first)
            with (
                here.connect() as plain,
                here.trusting().wrap_socket(plain, server_hostname="127.0.0.1") as asking,
            ):
                asking.sendall(GET)
                assert asking.recv(100).startswith(b"HTTP/1.1 200")
        assert len(here.guests) <= 10


# 2. Requests sent on and on, no answer read.


def test_pipelined_requests_are_answered_one_by_one(here: Here) -> None:
    asking = here.connect(GET * 200)
    asking.settimeout(20)
    got = b""
    while got.count(b"HTTP/1.1 200 OK") < 200:
        more = asking.recv(1 << 16)
        assert more, "it ended early"
        got += more
    assert here.health() == b"HTTP/1.1 200 OK"


# 3. Lengths that two readers could read in two ways.


@pytest.mark.parametrize(
    "lengths",
    [
        b"Content-Length: 5\r\nContent-Length: 6\r\n",
        b"Content-Length: +5\r\n",
        b"Content-Length: 5, 6\r\n",
        b"Content-Length: 0x5\r\n",
        b"Content-Length: 5\r\nTransfer-Encoding: xchunked\r\n",
        b"Content-Length: 5\r\nTransfer-Encoding : chunked\r\n",
        b"Transfer-Encoding: chunked\r\nTransfer-Encoding: identity\r\n",
        b"Content-Length: 5\r\n Transfer-Encoding: chunked\r\n",
    ],
)
def test_a_length_that_can_be_read_in_two_ways_is_refused(here: Here, lengths: bytes) -> None:
    """RFC 9112, 6.3 and 11.2: what follows must never be taken for a second request."""
    head = b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\n" + lengths + b"\r\n"
    asking = here.connect(head + b"0\r\n\r\n" + GET)
    asking.settimeout(20)
    got = b""
    while more := asking.recv(1 << 16):
        got += more
    assert got.startswith((b"HTTP/1.1 4", b"HTTP/1.1 501"))
    assert got.count(b"HTTP/1.1 ") == 1
    assert b'"status":"ok"' not in got


# 4. Thousands of ranges of one recording.


def test_many_ranges_of_a_recording_give_no_more_than_it_has(tmp_path: Path) -> None:
    with a_stand(tmp_path) as stand:
        content = a_recording(2)
        take = stand.send(content).json()["id"]
        for ranges in (",".join(f"{i}-{i}" for i in range(5000)), ",".join(["0-"] * 5000), "-" * 9000):
            answer = stand.client.get(f"/stand/takes/{take}/sound", headers={"range": f"bytes={ranges}"})
            assert answer.status_code in {200, 206, 400, 416}
            assert len(answer.content) < 2 * len(content) + 1_000_000


# 5. A form in a code whose reading grows as the square of its length.


@pytest.mark.parametrize("charset", ["punycode", "idna", "utf-7", "unicode_escape", "zlib_codec", "rot13"])
def test_a_form_says_utf_8_or_nothing(house: House, charset: str) -> None:
    """``punycode`` takes the square of a field's length: minutes for the megabyte that a field may have."""
    field = (
        b'--x\r\ncontent-disposition: form-data; name="text"\r\n\r\n' + b"a" * 500_000 + b"-" + b"99" * 20_000
    )
    headers = {"content_length": str(MOST_FIELD_BYTES), **a_session(house, "teacher")}
    sent = post(
        house.app,
        "/book/engrave",
        Sent(field + b"\r\n--x--\r\n", most=1),
        content_type=f"multipart/form-data; boundary=x; charset={charset}",
        **headers,
    )
    assert sent.status == 415


# 6. Pings without end, and nobody who reads the pongs.


def frame(opcode: int, data: bytes) -> bytes:
    """Write a client's frame (RFC 6455, 5.2), masked with zeros."""
    assert len(data) < 126
    return struct.pack(">BBI", 0x80 | opcode, 0x80 | len(data), 0) + data


def test_pongs_that_nobody_reads_do_not_pile_up(tmp_path: Path) -> None:
    """Whoever reads no answers is not read either: 40 MB of pings end in the system's buffers."""
    with a_server(tmp_path) as here:
        student = here.studio.students.add("Ines Hollander")
        secret, _ = here.studio.access.begin("student", student_id=student.id, lasts=STUDENT_STAYS)
        asking = here.connect(
            b"GET /stand/live HTTP/1.1\r\nHost: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\n"
            b"Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
            b"Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n"
            b"Cookie: " + f"{COOKIE}={secret}".encode() + b"\r\n\r\n"
        )
        assert asking.recv(1000).startswith(b"HTTP/1.1 101")
        asking.settimeout(0.5)
        sent, pings = 0, frame(9, b"x" * 120) * 500
        try:
            while sent < 40 << 20:
                sent += asking.send(pings)
        except (TimeoutError, OSError):
            pass
        assert sent < 30 << 20
        assert here.health() == b"HTTP/1.1 200 OK"


# 7. Moments and numbers at the edge of what a clock holds.


@pytest.mark.parametrize(
    "at", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "2026-03-02T12:00:00+23:59", "nan", ""]
)
def test_a_moment_at_the_edge_of_the_calendar_is_now(tmp_path: Path, at: str) -> None:
    with a_stand(tmp_path) as stand:
        answer = stand.send(a_recording(1), recorded_at=at)
        assert answer.status_code == 202, answer.text


@pytest.mark.parametrize("first", ["1e308", "1e18", "-1", "inf", "nan", "1e-320"])
def test_a_first_note_at_the_edge_of_numbers_leaves_the_take_heard(tmp_path: Path, first: str) -> None:
    from evenhand.studio.work.pool import hear_waiting_once

    with a_stand(tmp_path) as stand:
        answer = stand.send(a_recording(4), first_note_s=first, click="headphones", source="microphone")
        assert answer.status_code == 202
        hear_waiting_once(stand.studio)
        take = stand.studio.takes.find(answer.json()["id"])
        assert take is not None
        assert take.status == "heard", take.reason
        json.loads(take.heard or "", parse_constant=_no_constant)


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} is no JSON")


# 8. One visitor in every thread.


def test_one_student_does_not_hold_every_thread(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """Slow pages asked for forty times at once by one student leave the teacher's answered."""
    import threading
    from concurrent.futures import ThreadPoolExecutor, as_completed
    from itertools import islice

    go_on = threading.Event()
    slow = {"stand.sheet"}
    from evenhand.web import app as web_app

    real = web_app._view  # noqa: SLF001 - one view is made slow

    def view(route: object) -> object:
        if getattr(route, "view", "") not in slow:
            return real(route)

        def waits(_request: object) -> object:
            from starlette.responses import PlainTextResponse

            go_on.wait(20)
            return PlainTextResponse("done")

        return waits

    monkeypatch.setattr(web_app, "_view", view)
    student, teacher = house.client("student"), house.client("teacher")
    with ThreadPoolExecutor(30) as pool:
        asked = [pool.submit(student.get, "/stand/sheet.pdf") for _ in range(30)]
        first = islice(as_completed(asked, 20), 30 - MOST_PAGES_EACH)
        refused = [each.result(20).status_code for each in first]
        assert teacher.get("/settings").status_code == 200
        go_on.set()
        answers = [future.result(20).status_code for future in asked]
    assert refused == [429] * (30 - MOST_PAGES_EACH)
    assert answers.count(200) == MOST_PAGES_EACH


# 9. Other methods, and other spellings of a path.


@each([route for route in GUARDED if route.method == "GET"])
def test_no_other_method_or_spelling_comes_past_the_guard(house: House, route: object) -> None:
    path = house.address(route)  # type: ignore[arg-type]
    client = house.client()
    for method in ("HEAD", "OPTIONS", "TRACE", "PUT", "DELETE", "PATCH", "PROPFIND"):
        assert client.request(method, path).status_code in {303, 401, 405}
    for spelt in (
        f"/{path}",
        f"{path}/",
        f"/static/..{path}",
        f"/%2e{path}",
        path.replace("/", "/./"),
        f"{path}%00",
    ):
        answer = client.get(spelt)
        assert answer.status_code in {301, 303, 307, 401, 404}, spelt
        if answer.status_code in {301, 303, 307}:
            to = answer.headers["location"]
            assert to.startswith(HOST) or (to.startswith("/") and not to.startswith("//"))


# 10. A session that the attacker knows beforehand.


def test_a_login_makes_a_secret_of_its_own(house: House) -> None:
    """Session fixation: what the browser brought is never what it gets."""
    known, _ = house.studio.access.begin("student", student_id=house.una.id, lasts=HOUR)
    for brought in (known, "chosen-by-somebody"):
        client = house.client()
        client.headers["cookie"] = f"{COOKIE}={brought}"
        answer = client.post("/login", data={"password": PASSWORD})
        assert answer.status_code == 303
        given = answer.cookies[COOKIE]
        assert given != brought
        role = house.studio.access.session(given)
        assert role is not None
        assert role.role == "teacher"
        found = house.studio.access.session(brought)
        assert found is None or found.role == "student"


# 11. A cookie jar full of other things.


def test_a_full_cookie_jar_is_read_in_work_as_its_length(house: House) -> None:
    secret, _ = house.studio.access.begin("teacher", lasts=HOUR)

    def work(count: int) -> int:
        client = house.client()
        jar = "; ".join(f"{COOKIE}{i}=x" for i in range(count))
        client.headers["cookie"] = f"{jar}; {COOKIE}={secret}"
        return calls_of(lambda: client.get("/health"))

    work(10)
    assert work(2000) < 4 * work(1000)


# 12. A reset in the middle of everything.


def test_resets_leave_no_guest_behind(here: Here) -> None:
    for first in (
        b"",
        GET[:20],
        GET,
        b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 900\r\n\r\nx",
    ):
        for _ in range(10):
            asking = here.connect(first)
            asking.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            asking.close()
    for _ in range(5):
        assert here.health() == b"HTTP/1.1 200 OK"
    one = here.connect(HALF_CLOSED)
    one.shutdown(socket.SHUT_WR)
    assert is_ended(one)
    assert len(here.guests) <= 2


HALF_CLOSED = b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n"
