"""What really happened in an invented take.

Conventions: times in seconds from the take's first sample; levels in dB re full scale;
repetitions from 1, positions from 0 (notes and rests; a grace note has its main note's).
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.exercise import Hand
from evenhand.domain.heard import ExtraHit, MissedNote


@dataclass(frozen=True, slots=True)
class TrueHit:
    """One blow that was played as written.

    ``time_s`` is where its own dry sound crosses 1 % of its peak above 200 Hz,
    ``level_db`` the RMS of its first 10 ms above 200 Hz at the recording's gain.
    """

    time_s: float
    level_db: float
    hand: Hand
    repetition: int
    position: int
    grace: bool = False


@dataclass(frozen=True, slots=True)
class Truth:
    """Everything there is to hear in a take, in order of time.

    ``count_in_s`` are the sticks' blows before the first note, ``bounces_s`` those of
    buzz strokes after their first. ``tempo_curve`` holds (time_s, bpm) of the player's
    own clock at every written note and rest; ``stretches`` is how many unbroken
    stretches of playing there are.
    """

    hits: tuple[TrueHit, ...]
    missed: tuple[MissedNote, ...] = ()
    extras: tuple[ExtraHit, ...] = ()
    clicks_s: tuple[float, ...] = ()
    count_in_s: tuple[float, ...] = ()
    bounces_s: tuple[float, ...] = ()
    tempo_curve: tuple[tuple[float, float], ...] = ()
    stretches: int = 1

    @property
    def tempo_bpm(self) -> float:
        """Mean tempo of the player's clock."""
        return float(np.mean([bpm for _, bpm in self.tempo_curve]))

    @property
    def drift_bpm_per_min(self) -> float:
        """Slope of the player's clock over the take; 0 where there is one tick only."""
        at_s, bpm = (np.array(column) for column in zip(*self.tempo_curve, strict=True))
        apart = (at_s - np.mean(at_s)) / 60
        spread = float(np.sum(apart**2))
        return float(np.sum(apart * bpm)) / spread if spread > 0 else 0.0

    def to_dict(self) -> dict[str, Any]:
        """Return the truth under the names that a heard take's JSON has."""
        return {
            "hits": [asdict(hit) for hit in self.hits],
            "missed": [asdict(note) for note in self.missed],
            "extra": [asdict(hit) for hit in self.extras],
            "clicks": [{"time_s": time_s} for time_s in self.clicks_s],
            "count_in": [{"time_s": time_s} for time_s in self.count_in_s],
            "bounces": [{"time_s": time_s} for time_s in self.bounces_s],
            "tempo_bpm": self.tempo_bpm,
            "drift_bpm_per_min": self.drift_bpm_per_min,
            "tempo_curve": [{"time_s": time_s, "bpm": bpm} for time_s, bpm in self.tempo_curve],
            "stretches": self.stretches,
        }

    def to_json(self) -> str:
        """Return the truth as JSON text, finite numbers only."""
        return json.dumps(self.to_dict(), indent=1, allow_nan=False)


@dataclass(frozen=True)
class SimulatedTake:
    """An invented take: ``samples`` float32 of shape (n,), one channel, and its truth."""

    samples: NDArray[np.float32]
    rate_hz: int
    truth: Truth
