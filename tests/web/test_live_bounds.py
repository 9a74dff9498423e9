"""The live socket holds up nothing: what waits is bounded, and it ends with its student's session."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.websockets import WebSocketDisconnect

from evenhand.errors import WrongUse
from evenhand.hearing.live.ear import PIECE, LiveEar
from evenhand.studio.live import hearing
from evenhand.studio.live.wire import live_ear
from evenhand.web.requests import Occupancy
from evenhand.web.serving import STUDENT_STAYS
from evenhand.web.views.live import AT_ONCE_S, MOST_EARLY_S, MOST_WAITING_S, Waiting
from tests.web.stands import ORIGIN, TEMPO, TEXT, Stand, a_stand

RATE = 48_000
BEGIN = {"rate": RATE, "exercise": TEXT, "tempo": TEMPO, "first_note_s": 0.5}
SECOND = np.zeros(RATE, dtype="<i2").tobytes()


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    with a_stand(tmp_path) as found:
        yield found


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Let the ear be slow, and count the samples that it is fed."""
    import threading

    fed: list[int] = []
    wait = threading.Event()

    def feed(_ear: LiveEar, samples: Any) -> list[Any]:
        fed.append(len(samples))
        wait.wait(0.2)
        return []

    monkeypatch.setattr(LiveEar, "feed", feed)
    return fed


def flood(socket: Any, seconds: int) -> str:
    """Send so much sound at once; give what it is told in the end."""
    for _ in range(seconds):
        socket.send_bytes(SECOND)
    while True:
        told = socket.receive_json()
        if "error" in told or "ended" in told:
            return str(told.get("error", "ended"))


def until_the_end(socket: Any) -> list[dict[str, Any]]:
    """List what is told from now on."""
    told = [socket.receive_json()]
    while "ended" not in told[-1]:
        told.append(socket.receive_json())
    return told


def test_marks_that_come_late_are_said_to_and_once(stand: Stand, slow: list[int]) -> None:
    """The ear takes 0.2 s for each block here, and half a second is heard in one go: what came last waits."""
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_json(BEGIN)
        socket.receive_json()
        for _ in range(4):
            socket.send_bytes(SECOND)
        socket.send_json({"end": True})
        assert until_the_end(socket) == [{"late": True}, {"ended": True}]
    assert sum(slow) == 4 * RATE


def test_marks_that_come_in_time_need_no_word(stand: Stand) -> None:
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_json(BEGIN)
        socket.receive_json()
        socket.send_bytes(SECOND[:1024])
        socket.send_json({"end": True})
        assert until_the_end(socket) == [{"ended": True}]


def test_sound_that_comes_faster_than_it_is_heard_ends_it_with_a_word(stand: Stand, slow: list[int]) -> None:
    """Before, the queue had no bound: 69 MB to 4.1 GB in 15 s. Samples are counted here."""
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_json(BEGIN)
        socket.receive_json()
        assert "faster than it can be heard" in flood(socket, 60)
    assert sum(slow) <= (MOST_WAITING_S + 5) * RATE


def test_who_is_gone_is_not_heard_to_the_end(stand: Stand, slow: list[int]) -> None:
    """Before, it was still computing 80 s after the socket had closed."""
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_json(BEGIN)
        socket.receive_json()
        for _ in range(9):
            socket.send_bytes(SECOND)
    heard = sum(slow)
    assert heard <= 4 * RATE
    assert stand.client.get("/stand").status_code == 200
    assert sum(slow) <= heard + RATE


def test_the_end_is_told_after_what_still_waits(stand: Stand, slow: list[int]) -> None:
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_json(BEGIN)
        socket.receive_json()
        for _ in range(4):
            socket.send_bytes(SECOND)
        socket.send_json({"end": True})
        assert [told for told in until_the_end(socket) if "late" not in told] == [{"ended": True}]
    assert sum(slow) == 4 * RATE


