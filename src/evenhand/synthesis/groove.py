"""A quiet groove under the pad: a low drum, a brushed tick and a soft tone, laid to the bar, made here.

It leaves the pad its own place: the low drum lies under 150 Hz, the tone under 700 Hz, the tick over 7 kHz;
the stick's attack lies between. Levels are the groove's peaks under a stroke from full height.

Conventions: places are written time from a bar's beginning, whole notes; sounds have shape (n,), peak 1, and
begin with their first sample.

The beats of a bar are felt in twos and threes: 4 as 2+2, 5 as 3+2, 6 as 3+3, 7 as 2+2+3 (common practice).
The low drum marks where a group begins, the tone answers on its last beat.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Literal

import numpy as np

from evenhand.music.bars import groups_of
from evenhand.music.click_pattern import EVEN, BarBeats
from evenhand.music.exercise import Sound
from evenhand.synthesis.click import Floats

GroovePart = Literal["low", "tick", "tone"]
PARTS: tuple[GroovePart, ...] = ("low", "tick", "tone")
UNDER_FULL_DB: Mapping[GroovePart, float] = {"low": -16.0, "tick": -33.0, "tone": -24.0}
SOFTER_DB = 5.0  # a tick between two beats
QUICKEST_TICKS_S = 0.18  # apart; faster than that the halves are left out

LOW_S, LOW_HZ, LOW_FALL_HZ, LOW_DECAY_S = 0.35, 52.0, 46.0, 0.085
TONE_S, TONE_HZ, TONE_DECAY_S, TONE_RISE_S = 0.4, 330.0, 0.11, 0.012
TICK_S, TICK_HZ, TICK_DECAY_S, TICK_RISE_S = 0.09, (7500.0, 13000.0), 0.020, 0.004


def groove_places(
    beats: BarBeats, whole_s: float, swing: Fraction = EVEN
) -> Iterator[tuple[Fraction, GroovePart, float]]:
    """Give what a bar holds: where, what, and how many dB under its usual level.

    Parameters
    ----------
    beats
        Where the bar's beats are; ``whole_s`` is a whole note's length, seconds.
    swing
        Where the half of a beat falls; a dotted beat is parted in three, evenly.
    """
    at = 0
    for size in groups_of(len(beats.places)):
        yield beats.places[at], "low", 0.0
        if size > 1:
            yield beats.places[at + size - 1], "tone", 0.0
        at += size
    for start, end in beats.spans:
        beat = end - start
        parts = (Fraction(1, 3), Fraction(2, 3)) if beat.numerator == 3 else (swing,)
        yield start, "tick", 0.0
        if float(beat) * whole_s >= QUICKEST_TICKS_S * (len(parts) + 1) - 1e-9:
            yield from ((start + part * beat, "tick", SOFTER_DB) for part in parts)


def groove_sound(part: GroovePart, rate_hz: int) -> Floats:
    """Return one sound of the groove.

    Returns
    -------
    Peak 1, shape (n,).
    """
    made = {"low": _low, "tick": _tick, "tone": _tone}[part](rate_hz)
    fade = round(0.2 * len(made))
    made[-fade:] *= np.cos(np.linspace(0, np.pi / 2, fade)) ** 2
    return np.asarray(made / np.max(np.abs(made)))


def _low(rate_hz: int) -> Floats:
    """Return a drum whose pitch falls a little; it rises softly, so that it has no click of its own."""
    t = np.arange(round(LOW_S * rate_hz)) / rate_hz
    phase = 2 * np.pi * (LOW_HZ * t + LOW_FALL_HZ * 0.03 * (1 - np.exp(-t / 0.03)))
    return np.asarray(np.sin(phase) * _risen(t, 0.006) * np.exp(-t / LOW_DECAY_S))


def _tone(rate_hz: int) -> Floats:
    """Return a soft tone with its octave."""
    t = np.arange(round(TONE_S * rate_hz)) / rate_hz
    tones = np.sin(2 * np.pi * TONE_HZ * t) + 0.1 * np.sin(4 * np.pi * TONE_HZ * t)
    return np.asarray(tones * _risen(t, TONE_RISE_S) * np.exp(-t / TONE_DECAY_S))


def _tick(rate_hz: int) -> Floats:
    """Return a brush's hiss: noise of a band above the stick's."""
    n = round(TICK_S * rate_hz)
    spectrum = np.fft.rfft(np.random.default_rng(3).standard_normal(n))
    hz = np.fft.rfftfreq(n, 1 / rate_hz)
    low, high = TICK_HZ
    t = np.arange(n) / rate_hz
    hiss = np.fft.irfft(spectrum / (1 + (low / np.maximum(hz, 1)) ** 12) / (1 + (hz / high) ** 8), n)
    return np.asarray(hiss * _risen(t, TICK_RISE_S) * np.exp(-t / TICK_DECAY_S))


def _risen(t: Floats, rise_s: float) -> Floats:
    return np.asarray(np.sin(np.pi / 2 * np.minimum(t / rise_s, 1)) ** 2)


# What is struck beside the drum: partials in Hz and how fast they die away, from memory of their sound.
WOODEN: Mapping[str, tuple[tuple[float, ...], float]] = {
    "cross": ((780.0, 1460.0, 2350.0), 0.016),
    "rim": ((1650.0, 2900.0, 4700.0), 0.024),
}
WOODEN_S, WOODEN_RISE_S, DETUNED = 0.18, 0.0006, 0.006


def other_sounds(sound: Sound, rate_hz: int, variants: int) -> tuple[Floats, ...]:
    """Return sounds of the rim, a cross-stick or a foot's drum that differ a little in pitch.

    Returns
    -------
    As many arrays of shape (n,), peak 1, beginning with their first sample.
    """
    rng = np.random.default_rng(len(sound))
    return tuple(_other(sound, rate_hz, 1 + DETUNED * float(rng.standard_normal())) for _ in range(variants))


def _other(sound: Sound, rate_hz: int, pitch: float) -> Floats:
    if sound == "foot":
        return groove_sound("low", rate_hz)
    partials, decay_s = WOODEN[sound]
    t = np.arange(round(WOODEN_S * rate_hz)) / rate_hz
    wave = sum(np.sin(2 * np.pi * hz * pitch * t) / (k + 1) for k, hz in enumerate(partials))
    made = wave * _risen(t, WOODEN_RISE_S) * np.exp(-t / decay_s)
    return np.asarray(made / np.max(np.abs(made)))
