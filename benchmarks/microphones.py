"""Two microphones on the same real drum must agree on when a blow fell, but for a constant.

Kits recorded with two spaced microphones hold each real blow twice, as the channels of one file. All blows of
a kit are laid one after another into a take for each microphone, and each take is heard blind. What is told
is the standard deviation of a blow's time difference, each drum's own mean taken off (its way to the
microphones differs), and over how many blows it could be taken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.detectors import Detector
from benchmarks.drums import Drum
from evenhand.hearing.listen import listen

Floats = NDArray[np.float64]
Samples = NDArray[np.float32]

MOST_ALIKE = 0.9  # correlation of the channels: above, it is one microphone
LEAST_BLOWS = 8
APART_S, LONGEST_S = 0.9, 0.8
NOISE_DB = -75.0  # under the peak of each blow's file: silence between would be no room's
NEAR_S = 0.030
WANDER = 1009  # samples: no blow begins where another's frames do


@dataclass(frozen=True)
class Pair:
    """One kit by two microphones: ``channels`` of shape (2, n); blow i begins near ``begins_s[i]``."""

    kit: str
    channels: NDArray[np.float32]
    rate_hz: int
    begins_s: Floats
    drum: NDArray[np.int64]


def pairs(drums: Sequence[Drum]) -> list[Pair]:
    """Lay out the kits that have enough blows by two microphones."""
    kits: dict[str, list[tuple[int, Path]]] = {}
    for i, drum in enumerate(drums):
        kits.setdefault(drum.name.split(": ")[0], []).extend((i, file) for file in drum.files)
    return [pair for kit, blows in kits.items() if (pair := _lay_out(kit, blows)) is not None]


def _lay_out(kit: str, blows: Sequence[tuple[int, Path]]) -> Pair | None:
    """Lay one kit's blows one after another, where they are by two microphones."""
    import soundfile

    rng = np.random.default_rng(0)
    rows, begins, whose, rate_hz, n = [], [], [], 0, 0
    for i, file in blows:
        frames, rate_hz = soundfile.read(file, dtype="float32", always_2d=True)
        if frames.shape[1] == 2 and np.corrcoef(frames.T)[0, 1] < MOST_ALIKE:
            kept = frames[: round(LONGEST_S * rate_hz)].T
            silence = round(APART_S * rate_hz) - kept.shape[1] + int(rng.integers(WANDER))
            row = np.concatenate([np.zeros((2, silence)), kept * np.linspace(1, 0, kept.shape[1])], axis=1)
            floor = np.abs(kept).max() * 10 ** (NOISE_DB / 20)
            rows.append(row + floor * rng.standard_normal(row.shape))
            begins.append((n + silence) / rate_hz)
            whose.append(i)
            n += row.shape[1]
    if len(rows) < LEAST_BLOWS:
        return None
    channels = np.concatenate(rows, axis=1).astype(np.float32)
    return Pair(kit, channels, rate_hz, np.array(begins), np.array(whose))


def evenhand_blind(samples: Samples, rate_hz: int) -> Floats:
    """Hear without an exercise."""
    return np.array([hit.time_s for hit in listen(samples, rate_hz).hits])


def spreads_ms(pair: Pair, detectors: Mapping[str, Detector]) -> dict[str, tuple[float, int]]:
    """Return each method's spread of the difference (ms), and over how many blows."""
    return {name: _spread_ms(pair, detect) for name, detect in detectors.items()}


def _spread_ms(pair: Pair, detect: Detector) -> tuple[float, int]:
    times = [_nearest(pair, detect(channel, pair.rate_hz)) for channel in pair.channels]
    apart = 1000 * (times[1] - times[0])
    kept, drums = np.isfinite(apart), 0
    for drum in np.unique(pair.drum):
        own = kept & (pair.drum == drum)
        if own.any():
            apart[own] -= np.mean(apart[own])
            drums += 1
    free = int(kept.sum()) - drums
    return float(np.sqrt(np.sum(apart[kept] ** 2) / free)) if free > 0 else float("nan"), int(kept.sum())


def _nearest(pair: Pair, heard_s: Floats) -> Floats:
    """Return the first time heard around each blow's beginning; NaN where none was."""
    out = np.full(len(pair.begins_s), np.nan)
    for i, begin in enumerate(pair.begins_s.tolist()):
        around = heard_s[(heard_s > begin - NEAR_S) & (heard_s < begin + NEAR_S)]
        if len(around):
            out[i] = around[0]
    return out


def print_agreement(drums: Sequence[Drum], detectors: Mapping[str, Detector]) -> None:
    """Print the spreads of each kit that has two microphones."""
    every = {"evenhand": evenhand_blind, **detectors}
    for pair in pairs(drums):
        print(f"\nTwo microphones, {pair.kit}: {len(pair.begins_s)} real blows")
        for name, (spread, n) in spreads_ms(pair, every).items():
            print(f"{name:<20} spread of a blow's time difference {spread:.3f} ms, over {n} blows")
