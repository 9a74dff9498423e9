"""What a day's track has besides clicks and strokes: a chime, soft ticks, and pieces laid one after another.

Conventions: sounds have shape (n,), float64, and begin with their first sample; levels are beside a click's
peak of 1.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from evenhand.synthesis.click import Floats, Track, TrackEvent, Voice, voiced

CHIME_HZ, CHIME_S, CHIME_DECAY_S, CHIME_RISE_S = (523.25, 783.99), 1.2, 0.28, 0.01
CHIME_LEVEL, SECOND_AFTER_S = 0.12, 0.22
TICK_HZ, TICK_S, TICK_DECAY_S, TICK_RISE_S = 660.0, 0.06, 0.012, 0.002
TICK_LEVEL = 0.2


def chime(rate_hz: int) -> Floats:
    """Return two soft tones, one after the other, a fifth up: something new begins.

    Returns
    -------
    Shape (n,).
    """
    size = round(CHIME_S * rate_hz)
    out = np.zeros(size)
    for k, hz in enumerate(CHIME_HZ):
        first = round(k * SECOND_AFTER_S * rate_hz)
        out[first:] += _tone(hz, size - first, rate_hz, CHIME_RISE_S, CHIME_DECAY_S)
    return np.asarray(CHIME_LEVEL * out)


def soft_tick(rate_hz: int) -> Floats:
    """Return a tick of a rest's last seconds: low and soft, so that nobody takes it for a click.

    Returns
    -------
    Shape (n,).
    """
    return TICK_LEVEL * _tone(TICK_HZ, round(TICK_S * rate_hz), rate_hz, TICK_RISE_S, TICK_DECAY_S)


def _tone(hz: float, size: int, rate_hz: int, rise_s: float, decay_s: float) -> Floats:
    t = np.arange(size) / rate_hz
    rise = np.sin(np.pi / 2 * np.minimum(t / rise_s, 1)) ** 2
    end = np.cos(np.pi / 2 * np.clip((t / t[-1] - 0.8) / 0.2, 0, 1)) ** 2
    return np.asarray(np.sin(2 * np.pi * hz * t) * rise * np.exp(-t / decay_s) * end)


def sound_piece(sound: Floats, rate_hz: int, channels: int) -> Track:
    """Make a piece of one sound.

    Parameters
    ----------
    sound
        Of shape (n,).
    """
    voice = voiced(sound, sides=(1.0,) * channels)
    return Track((voice,), (TrackEvent(0, 0),), len(sound), rate_hz, channels)


def laid_together(pieces: Sequence[tuple[int, Track]], frames: int, rate_hz: int, channels: int) -> Track:
    """Lay pieces from their samples on, as one track; what rings on sounds into what comes next.

    Voices that pieces share are kept once.
    """
    number: dict[int, int] = {}
    voices: list[Voice] = []
    for _, piece in pieces:
        for voice in piece.voices:
            if id(voice) not in number:
                number[id(voice)] = len(voices)
                voices.append(voice)
    events = sorted(_moved(pieces, number), key=lambda event: event.sample)
    return Track(tuple(voices), tuple(events), frames, rate_hz, channels)


def _moved(pieces: Sequence[tuple[int, Track]], number: dict[int, int]) -> Iterator[TrackEvent]:
    """Give all events at their place in the whole."""
    for first, piece in pieces:
        for event in piece.events:
            voice = number[id(piece.voices[event.voice])]
            yield TrackEvent(first + event.sample, voice, event.gain)
