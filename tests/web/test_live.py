"""The live ear's socket: who may, what comes in, what goes out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from evenhand.hearing.live.ear import LiveEar
from tests.web.stands import ORIGIN, TEMPO, TEXT, Stand, a_playing, a_stand

BEGIN = {"rate": 48_000, "exercise": TEXT, "tempo": TEMPO, "first_note_s": 0.5}
BLOCK = 512


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    """Let a student in."""
    with a_stand(tmp_path) as found:
        yield found


def blocks_of(samples: Any) -> Iterator[bytes]:
    """Cut samples into blocks of 16 bit, as the page sends them."""
    whole = np.round(np.clip(samples, -1, 1) * 32767).astype("<i2")
    for start in range(0, len(whole), BLOCK):
        yield whole[start : start + BLOCK].tobytes()


def hits_of(stand: Stand, samples: Any, begin: dict[str, Any]) -> list[dict[str, Any]]:
    """Play samples into the socket; give every hit that it tells."""
    hits: list[dict[str, Any]] = []
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_json(begin)
        assert socket.receive_json() == {"ready": True}
        for block in blocks_of(samples):
            socket.send_bytes(block)
        socket.send_json({"end": True})
        while (told := socket.receive_json()) != {"ended": True}:
            hits += told.get("hits", [])  # a busy machine says that marks come late
    return hits


def test_each_stroke_is_told_with_its_hand_and_note(stand: Stand) -> None:
    """By construction: the simulated player plays it twice; the truth says which hand when."""
    played = a_playing(2)
    hits = hits_of(stand, played.samples, BEGIN)
    assert [hit["hand"] for hit in hits] == list("RLRRLRLL" * 2)
    assert [hit["position"] for hit in hits] == list(range(8)) * 2
    truth = [hit.time_s for hit in played.truth.hits]
    assert [hit["time_s"] for hit in hits] == pytest.approx(truth, abs=0.003)


def test_the_socket_tells_what_the_ear_tells(stand: Stand) -> None:
    """The ear fed at once is the reference: blocks that pile up on the way change nothing that is told."""
    played = a_playing(1)
    ear = LiveEar(48_000)
    samples = np.round(played.samples * 32767).astype(np.float32) / np.float32(32768)
    alone = [hit for i in range(0, len(samples), BLOCK) for hit in ear.feed(samples[i : i + BLOCK])]
    hits = hits_of(stand, played.samples, {"rate": 48_000})
    assert len(hits) == len(alone) == 8
    assert [hit["time_s"] for hit in hits] == pytest.approx([hit.time_s for hit in alone], abs=0.001)


def refused(client: TestClient, **headers: str) -> bool:
    """Tell whether the socket is not opened."""
    try:
        with client.websocket_connect("/stand/live", headers=headers):
            return False
    except WebSocketDisconnect as closed:
        return closed.code == 1008


def test_only_a_student_of_ours_on_our_own_page_may(stand: Stand) -> None:
    assert not refused(stand.client, **ORIGIN)
    assert refused(stand.client, origin="https://elsewhere.example")
    assert refused(stand.client, origin="null")
    assert refused(TestClient(stand.client.app), **ORIGIN)
    assert refused(stand.as_teacher(), **ORIGIN)


def test_a_minor_without_consent_may_not(tmp_path: Path) -> None:
    with a_stand(tmp_path, minor=True) as stand:
        assert refused(stand.client, **ORIGIN)


@pytest.mark.parametrize(
    "message", ["no json", "[]", '{"rate": 3}', '{"rate": 48000, "exercise": "1/8: RX", "tempo": "1/8=80"}']
)
def test_a_beginning_that_is_none_is_refused_in_words(stand: Stand, message: str) -> None:
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_text(message)
        assert socket.receive_json()["error"]
        with pytest.raises(WebSocketDisconnect):
            socket.receive_json()


@pytest.mark.parametrize("block", [b"\0" * (1 << 18), b"\0\0\0"])
def test_a_block_too_large_or_cut_off_ends_it(stand: Stand, block: bytes) -> None:
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_json(BEGIN)
        socket.receive_json()
        socket.send_bytes(block)
        assert "16 bit" in socket.receive_json()["error"]


def test_a_page_that_goes_away_ends_quietly(stand: Stand) -> None:
    with stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket:
        socket.send_json(BEGIN)
        socket.receive_json()
    assert stand.client.get("/stand").status_code == 200
