"""How much sound of a live take may wait to be heard.

Conventions: ``samples`` shape (n,), float32, mono. Live sound comes as fast as it is played; what comes much
faster, or waits long because this computer is busy, ends the live hearing. The recording goes on by itself.
"""

from __future__ import annotations

import asyncio
import time
from collections import deque

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import WrongUse
from evenhand.web.texts import say

MOST_WAITING_S = 10.0  # of sound; the page itself gives up earlier
MOST_EARLY_S = 20.0  # how far the sound that came may be ahead of the time since the first
AT_ONCE_S = 0.5  # heard in one go

Samples = NDArray[np.float32]


class Waiting:
    """Sound that waits to be heard, bounded."""

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._blocks: deque[Samples] = deque()
        self._waiting = self._came = 0  # samples
        self._since_s: float | None = None
        self._ended, self._whole = False, False
        self._news = asyncio.Event()

    def put(self, block: Samples) -> None:
        """Let a block wait.

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
            raise WrongUse(say("stand.live_behind"))
        if len(block):
            self._blocks.append(block)
            self._news.set()

    def end(self, *, whole: bool) -> None:
        """Say that no more comes; what still waits is heard only where the take is whole."""
        self._ended, self._whole = True, whole
        self._news.set()

    async def take(self) -> Samples | None:
        """Return what waits, a little at a time; None at the end."""
        while not self._blocks and not self._ended:
            self._news.clear()
            await self._news.wait()
        if self._ended and not (self._whole and self._blocks):
            return None
        taken: list[Samples] = []
        while self._blocks and sum(map(len, taken)) < AT_ONCE_S * self._rate_hz:
            taken.append(self._blocks.popleft())
            self._waiting -= len(taken[-1])
        return np.concatenate(taken)
