"""What is known of a take's pad, microphone and gain: its file, its background, the colour of its hits."""

from __future__ import annotations

from typing import cast

import numpy as np
from numpy.typing import NDArray

from evenhand.application.loudness import loudness_of
from evenhand.application.ports import MidiTake, SoundTake
from evenhand.domain.height_scale import SetUp
from evenhand.listening.bands import usable_bands
from evenhand.listening.cutting import rows

Floats = NDArray[np.float64]

COLOUR_S = 0.016  # of each hit
MOST_HITS = 400  # of which the colour is read
SILENCE = 1e-14


def set_up_of(take: SoundTake | MidiTake, times_s: Floats, levels_db: Floats) -> SetUp:
    """Return the set-up that a take shows, from its hits."""
    sound = isinstance(take, SoundTake)
    return SetUp(
        kind="sound" if sound else "midi",
        format=take.facts.format,
        rate_hz=take.facts.rate_hz,
        channels=take.facts.channels,
        background_db=loudness_of(take).background_db if isinstance(take, SoundTake) else None,
        quietest_db=float(levels_db.min()),
        loudest_db=float(levels_db.max()),
        colours=(colour_of(take, times_s),) if isinstance(take, SoundTake) else (),
    )


def colour_of(take: SoundTake, times_s: Floats) -> tuple[float, ...]:
    """Return how the sound of hits lies over the ear's bands, dB about their mean; the median hit's."""
    some = times_s[:: max(1, len(times_s) // MOST_HITS)]
    length = round(COLOUR_S * take.rate_hz)
    first = np.round(some * take.rate_hz).astype(np.intp)
    cut = rows(cast("NDArray[np.float32]", take.samples), first, length).astype(np.float64)
    power = np.abs(np.fft.rfft(cut * np.hanning(2 * length)[length:], 4 * length, axis=1)) ** 2
    hz = np.fft.rfftfreq(4 * length, 1 / take.rate_hz)
    bands = [(hz >= low) & (hz < high) for low, high in usable_bands(take.rate_hz)]
    level = 10 * np.log10(np.stack([power[:, band].mean(axis=1) for band in bands], axis=1) + SILENCE)
    colour = np.median(level - level.mean(axis=1, keepdims=True), axis=0)
    return tuple(colour.tolist())
