"""Fakes of the application's ports, for tests here and for those who build on Evenhand."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import UnreadableRecording
from evenhand.take import SNARE_NOTES, InputFacts, MidiTake, Progress, SoundTake


@dataclass
class FakeTakes:
    """Opens takes out of memory, by file name; a name that holds an error raises it.

    Opening one of ``fatal`` ends the process at once, as running out of memory does.
    ``opened`` lists the names asked for, in order.
    """

    takes: Mapping[str, SoundTake | MidiTake | Exception]
    fatal: frozenset[str] = frozenset()
    opened: list[str] = field(default_factory=list)

    def __call__(
        self,
        path: Path,
        *,
        midi_notes: Sequence[int] = SNARE_NOTES,  # noqa: ARG002 - the port's signature
        progress: Progress | None = None,
    ) -> SoundTake | MidiTake:
        """Give the take of this name."""
        self.opened.append(path.name)
        if path.name in self.fatal:
            os._exit(1)
        take = self.takes.get(path.name)
        if take is None:
            raise UnreadableRecording(name=path.name, got="there is no such take", do="Name another.")
        if isinstance(take, Exception):
            raise take
        if progress is not None:
            progress(1.0)
        return take


def sound_take(samples: NDArray[np.float32], rate_hz: int = 48_000) -> SoundTake:
    """Wrap samples of shape (n,) as a mono take."""
    facts = InputFacts("wav/pcm_s16le", len(samples) / rate_hz, rate_hz, 1, "1 of 1")
    return SoundTake(samples, rate_hz, facts)


def midi_take(times_s: Sequence[float], levels_db: Sequence[float]) -> MidiTake:
    """Wrap hits' times (seconds, rising) and levels (dB) as a take from a pad."""
    times = np.asarray(times_s, dtype=np.float64)
    seconds = float(times[-1]) if len(times) else 0.0
    return MidiTake(
        times_s=times,
        levels_db=np.asarray(levels_db, dtype=np.float64),
        notes=np.full(len(times), 38, dtype=np.int64),
        facts=InputFacts("midi", seconds),
        duration_s=seconds,
    )
