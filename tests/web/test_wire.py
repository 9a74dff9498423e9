"""Connections are bounded: who takes too long, or idles while others wait, is let go. On loopback only."""

from __future__ import annotations

import logging
import os
import resource
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from evenhand.web.serving import MOST_FROM_ONE, bind
from evenhand.web.wire import Entrance, Guest, Guests, Sparse, Wire, room_of_this_system
from tests.desks import make_the_desks_routes_only
from tests.web.server_here import GET, Here, a_server, is_ended

HALF = b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Half: "
LOGIN = b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\n"
FORM = b"Content-Type: application/x-www-form-urlencoded\r\n"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Here]:
    make_the_desks_routes_only(monkeypatch)
    with a_server(tmp_path, most=20, most_from_one=20) as found:
        yield found


@pytest.fixture
def a_guest() -> Iterator[Callable[[], Guest]]:
    """Give a maker of guests that nobody is connected to."""
    made: list[Guest] = []

    def one() -> Guest:
        made.append(Guest())
        return made[-1]

    yield one
    for each in made:
        each.close()


def test_half_requests_keep_nobody_out(here: Here) -> None:
    """Before, 1,200 of them with 1,024 descriptors kept everybody out for 90 s."""
    for _ in range(100):
        here.connect(HALF)
    for _ in range(3):
        assert here.health() == b"HTTP/1.1 200 OK"
    assert len(here.guests) <= 20
    assert here.guests.sent_away >= 80


def test_who_idles_goes_first_and_who_is_being_answered_stays(a_guest: Callable[[], Guest]) -> None:
    guests, made = Guests(3, 3), [a_guest() for _ in range(4)]
    peers = [("192.0.2.1", port) for port in range(4)]
    assert all(guests.come(made[i], peers[i]) for i in range(3))
    guests.busy(peers[0])
    guests.busy(peers[1])
    guests.rest(peers[0])  # idle again, but later than the third
    assert guests.come(made[3], peers[3])
    assert guests.sent_away == 1
    for peer in (peers[0], peers[3]):
        guests.busy(peer)
    assert len(guests) == 3
    assert not guests.come(a_guest(), ("192.0.2.1", 9))  # all are busy
    assert guests.turned_away == 1
    guests.left(peers[1])
    assert guests.come(a_guest(), ("192.0.2.1", 10))


def test_one_address_does_not_take_the_room_of_others(a_guest: Callable[[], Guest]) -> None:
    guests = Guests(10, 4)
    for port in range(4):
        assert guests.come(a_guest(), ("192.0.2.1", port))
        guests.busy(("192.0.2.1", port))
    assert not guests.come(a_guest(), ("192.0.2.1", 5))
    assert guests.come(a_guest(), ("192.0.2.2", 1))
    for port in range(2, 7):
        assert guests.come(a_guest(), (f"192.0.2.{port + 10}", port))
    assert guests.come(a_guest(), ("192.0.2.3", 1))  # full: somebody idle made room
    assert len(guests) == 10


def test_fifty_browsers_of_one_school_have_room(a_guest: Callable[[], Guest]) -> None:
    """Six connections are what browsers open to one host (common practice), and one socket, all at once."""
    guests = Guests(1000, MOST_FROM_ONE)
    for port in range(50 * 7):
        assert guests.come(a_guest(), ("192.0.2.1", port))
        guests.busy(("192.0.2.1", port))


def test_a_reserve_of_descriptors_is_kept() -> None:
    room = room_of_this_system(reserve=256, most=100_000)
    soft, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    assert room <= soft - 256 or soft == resource.RLIM_INFINITY


@pytest.mark.parametrize("first", [b"", HALF, b"\r\n"])
def test_a_head_must_come_in_time(here: Here, monkeypatch: pytest.MonkeyPatch, first: bytes) -> None:
    monkeypatch.setattr(Wire, "head_s", 0.2)
    assert is_ended(here.connect(first))


def test_a_head_that_comes_in_drips_gets_no_more_time(here: Here, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Wire, "head_s", 0.3)
    asking = here.connect(HALF)
    asking.settimeout(0.05)
    for _ in range(400):  # more than any reasonable patience
        try:
            asking.sendall(b"x")
            if not asking.recv(10):
                return
        except TimeoutError:
            continue
        except OSError:
            return
    pytest.fail("it is let to drip")


def test_a_second_request_must_come_in_time_too(here: Here, monkeypatch: pytest.MonkeyPatch) -> None:
    asking = here.connect(GET)
    assert asking.recv(1000).startswith(b"HTTP/1.1 200")
    monkeypatch.setattr(Wire, "head_s", 0.2)
    asking.sendall(HALF)
    assert is_ended(asking)


def test_a_body_must_come_on(here: Here, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Wire, "pace_s", 0.2)
    asking = here.connect(LOGIN + FORM + b"Content-Length: 4000\r\n\r\npassword=")
    assert is_ended(asking)


def test_a_body_is_not_read_on_after_its_refusal(here: Here, monkeypatch: pytest.MonkeyPatch) -> None:
    """Before, 1.56 GB in 7 s by nobody were read from one connection: bytes are counted here, not seconds."""
    monkeypatch.setattr(Wire, "linger_s", 30.0)
    asking = here.connect(LOGIN + FORM + b"Content-Length: 100\r\nTransfer-Encoding: chunked\r\n\r\n")
    chunk = b"10000\r\n" + b"x" * 0x10000 + b"\r\n"
    sent = 0
    try:
        while sent < 64 << 20:
            asking.sendall(chunk)
            sent += len(chunk)
    except OSError:
        pass
    assert sent < 24 << 20  # what lingers, and the buffers of both sides
    assert here.health() == b"HTTP/1.1 200 OK"


def test_an_answer_that_nobody_takes_ends(here: Here, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Wire, "stalled_s", 0.3)
    asking = here.connect()
    asking.settimeout(5)
    one = b"GET /static/verovio HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + b"y" * 900 + b"\r\n\r\n"
    for _ in range(200_000):
        try:
            asking.sendall(one)
        except TimeoutError:
            break
        except OSError:  # a reset or a broken pipe, as the system has it
            return
    pytest.fail("it is never ended")


def test_without_descriptors_connections_are_shed_and_none_waits() -> None:
    """Before, the loop was told of the same connection for ever: the log grew by 147 MB."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    taken: list[int] = []
    entrance = Entrance.of(bind("127.0.0.1", 0), Guests(10_000, 10_000))
    entrance.settimeout(0)
    asking = [socket.create_connection(entrance.getsockname()) for _ in range(5)]
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(soft, 300), hard))
    try:
        try:
            while True:
                taken.append(os.dup(0))
        except OSError:
            pass
        for _ in range(6):
            with pytest.raises(BlockingIOError):
                entrance.accept()
    finally:
        for descriptor in taken:
            os.close(descriptor)
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
    assert all(is_ended(each) for each in asking)
    entrance.close()
    for each in asking:
        each.close()


def test_lines_alike_are_written_a_few_times_a_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    at = [1000.0]
    monkeypatch.setattr("evenhand.web.wire.time.monotonic", lambda: at[0])
    sparse = Sparse(most=3, within_s=60.0)

    def line(text: str) -> logging.LogRecord:
        return logging.LogRecord("uvicorn.error", logging.WARNING, "", 0, text, (), None)

    assert sum(sparse.filter(line("Invalid HTTP request received.")) for _ in range(10_000)) == 3
    assert sparse.filter(line("another"))
    at[0] += 61
    later = line("Invalid HTTP request received.")
    assert sparse.filter(later)
    assert "9997 more like this" in later.getMessage()
