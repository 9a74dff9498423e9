"""A live take: blocks of samples come in over a socket, each blow that is heard goes out.

The first message is JSON: ``{"rate", "exercise", "tempo", "first_note_s", "clicks"}``. Then come blocks of
16 bit samples, mono, little-endian; ``{"end": true}`` ends. Out go ``{"ready": true}``, ``{"hits": [...]}``,
``{"late": true}`` where marks begin to come late and ``{"late": false}`` where they do not any more, and
``{"ended": true}``; or ``{"error": ...}`` and the socket's end.

Conventions: hits as ``hearing.live.ear.LiveHit``; close codes of RFC 6455 (1008 not allowed, 1009 too large).

How much sound of a live take may wait to be heard.

Conventions: ``samples`` shape (n,), float32, mono. Live sound comes as fast as it is played; what comes much
faster, or waits long because this computer is busy, ends the live hearing. The recording goes on by itself.

How many are heard live at once: so many in all, so many of one student.
"""

from __future__ import annotations

import asyncio
import json
import os
import time
from collections import deque
from contextlib import closing

import numpy as np
from numpy.typing import NDArray
from starlette.concurrency import run_in_threadpool
from starlette.websockets import WebSocket, WebSocketDisconnect

from evenhand.errors import EvenhandError, WrongUse
from evenhand.studio.live.hearing import LiveTake
from evenhand.studio.stand.sent import read_live
from evenhand.web.guard import origin_holds, session_of
from evenhand.web.requests import Occupancy, studio_of

MOST_WAITING_S = 10.0  # of sound; the page itself gives up earlier
MOST_EARLY_S = 20.0  # how far the sound that came may be ahead of the time since the first
AT_ONCE_S = 0.5  # heard in one go
LATE_S, IN_TIME_S = 0.25, 0.1  # sound that waited longer is late, until none waits longer than that


class Waiting:
    """Sound that waits to be heard, bounded."""

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._blocks: deque[tuple[float, Samples]] = deque()
        self._taken_s = 0.0  # when the oldest of what was taken last had come
        self._waiting = self._came = 0  # samples
        self._since_s: float | None = None
        self._ended, self._whole = False, False
        self._news = asyncio.Event()

    def put(self, block: Samples) -> None:
        """Let a block of samples wait, shape (n,).

        Raises
        ------
        WrongUse
            Too much waits already, or it came faster than anybody plays.
        """
        now = time.monotonic()
        self._since_s = now if self._since_s is None else self._since_s
        self._came += len(block)
        self._waiting += len(block)
        early = self._came > (now - self._since_s + MOST_EARLY_S) * self._rate_hz
        if early or self._waiting > MOST_WAITING_S * self._rate_hz:
            raise WrongUse("This came faster than it can be heard live. Your recording goes on.")
        if len(block):
            self._blocks.append((now, block))
            self._news.set()

    def end(self, *, whole: bool) -> None:
        """Say that no more comes; what still waits is heard only where the take is whole."""
        self._ended, self._whole = True, whole
        self._news.set()

    async def take(self) -> Samples | None:
        """Return what waits, a little at a time, shape (n,); None at the end."""
        while not self._blocks and not self._ended:
            self._news.clear()
            await self._news.wait()
        if self._ended and not (self._whole and self._blocks):
            return None
        taken: list[Samples] = []
        self._taken_s = self._blocks[0][0]
        while self._blocks and sum(map(len, taken)) < AT_ONCE_S * self._rate_hz:
            taken.append(self._blocks.popleft()[1])
            self._waiting -= len(taken[-1])
        return np.concatenate(taken)

    @property
    def late_s(self) -> float:
        """How long ago the oldest of what was taken last had come."""
        return time.monotonic() - self._taken_s


MOST_EARS, MOST_EARS_EACH = 8 * max(1, min(4, os.cpu_count() or 1)), 2
NOT_ALLOWED = 1008
FIRST_WITHIN_S, SILENT_FOR_S = 10.0, 30.0
LARGEST_MESSAGE = 1 << 17  # bytes: over a second of sound
FULL_SCALE = 32768.0
LOOKS_EVERY_S = 2.0

Samples = NDArray[np.float32]


async def live(socket: WebSocket) -> None:
    """Hear a student's playing while it goes on."""
    student_id = await run_in_threadpool(_may, socket)
    if student_id is None:
        await socket.close(NOT_ALLOWED)
        return
    await socket.accept()
    ears: Occupancy = socket.app.state.ears
    with ears.room_for(student_id) as room:
        try:
            if not room:
                raise WrongUse("Too many play at this moment to hear you live. Your recording goes on.")
            async with asyncio.timeout(FIRST_WITHIN_S):
                message = await socket.receive_text()
            asked = read_live(json.loads(message))
            with closing(await socket.app.state.hears_live.open(message)) as take:
                await _hear(socket, take, asked.rate_hz)
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
    student = studio_of(socket).students.find(session.student_id)
    return student.id if student is not None and student.may_record else None


def _still_in(socket: WebSocket) -> bool:
    """Tell whether the session still holds: a link taken back ends it, and so does its erasing."""
    return session_of(socket) is not None


async def _hear(socket: WebSocket, take: LiveTake, rate_hz: int) -> None:
    """Feed the ear while blocks come in, a little at a time; who is gone is not heard to the end."""
    await socket.send_json({"ready": True})
    waiting = Waiting(rate_hz)
    coming = asyncio.create_task(_take_in(socket, waiting))
    looking = asyncio.create_task(_look(socket, waiting))
    late = False
    try:
        while (sound := await waiting.take()) is not None:
            if hits := await take.feed(sound):
                await socket.send_json({"hits": hits})
            if late != (waiting.late_s > (IN_TIME_S if late else LATE_S)):
                late = not late
                await socket.send_json({"late": late})
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
    while True:
        await asyncio.sleep(LOOKS_EVERY_S)
        if not await run_in_threadpool(_still_in, socket):
            break
    waiting.end(whole=False)
    raise WrongUse("You are logged out.")


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


async def _refuse(socket: WebSocket, words: str) -> None:
    try:
        await socket.send_json({"error": words})
        await socket.close(NOT_ALLOWED)
    except (RuntimeError, WebSocketDisconnect):  # it is gone already
        return
