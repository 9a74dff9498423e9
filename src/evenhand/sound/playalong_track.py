"""A laid play-along as a track: its strokes and its click at their samples.

Conventions: as in ``track``. Levels of strokes are dB re a stroke from the height of a full one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from evenhand.domain.exercise import Hand
from evenhand.sound.click_track import click_events, click_voices
from evenhand.sound.playalong import LaidPlayalong, Struck
from evenhand.sound.stroke_voice import stroke_sound
from evenhand.sound.track import Ear, Event, Floats, Track, Voice, in_order, nearest_sample, voiced

HANDS_APART_DB = -9.0  # how much softer a hand is on the other hand's side
LEVEL_STEP_DB = 0.01  # strokes this much alike share their sound


@dataclass(frozen=True, slots=True)
class Mixing:
    """How strokes and click come together.

    ``played_db`` is the peak of a stroke from a full one's height over the click's, None for no strokes.
    ``ear`` puts the click in one ear; ``hands_apart`` puts each hand to its own side.
    """

    played_db: float | None = -12.0
    ear: Ear = "both"
    hands_apart: bool = False

    @property
    def channels(self) -> int:
        """How many channels it takes."""
        return 1 if self.ear == "both" and not self.hands_apart else 2


def playalong_track(
    laid: LaidPlayalong, rate_hz: int, mixing: Mixing, *, lead_in_s: Fraction = Fraction(0)
) -> Track:
    """Put everything where it belongs. What still sounds at the end is let ring."""
    voices = list(click_voices(rate_hz, mixing.ear, mixing.channels))
    events = list(click_events(laid.clicks, rate_hz, lead_in_s))
    if mixing.played_db is not None:
        number = _stroke_voices(laid.blows, rate_hz, mixing, voices)
        events += [
            Event(nearest_sample(lead_in_s + blow.time_s, rate_hz), number[_key(blow)]) for blow in laid.blows
        ]
    ends = (event.sample + len(voices[event.voice].sound) - voices[event.voice].start for event in events)
    frames = max(nearest_sample(lead_in_s + laid.course.seconds, rate_hz), *ends, 1)
    return Track(tuple(voices), in_order(events), frames, rate_hz, mixing.channels)


def _key(blow: Struck) -> tuple[Hand, int]:
    return blow.hand, round(blow.level_db / LEVEL_STEP_DB)


def _stroke_voices(
    blows: Sequence[Struck], rate_hz: int, mixing: Mixing, voices: list[Voice]
) -> dict[tuple[Hand, int], int]:
    """Add a voice for each hand and level that is played; return their numbers."""
    number: dict[tuple[Hand, int], int] = {}
    gain = _gain(rate_hz, mixing.played_db or 0.0)
    for hand, level in sorted({_key(blow) for blow in blows}):
        made = stroke_sound(hand, level * LEVEL_STEP_DB, rate_hz)
        number[hand, level] = len(voices)
        voices.append(voiced(gain * made.sound, start=made.start, sides=_sides(hand, mixing)))
    return number


def _gain(rate_hz: int, played_db: float) -> float:
    """Return what brings a full stroke's peak to its place against the click's, which is 1."""
    full: Floats = stroke_sound("R", 0.0, rate_hz).sound
    return float(10 ** (played_db / 20) / np.max(np.abs(full)))


def _sides(hand: Hand, mixing: Mixing) -> tuple[float, ...]:
    """Return a hand's gain in each channel."""
    if mixing.channels == 1:
        return (1.0,)
    away = 10 ** (HANDS_APART_DB / 20) if mixing.hands_apart else 1.0
    return (1.0, away) if hand == "L" else (away, 1.0)
