"""What the acts need from the world outside: values that come in, and protocols for who brings them.

Conventions: samples are mono float32, full scale 1, in order of time; a sample's
time is its index over ``rate_hz``. Levels from MIDI are 40 log10(velocity / 127) dB.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.take import InputFacts

SNARE_NOTES = (37, 38, 40)  # General MIDI: side stick, acoustic snare, electric snare

Progress = Callable[[float], None]  # the share done, 0 to 1


class Samples(Protocol):
    """Samples that may lie in memory or on disk: an array is one, and so is a long take's file.

    Slices come back as arrays of shape (n,), float32.
    """

    def __len__(self) -> int: ...

    def __getitem__(self, key: slice, /) -> NDArray[np.float32]: ...


@dataclass(frozen=True, slots=True, eq=False)
class SoundTake:
    """A take as sound. Short takes hold an array; long ones read slices from disk."""

    samples: Samples
    rate_hz: int
    facts: InputFacts

    @property
    def duration_s(self) -> float:
        """Seconds of sound."""
        return len(self.samples) / self.rate_hz

    def blocks(self, size: int) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Walk the take: the index of each block's first sample, and the block, shape (<= size,)."""
        for start in range(0, len(self.samples), size):
            yield start, self.samples[start : start + size]


@dataclass(frozen=True, slots=True, eq=False)
class MidiTake:
    """A take from an electronic pad. All arrays have shape (n_hits,); times are rising seconds."""

    times_s: NDArray[np.float64]
    levels_db: NDArray[np.float64]
    notes: NDArray[np.int64]
    facts: InputFacts
    duration_s: float


class OpensTakes(Protocol):
    """Opens a recording or a Standard MIDI File, or refuses it by name."""

    def __call__(
        self,
        path: Path,
        *,
        midi_notes: Sequence[int] = SNARE_NOTES,
        progress: Progress | None = None,
    ) -> SoundTake | MidiTake:
        """Open one take; ``progress`` is told the share done."""
        ...