@pytest.mark.parametrize("how", ["link", "session", "archive"])
def test_a_link_taken_back_ends_its_socket(stand: Stand, monkeypatch: pytest.MonkeyPatch, how: str) -> None:
    monkeypatch.setattr("evenhand.web.views.live.LOOKS_EVERY_S", 0.02)
    _, link = stand.studio.access.make_link(stand.student.id, lasts=STUDENT_STAYS)
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_json(BEGIN)
        socket.receive_json()
        if how == "link":
            stand.studio.access.revoke_link(link.id)
        elif how == "session":
            stand.studio.access.end_by_id(stand.studio.access.sessions(stand.student.id)[0].id)
        else:
            stand.studio.students.change(stand.student.id, archived=True)
        assert "logged out" in socket.receive_json()["error"]
        with pytest.raises(WebSocketDisconnect) as closed:
            socket.receive_json()
        assert closed.value.code == 1008


def test_one_more_ear_than_there_is_room_for_is_told_so(stand: Stand) -> None:
    stand.client.app.state.ears = Occupancy(most_each=1, most=3)  # type: ignore[attr-defined]
    other = stand.as_another(stand.studio.students.add("Tomas Reed"))
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as first:
        first.send_json(BEGIN)
        assert first.receive_json() == {"ready": True}
        with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as second:
            assert "Too many play" in second.receive_json()["error"]
        with other.client.websocket_connect("/stand/live", headers=ORIGIN) as third:
            third.send_json(BEGIN)
            assert third.receive_json() == {"ready": True}
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as again:
        again.send_json(BEGIN)
        assert again.receive_json() == {"ready": True}


@pytest.mark.parametrize("rate", [8_000, 48_000, 192_000])
def test_of_a_live_take_a_minute_is_kept(stand: Stand, monkeypatch: pytest.MonkeyPatch, rate: int) -> None:
    """At 192 kHz half an hour was 1.4 GB. Bytes are counted here: a minute and the piece that has begun."""
    ears: list[LiveEar] = []
    made = live_ear

    def noted(message: str) -> LiveEar:
        ears.append(made(message))
        return ears[-1]

    monkeypatch.setattr(hearing, "live_ear", noted)
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_json({**BEGIN, "rate": rate})
        assert socket.receive_json() == {"ready": True}
    (ear,) = ears
    for _ in range(100):
        ear._kept.add(np.ones(rate, dtype=np.float32))  # noqa: SLF001 - what is kept has no other route
    kept = sum(piece.nbytes for piece in ear._kept._pieces if piece.strides[0])  # noqa: SLF001
    assert kept <= 4 * (60 * rate + 2 * PIECE)
    assert kept >= 4 * 60 * rate


def test_a_nested_beginning_is_refused_in_words(stand: Stand) -> None:
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_text("[" * 100_000)
        assert socket.receive_json()["error"]


def test_sound_is_let_come_as_fast_as_it_is_played(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: an hour at its own pace passes; at twice the pace it is stopped after twice the head start."""
    at = [100.0]
    monkeypatch.setattr("evenhand.web.views.live.time.monotonic", lambda: at[0])

    async def play(pace: float) -> float:
        waiting, block = Waiting(RATE), np.zeros(RATE, dtype=np.float32)
        for second in range(3600):
            try:
                waiting.put(block)
            except WrongUse:
                return float(second)
            await waiting.take()
            at[0] += 1 / pace
        return 3600.0

    assert asyncio.run(play(1.0)) == 3600.0
    assert asyncio.run(play(2.0)) == pytest.approx(2 * MOST_EARLY_S, abs=2)


def test_what_waits_is_taken_a_little_at_a_time() -> None:
    async def take() -> list[int]:
        waiting = Waiting(RATE)
        for _ in range(100):
            waiting.put(np.zeros(RATE // 20, dtype=np.float32))
        waiting.end(whole=True)
        taken = []
        while (sound := await waiting.take()) is not None:
            taken.append(len(sound))
        return taken

    taken = asyncio.run(take())
    assert sum(taken) == 5 * RATE
    assert max(taken) <= (AT_ONCE_S + 0.05) * RATE
