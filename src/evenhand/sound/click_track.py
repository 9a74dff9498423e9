"""A click to play to: bars and a tempo that may change in, a track out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from evenhand.domain.exercise import Meter
from evenhand.domain.tempo import Tempo
from evenhand.sound.click_voice import click_voice
from evenhand.sound.course import HOLD, Change, Course, Stretch, stretches
from evenhand.sound.pulse import ALL_HEARD, Bar, Click, ClickKind, Silence, all_clicks, meter_bar
from evenhand.sound.track import SIDES, Ear, Event, Track, Voice, nearest_sample, voiced

KINDS: tuple[ClickKind, ...] = ("first", "beat", "between")


@dataclass(frozen=True, slots=True)
class ClickAsked:
    """What is to be heard: so many bars after a count-in, and how."""

    tempo: Tempo
    meter: Meter
    bars: int
    count_in: int = 1
    change: Change = HOLD
    silence: Silence = ALL_HEARD
    between: int = 1
    accent: bool = True


@dataclass(frozen=True)
class LaidClick:
    """What comes when."""

    course: Course
    bars: tuple[Bar, ...]
    beat: Fraction
    between: int = 1

    @cached_property
    def clicks(self) -> tuple[Click, ...]:
        """All clicks in order of time."""
        return all_clicks(self.bars, self.beat, self.course, between=self.between)


def lay_click(asked: ClickAsked) -> LaidClick:
    """Lay bars and clicks. The tempo begins to change after the count-in."""
    length = meter_bar(asked.meter, asked.tempo)
    counted = Stretch.steady(asked.tempo, length * asked.count_in)
    course = Course((counted, *stretches(asked.tempo, length, asked.bars, asked.change)))
    bars = tuple(_bar(asked, length, number) for number in range(asked.count_in + asked.bars))
    return LaidClick(course, bars, asked.tempo.beat, asked.between)


def _bar(asked: ClickAsked, length: Fraction, number: int) -> Bar:
    after = number - asked.count_in
    kind = "count-in" if after < 0 else asked.silence.kind(after)
    return Bar(number * length, length, kind, asked.accent)


def click_track(
    laid: LaidClick, rate_hz: int, *, lead_in_s: Fraction = Fraction(0), ear: Ear = "both"
) -> Track:
    """Put the clicks where they belong. The track ends with its last bar: it can go round and round."""
    events = click_events(laid.clicks, rate_hz, lead_in_s)
    frames = nearest_sample(lead_in_s + laid.course.seconds, rate_hz)
    return Track(click_voices(rate_hz, ear), events, frames, rate_hz, channels_for(ear))


def channels_for(ear: Ear) -> int:
    """Return how many channels it takes."""
    return 1 if ear == "both" else 2


def click_voices(rate_hz: int, ear: Ear, channels: int | None = None) -> tuple[Voice, ...]:
    """Return the sound of each kind of click, in the order of ``KINDS``."""
    sides = SIDES[ear] if (channels or channels_for(ear)) == 2 else (1.0,)
    return tuple(voiced(click_voice(kind, rate_hz), sides=sides) for kind in KINDS)


def click_events(clicks: Sequence[Click], rate_hz: int, lead_in_s: Fraction) -> tuple[Event, ...]:
    """Lay clicks on the samples nearest to their times."""
    return tuple(
        Event(nearest_sample(lead_in_s + click.time_s, rate_hz), KINDS.index(click.kind)) for click in clicks
    )
