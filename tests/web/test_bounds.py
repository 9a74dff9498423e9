"""Bodies are bounded as they come, whatever length was said: bytes are counted, not believed."""

from __future__ import annotations

import pytest

from evenhand.web.guard import COOKIE
from evenhand.web.requests import MOST_FIELD_BYTES, MOST_HEADER_BYTES, SMALL_BYTES, URLENCODED, Occupancy
from tests.web.asked_raw import PIECE, Sent, post
from tests.web.walked import HOUR, POSTS, House, each

BOUNDARY = "multipart/form-data; boundary=x"
FILE = b'--x\r\ncontent-disposition: form-data; name="recording"; filename="a.wav"\r\n\r\n'
FIELD = b'--x\r\ncontent-disposition: form-data; name="words"\r\n\r\n'


def a_session(house: House, role: str) -> dict[str, str]:
    student_id = house.ida.id if role == "student" else None
    secret, session = house.studio.access.begin(role, student_id=student_id, lasts=HOUR)  # type: ignore[arg-type]
    return {"cookie": f"{COOKIE}={secret}", "x_evenhand_csrf": session.csrf}


@each(POSTS)
def test_chunks_with_a_length_are_refused_unread(house: House, route: object) -> None:
    """RFC 9112, 6.3: a message with both ought to be handled as an error."""
    path, who = house.address(route), route.who  # type: ignore[arg-type, attr-defined]
    session = {} if who == "anyone" else a_session(house, who)
    sent = post(
        house.app,
        path,
        Sent(FILE),
        content_length="100",
        transfer_encoding="chunked",
        content_type=BOUNDARY,
        **session,
    )
    assert (sent.status, sent.read) == (411, 0)


@each([route for route in POSTS if route.largest_bytes <= 4 << 20])
def test_more_than_was_said_is_not_taken(house: House, route: object) -> None:
    """Nobody takes more pieces than the route's bound and one, though a hundred bytes were promised."""
    path, who = house.address(route), route.who  # type: ignore[arg-type, attr-defined]
    session = {} if who == "anyone" else a_session(house, who)
    for kind, head in ((BOUNDARY, FILE), (URLENCODED, b"words=")):
        sent = post(house.app, path, Sent(head), content_length="100", content_type=kind, **session)
        assert sent.status == 413
        assert sent.read * PIECE <= route.largest_bytes + 3 * PIECE  # type: ignore[attr-defined]


def test_a_field_beside_a_recording_is_held_in_memory_and_so_bounded(house: House) -> None:
    """The route takes 400 MB of a recording, but no field is one."""
    headers = {"content_length": str(300 << 20), "content_type": BOUNDARY, **a_session(house, "student")}
    sent = post(house.app, "/stand/takes", Sent(FIELD), **headers)
    assert sent.status == 413
    assert sent.read * PIECE <= MOST_FIELD_BYTES + 3 * PIECE
    headers["content_type"] = URLENCODED
    sent = post(house.app, "/stand/takes", Sent(b"words="), **headers)
    assert sent.status == 413
    assert sent.read * PIECE <= MOST_FIELD_BYTES + 3 * PIECE


def test_many_small_fields_are_bounded_together(house: House) -> None:
    piece = (FIELD + b"y" * 2000 + b"\r\n") * 20
    headers = {"content_length": str(300 << 20), "content_type": BOUNDARY, **a_session(house, "student")}
    sent = post(house.app, "/stand/takes", Sent(piece=piece), **headers)
    assert sent.status == 413
    assert sent.read * 20 * 2000 <= 2 * MOST_FIELD_BYTES


def test_many_headers_of_parts_are_bounded_together(house: House) -> None:
    piece = b'--x\r\ncontent-disposition: form-data; name="a"\r\nx: ' + b"y" * 3000 + b"\r\n\r\n\r\n"
    headers = {"content_length": str(300 << 20), "content_type": BOUNDARY, **a_session(house, "student")}
    sent = post(house.app, "/stand/takes", Sent(piece=piece), **headers)
    assert sent.status == 413
    assert sent.read * 3000 <= 2 * MOST_HEADER_BYTES


@pytest.mark.parametrize("kind", [BOUNDARY, URLENCODED])
def test_who_goes_away_while_sending_leaves_no_trace(house: House, kind: str) -> None:
    """Before, each left a traceback in the log: an error that nobody caught is raised again there."""
    headers = {"content_length": "900000", "content_type": kind, **a_session(house, "teacher")}
    sent = post(house.app, "/book/engrave", Sent(b"text=", most=3, goes_away=True), **headers)
    assert sent.status == 400


def test_large_requests_at_once_are_bounded_in_bytes_and_for_each() -> None:
    coming = Occupancy(most_each=2, most=100 << 20, small=SMALL_BYTES)
    with coming.room_for("ida", 40 << 20) as first, coming.room_for("ida", 40 << 20) as second:
        assert first
        assert second
        with coming.room_for("ida", 2 << 20) as third:
            assert not third
        with coming.room_for("una", 2 << 20) as other, coming.room_for("una", 30 << 20) as large:
            assert other
            assert not large
        with coming.room_for("ida", 1000) as small:
            assert small
    with coming.room_for("ida", 90 << 20) as after:
        assert after
