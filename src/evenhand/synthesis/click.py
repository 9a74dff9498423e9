"""A click to play to: bars and a tempo that may change in, a track out.

The sound of a click: made to be heard over a drum, and to be found again and taken out.

Conventions: sounds have shape (n,), float64, peak 1; the first sample is the click's time.

Two tones that fade together, at a ratio of 8 to 5:

- over 1.7 kHz, where a rubber pad or a snare drum has let go within a few milliseconds, and where ears and
  telephone loudspeakers are at their best (a pad's body sounds from 200 to 1500 Hz, see ``instruments``);
- one period of the lower tone on, the upper is out of step: the sound is like itself at one place only, so
  its place can be told exactly;
- for its peak it holds half the energy of one tone, so that little of a stroke beneath it is lost with it,
  but it lies in two of the ear's bands;
- it rises in a third of a millisecond, not at once: a sudden rise holds much that lies over the tones, and
  that is what is left where a click is taken out a fraction of a sample beside its place;
- the first beat, the beats and what lies between have tones of their own: none can be taken for another.

The sound of the pulse: a short tone burst, the same each time.

A track: sounds laid at their samples, read block by block, so that hours need no memory.

Conventions: a track has frames of one or two channels, left first; blocks have shape (n, channels), float32,
full scale 1. A time falls on the sample nearest to it: half a sample off at most, and never adding up.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.music.bars import meter_bar
from evenhand.music.click_pattern import EVERY_BEAT, ClickKind, ClickPattern
from evenhand.music.exercise import Meter, Tempo
from evenhand.synthesis.pulse import (
    HOLD,
    Bar,
    Change,
    Click,
    Stretch,
    TempoMap,
    all_clicks,
    bar_kind,
    stretches,
)
from evenhand.synthesis.strokes import LEAD

Floats = NDArray[np.float64]

TONES_HZ: Mapping[ClickKind, tuple[float, float]] = {
    "first": (3130.0, 5010.0),
    "beat": (2350.0, 3770.0),
    "between": (1880.0, 3010.0),
}
SHARES = (1.0, 0.8)
LEVEL_DB: Mapping[ClickKind, float] = {"first": 0.0, "beat": 0.0, "between": -6.0}
RISE_S, DECAY_S, SECONDS, FADE_SHARE = 0.0003, 0.004, 0.05, 0.2


def click_voice(kind: ClickKind, rate_hz: int) -> Floats:
    """Return one click.

    Parameters
    ----------
    kind
        What it marks; the first beat of a bar differs in pitch only, what lies between is softer too.

    Returns
    -------
    shape (n,), peak 1 (0.5 between the beats); it sounds from its first sample on.
    """
    t = (np.arange(round(SECONDS * rate_hz)) + 0.5) / rate_hz  # half a sample in: the first is no zero
    tones = sum(share * np.sin(2 * np.pi * hz * t) for share, hz in zip(SHARES, TONES_HZ[kind], strict=True))
    fade = np.cos(np.pi / 2 * np.clip((t / SECONDS - 1 + FADE_SHARE) / FADE_SHARE, 0, 1)) ** 2
    rise = np.sin(np.pi / 2 * np.minimum(t / RISE_S, 1)) ** 2
    sound = np.asarray(tones * rise * np.exp(-t / DECAY_S) * fade)
    return np.asarray(sound / np.max(np.abs(sound)) * 10 ** (LEVEL_DB[kind] / 20))


Ear = Literal["both", "left", "right"]
Block = NDArray[np.float32]

BLOCK_FRAMES = 1 << 16
SIDES = {"both": (1.0, 1.0), "left": (1.0, 0.0), "right": (0.0, 1.0)}


@dataclass(frozen=True, slots=True, eq=False)
class Voice:
    """One sound, shape (n, channels); its own start lies at sample ``start``."""

    sound: Block
    start: int = 0


@dataclass(frozen=True, slots=True)
class TrackEvent:
    """A sound, by its number, that starts at a sample, with a gain of its own."""

    sample: int
    voice: int
    gain: float = 1.0


@dataclass(frozen=True, eq=False)
class Track:
    """Events in order of time, and the voices that sound in them."""

    voices: tuple[Voice, ...]
    events: tuple[TrackEvent, ...]
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
        """Return the frames from start up to stop.

        Returns
        -------
        Full scale 1, shape (n, channels).
        """
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
                out[a - start : b - start] += voice.sound[a - first : b - first] * np.float32(event.gain)
        if self.gain != 1.0:
            out *= np.float32(self.gain)
        return out

    def blocks(self, size: int = BLOCK_FRAMES) -> Iterator[Block]:
        """Give all of it, block by block.

        Returns
        -------
        Blocks of shape (n, channels), full scale 1.
        """
        for start in range(0, self.frames, size):
            yield self.read(start, start + size)


def nearest_sample(time_s: Fraction, rate_hz: int) -> int:
    """Return the sample nearest to a time.

    >>> nearest_sample(Fraction(60, 97), 48000)
    29691
    """
    return round(time_s * rate_hz)


def voiced(sound: Floats, *, start: int = 0, sides: tuple[float, ...] = (1.0,)) -> Voice:
    """Make a voice of one sound, with a gain for each channel.

    Parameters
    ----------
    sound
        Of shape (n,).
    """
    return Voice((sound[:, None] * np.array(sides)).astype(np.float32), start)


KINDS: tuple[ClickKind, ...] = ("first", "beat", "between")


@dataclass(frozen=True, slots=True)
class ClickAsked:
    """What is to be heard: so many bars after a count-in, and how."""

    tempo: Tempo
    meter: Meter
    bars: int
    count_in: int = 1
    change: Change = HOLD
    pattern: ClickPattern = EVERY_BEAT


@dataclass(frozen=True)
class LaidClick:
    """What comes when."""

    tempo_map: TempoMap
    bars: tuple[Bar, ...]
    beat: Fraction
    pattern: ClickPattern = EVERY_BEAT

    @cached_property
    def clicks(self) -> tuple[Click, ...]:
        """All clicks in order of time."""
        return all_clicks(self.bars, self.beat, self.tempo_map, self.pattern)


def lay_click(asked: ClickAsked) -> LaidClick:
    """Lay bars and clicks. The tempo begins to change after the count-in."""
    length = meter_bar(asked.meter, asked.tempo)
    asked.pattern.check(length, asked.tempo.beat)
    counted = Stretch.steady(asked.tempo, length * asked.count_in)
    tempos = stretches(asked.tempo, length, asked.bars, asked.change, pattern=asked.pattern)
    bars = tuple(_bar(asked, length, number) for number in range(asked.count_in + asked.bars))
    return LaidClick(TempoMap((counted, *tempos)), bars, asked.tempo.beat, asked.pattern)


def _bar(asked: ClickAsked, length: Fraction, number: int) -> Bar:
    after = number - asked.count_in
    if after < 0:
        return Bar(number * length, length, "count-in")
    return Bar(number * length, length, bar_kind(asked.pattern, after), number=after)


def click_track(
    laid: LaidClick, rate_hz: int, *, lead_in_s: Fraction = Fraction(0), ear: Ear = "both"
) -> Track:
    """Put the clicks where they belong. The track ends with its last bar: it can go round and round."""
    events = click_events(laid.clicks, rate_hz, lead_in_s)
    frames = nearest_sample(lead_in_s + laid.tempo_map.seconds, rate_hz)
    return Track(click_voices(rate_hz, ear), events, frames, rate_hz, channels_for(ear))


def channels_for(ear: Ear) -> int:
    """Return how many channels it takes."""
    return 1 if ear == "both" else 2


def click_voices(rate_hz: int, ear: Ear, channels: int | None = None) -> tuple[Voice, ...]:
    """Return the sound of each kind of click, in the order of ``KINDS``."""
    sides = SIDES[ear] if (channels or channels_for(ear)) == 2 else (1.0,)
    return tuple(voiced(click_voice(kind, rate_hz), sides=sides) for kind in KINDS)


def click_events(clicks: Sequence[Click], rate_hz: int, lead_in_s: Fraction) -> tuple[TrackEvent, ...]:
    """Lay clicks on the samples nearest to their times."""
    return tuple(
        TrackEvent(
            nearest_sample(lead_in_s + click.time_s, rate_hz),
            KINDS.index(click.kind),
            10 ** (click.level_db / 20),
        )
        for click in clicks
    )


CLICK_HZ, ACCENT_HZ = 1000.0, 1500.0
TONE_S, TONE_DECAY_S, TONE_RISE_S = 0.03, 0.006, 0.0004


def burst(rate_hz: int, *, accent: bool = False) -> Floats:
    """Return one click, peak 1, after ``LEAD`` samples of silence.

    Returns
    -------
    Peak 1, shape (n,).
    """
    t = np.arange(round(TONE_S * rate_hz)) / rate_hz
    rise = np.sin(np.pi / 2 * np.minimum(t / TONE_RISE_S, 1)) ** 2
    tone = np.sin(2 * np.pi * (ACCENT_HZ if accent else CLICK_HZ) * t) * rise * np.exp(-t / TONE_DECAY_S)
    fade = np.cos(np.pi / 2 * np.clip((t / TONE_S - 0.8) / 0.2, 0, 1)) ** 2
    return np.concatenate([np.zeros(LEAD), tone * fade / np.max(np.abs(tone))])
