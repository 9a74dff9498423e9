"""A track: sounds laid at their samples, read block by block, so that hours need no memory.

Conventions: a track has frames of one or two channels, left first; blocks have shape (n, channels), float32,
full scale 1. A time falls on the sample nearest to it: half a sample off at most, and never adding up.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Ear = Literal["both", "left", "right"]
Floats = NDArray[np.float64]
Block = NDArray[np.float32]

BLOCK_FRAMES = 1 << 16
SIDES = {"both": (1.0, 1.0), "left": (1.0, 0.0), "right": (0.0, 1.0)}


@dataclass(frozen=True, slots=True, eq=False)
class Voice:
    """One sound, shape (n, channels); its own start lies at sample ``start``."""

    sound: Block
    start: int = 0


@dataclass(frozen=True, slots=True)
class Event:
    """A sound, by its number, that starts at a sample."""

    sample: int
    voice: int


@dataclass(frozen=True, eq=False)
class Track:
    """Events in order of time, and the voices that sound in them."""

    voices: tuple[Voice, ...]
    events: tuple[Event, ...]
    frames: int
    rate_hz: int
    channels: int = 1
    gain: float = 1.0

    @cached_property
    def _firsts(self) -> list[int]:
        return [event.sample for event in self.events]

    @cached_property
    def _reach(self) -> tuple[int, int]:
        """How far a sound goes on after its start, and how far it comes ahead of it, at most."""
        after = max((len(v.sound) - v.start for v in self.voices), default=0)
        return after, max((v.start for v in self.voices), default=0)

    @property
    def seconds(self) -> float:
        """Seconds of the track."""
        return self.frames / self.rate_hz

    def read(self, start: int, stop: int) -> Block:
        """Return the frames from start up to stop, shape (n, channels)."""
        stop = min(stop, self.frames)
        out = np.zeros((max(stop - start, 0), self.channels), np.float32)
        after, ahead = self._reach
        low = bisect_left(self._firsts, start - after)
        high = bisect_left(self._firsts, stop + ahead)
        for event in self.events[low:high]:
            voice = self.voices[event.voice]
            first = event.sample - voice.start
            a, b = max(first, start), min(first + len(voice.sound), stop)
            if a < b:
                out[a - start : b - start] += voice.sound[a - first : b - first]
        if self.gain != 1.0:
            out *= np.float32(self.gain)
        return out

    def blocks(self, size: int = BLOCK_FRAMES) -> Iterator[Block]:
        """Give all of it, block by block."""
        for start in range(0, self.frames, size):
            yield self.read(start, start + size)


def nearest_sample(time_s: Fraction, rate_hz: int) -> int:
    """Return the sample nearest to a time.

    >>> nearest_sample(Fraction(60, 97), 48000)
    29691
    """
    return round(time_s * rate_hz)


def voiced(sound: Floats, *, start: int = 0, sides: tuple[float, ...] = (1.0,)) -> Voice:
    """Make a voice of one sound, with a gain for each channel."""
    return Voice((sound[:, None] * np.array(sides)).astype(np.float32), start)


def in_order(events: Iterable[Event]) -> tuple[Event, ...]:
    """Put events in order of time."""
    return tuple(sorted(events, key=lambda event: event.sample))
