"""A live take: blocks of samples come in over a socket, each blow that is heard goes out.

The first message is JSON: ``{"rate", "exercise", "tempo", "first_note_s", "clicks"}``. Then come blocks of
16 bit samples, mono, little-endian; ``{"end": true}`` ends. Out go ``{"ready": true}``, ``{"hits": [...]}``
and ``{"ended": true}``, or ``{"error": ...}`` and the socket's end.

Conventions: hits as ``listening.live.LiveHit``; close codes of RFC 6455 (1008 not allowed, 1009 too large).
"""

from __future__ import annotations

import asyncio
import json
from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray
from starlette.concurrency import run_in_threadpool
from starlette.websockets import WebSocket, WebSocketDisconnect

from evenhand.application.studio_stand_take import LONGEST_LIVE_S, LiveAsked, read_live
from evenhand.errors import EvenhandError, WrongUse
from evenhand.listening.live import LiveEar, LiveHit
from evenhand.web.ears import Ears
from evenhand.web.guard import origin_holds, session_of
from evenhand.web.live_waiting import Waiting
from evenhand.web.texts import say

NOT_ALLOWED, TOO_LARGE = 1008, 1009
FIRST_WITHIN_S, SILENT_FOR_S = 10.0, 30.0
LARGEST_MESSAGE = 1 << 17  # bytes: over a second of sound
FULL_SCALE = 32768.0
MOST_SAMPLES = 15 * 60 * 48_000  # of one live take: 173 MB are kept of it
LOOKS_EVERY_S = 2.0

Samples = NDArray[np.float32]


async def live(socket: WebSocket) -> None:
    """Hear a student's playing while it goes on."""
    student_id = await run_in_threadpool(_may, socket)
    if student_id is None:
        await socket.close(NOT_ALLOWED)
        return
    await socket.accept()
    ears: Ears = socket.app.state.ears
    with ears.room_for(student_id) as room:
        try:
            if not room:
                raise WrongUse(say("stand.live_full"))
            async with asyncio.timeout(FIRST_WITHIN_S):
                asked = read_live(json.loads(await socket.receive_text()))
            await _hear(socket, await run_in_threadpool(_ear, asked), asked.rate_hz)
        except (EvenhandError, ValueError, KeyError, RecursionError, TimeoutError) as error:
            await _refuse(socket, str(error) or "nothing came for too long")
        except WebSocketDisconnect:
            return


def _may(socket: WebSocket) -> str | None:
    """Return whose socket this is: a student of ours, from our own page, who may record; else None."""
    session = session_of(socket)
    if not origin_holds(socket) or session is None or session.student_id is None:
        return None
    if not socket.app.state.limiter.allows("live", session.student_id):
        return None
    student = socket.app.state.studio.student(session.student_id)
    return student.id if student is not None and student.may_record else None


def _still_in(socket: WebSocket) -> bool:
    """Tell whether the session still holds: a link taken back ends it, and so does its erasing."""
    return session_of(socket) is not None


def _ear(asked: LiveAsked) -> LiveEar:
    return LiveEar(
        asked.rate_hz,
        exercise=asked.asked.exercise,
        tempo=asked.asked.tempo,
        first_note_s=asked.first_note_s,
        click_s=asked.clicks_s,
        longest_s=min(LONGEST_LIVE_S, MOST_SAMPLES / asked.rate_hz),
    )


async def _hear(socket: WebSocket, ear: LiveEar, rate_hz: int) -> None:
    """Feed the ear while blocks come in, a little at a time; who is gone is not heard to the end."""
    await socket.send_json({"ready": True})
    waiting = Waiting(rate_hz)
    coming = asyncio.create_task(_take_in(socket, waiting))
    looking = asyncio.create_task(_look(socket, waiting))
    try:
        while (sound := await waiting.take()) is not None:
            await _tell(socket, await run_in_threadpool(ear.feed, sound))
        for task in (looking, coming):
            if task.done():
                task.result()  # raises what ended it
        await socket.send_json({"ended": True})
        await socket.close()
    finally:
        coming.cancel()
        looking.cancel()


async def _take_in(socket: WebSocket, waiting: Waiting) -> None:
    """Let blocks wait until the end, or until none comes for long."""
    whole = False
    try:
        while (block := await _next(socket)) is not None:
            waiting.put(block)
        whole = True
    finally:
        waiting.end(whole=whole)


async def _look(socket: WebSocket, waiting: Waiting) -> None:
    """Look now and then whether the student is still in."""
    while await run_in_threadpool(_still_in, socket):
        await asyncio.sleep(LOOKS_EVERY_S)
    waiting.end(whole=False)
    raise WrongUse(say("stand.live_out"))


async def _next(socket: WebSocket) -> Samples | None:
    """Return the next block; None at the end."""
    async with asyncio.timeout(SILENT_FOR_S):
        message = await socket.receive()
    if message["type"] == "websocket.disconnect":
        raise WebSocketDisconnect(message.get("code", 1000))
    data = message.get("bytes")
    if data is None:
        return None
    if len(data) > LARGEST_MESSAGE or len(data) % 2:
        raise ValueError(
            f"a block of {len(data)} bytes: must be 16 bit samples, at most {LARGEST_MESSAGE} bytes"
        )
    return np.frombuffer(data, dtype="<i2").astype(np.float32) / FULL_SCALE


async def _tell(socket: WebSocket, hits: list[LiveHit]) -> None:
    if hits:
        await socket.send_json({"hits": [_plain(hit) for hit in hits]})


def _plain(hit: LiveHit) -> dict[str, Any]:
    """Return a hit as JSON holds it."""
    digits = {"time_s": 5, "level_db": 2, "asynchrony_ms": 2}
    return {
        name: round(float(value), digits[name]) if name in digits and value is not None else value
        for name, value in asdict(hit).items()
    }


async def _refuse(socket: WebSocket, words: str) -> None:
    try:
        await socket.send_json({"error": words})
        await socket.close(NOT_ALLOWED)
    except (RuntimeError, WebSocketDisconnect):  # it is gone already
        return
