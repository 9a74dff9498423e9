"""A play-along: exercises played as written, each so many times, with a click or without.

Conventions: as in ``pulse`` and ``click``. Repetitions count from 1 within an exercise, positions from 0.
Levels of strokes are dB re a stroke from the height of a full one.

Nobody plays a stroke twice: each differs a little in level, in time and in colour, drawn by a seed. The times
stay within half of what an ear can tell in a row of even strokes (6 ms: Friberg & Sundberg 1995), so the
exercise is still one to play along to.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import groupby, takewhile
from typing import Literal

import numpy as np

from evenhand.music.bars import ClickBar, check_pattern, click_bars, count_in_bars, round_and_round
from evenhand.music.click_pattern import EVEN, EVERY_BEAT, ClickPattern
from evenhand.music.exercise import GRACE_GAP_S, HANDS, Exercise, Hand, Note, Sound, Tempo, other_hand
from evenhand.synthesis.click import (
    Ear,
    Track,
    TrackEvent,
    Voice,
    click_events,
    click_voices,
    nearest_sample,
    voiced,
)
from evenhand.synthesis.groove import PARTS, UNDER_FULL_DB, groove_places, groove_sound, other_sounds
from evenhand.synthesis.playing import BOUNCE_LOSS_DB, MOST_BOUNCES
from evenhand.synthesis.pulse import (
    HOLD,
    Bar,
    BarKind,
    Change,
    Click,
    Stretch,
    TempoMap,
    all_clicks,
    bar_kind,
    stretches,
)
from evenhand.synthesis.voice import stroke_sounds

ClickChoice = Literal["on", "count-in", "off"]

BOUNCE_SHARE = Fraction(4, 5)  # of a buzz's written length
# A bounce comes sooner after the last than that one did: the stick falls from less. About 28 ms over the
# first four (common practice); the ratio is from memory of sticks on a pad, no figure was found.
FIRST_BOUNCE_S, BOUNCE_RATIO = Fraction(34, 1000), Fraction(87, 100)
LEVEL_SD_DB, MOST_LEVEL_DB = (
    0.5,
    1.0,
)  # an ear tells 0.5 to 1 dB at best (facts of loudness: Jesteadt et al. 1977)
TIME_SD_S, MOST_TIME_S = 0.0012, 0.003
VARIANTS = 8  # sounds of one hand and level; a note's next repetition never has the one before

Levels = Mapping[tuple[int, int | None], float]  # (position, grace or None for the note): dB


@dataclass(frozen=True)
class Part:
    """One exercise to be played; ``levels_db`` says how loud each of its blows is."""

    exercise: Exercise
    levels_db: Levels
    title: str = ""


@dataclass(frozen=True)
class PlayalongAsked:
    """What is to be heard; ``count_in`` is in bars, None for what is usual."""

    parts: tuple[Part, ...]
    tempo: Tempo
    repetitions: int = 8
    count_in: int | None = 1
    change: Change = HOLD
    pattern: ClickPattern = EVERY_BEAT
    click: ClickChoice = "on"
    seed: int = 0


@dataclass(frozen=True, slots=True)
class Struck:
    """One blow of the play-along; ``variant`` is its sound among those of its hand and level."""

    time_s: Fraction
    level_db: float
    hand: Hand
    part: int
    repetition: int
    position: int
    grace: bool = False
    off_db: float = 0.0
    variant: int = 0
    sound: Sound = "drum"


@dataclass(frozen=True, slots=True)
class LaidPart:
    """Where each of a part's repetitions begins, and where it ends, in whole notes; its bars."""

    part: Part
    repetitions: tuple[Fraction, ...]
    end: Fraction
    bars: tuple[Bar, ...]


@dataclass(frozen=True)
class LaidPlayalong:
    """What comes when."""

    asked: PlayalongAsked
    tempo_map: TempoMap
    bars: tuple[Bar, ...]
    parts: tuple[LaidPart, ...]

    @cached_property
    def clicks(self) -> tuple[Click, ...]:
        """All clicks in order of time."""
        bars = _clicking(self.bars, self.asked.click)
        return all_clicks(bars, self.asked.tempo.beat, self.tempo_map, self.asked.pattern)

    @cached_property
    def blows(self) -> tuple[Struck, ...]:
        """All blows in order of time."""
        blows = (blow for number, laid in enumerate(self.parts) for blow in _blows(laid, number, self))
        return tuple(sorted(_as_played(blows, self.asked.seed), key=lambda blow: blow.time_s))


def _as_played(written: Iterator[Struck], seed: int) -> Iterator[Struck]:
    """Let each blow differ a little; a note's graces and bounces keep their distance from it."""
    rng = np.random.default_rng(seed)
    for _, note in groupby(written, key=lambda blow: (blow.part, blow.repetition, blow.position)):
        late_s = _drawn(rng, TIME_SD_S, MOST_TIME_S)
        for k, blow in enumerate(note):
            first = (blow.part * 31 + blow.position * 5 + k * 3) % VARIANTS
            yield replace(
                blow,
                time_s=blow.time_s + Fraction(round(1e6 * late_s), 10**6),
                off_db=_drawn(rng, LEVEL_SD_DB, MOST_LEVEL_DB),
                variant=(first + 3 * blow.repetition) % VARIANTS,
            )


def _drawn(rng: np.random.Generator, sd: float, most: float) -> float:
    return float(np.clip(sd * rng.standard_normal(), -most, most))


def lay_playalong(asked: PlayalongAsked) -> LaidPlayalong:
    """Lay out a play-along: a count-in, then each part; a bar's rest comes before each part but the first."""
    layout = _Layout()
    for number, part in enumerate(asked.parts):
        _lay_part(layout, asked, part, first=number == 0)
    tempo_map = TempoMap(tuple(layout.stretches))
    return LaidPlayalong(asked, tempo_map, tuple(layout.bars), tuple(layout.parts))


class _Layout:
    """What is laid so far."""

    def __init__(self) -> None:
        self.at = Fraction(0)
        self.stretches: list[Stretch] = []
        self.bars: list[Bar] = []
        self.parts: list[LaidPart] = []


def _lay_part(layout: _Layout, asked: PlayalongAsked, part: Part, *, first: bool) -> None:
    """Lay one part after what is there."""
    exercise, pattern = part.exercise, asked.pattern
    laid = click_bars(exercise, asked.tempo)
    check_pattern(exercise, asked.tempo, pattern)
    kind: BarKind = "count-in" if first else "rest"
    for counted in count_in_bars(exercise, asked.tempo, asked.count_in if first else 1):
        layout.bars.append(Bar(layout.at, counted.length, kind, counted.accented, beats=counted.beats))
        layout.stretches.append(Stretch.steady(asked.tempo, counted.length))
        layout.at += counted.length
    begin, each = layout.at, exercise.length
    layout.at += each * asked.repetitions
    bar = sum((bar.length for bar in laid), Fraction(0)) / sum(not bar.beats.skipped for bar in laid)
    layout.stretches += stretches(
        asked.tempo, each, asked.repetitions, asked.change, pattern=pattern, bar=bar
    )
    bars = tuple(_bars(begin, layout.at, laid, pattern))
    layout.bars += bars
    starts = tuple(begin + each * k for k in range(asked.repetitions))
    layout.parts.append(LaidPart(part, starts, layout.at, bars))


def _bars(begin: Fraction, end: Fraction, laid: Sequence[ClickBar], pattern: ClickPattern) -> Iterator[Bar]:
    """Lay bars from one place to another; the last may be cut short."""
    for number, bar in round_and_round(laid):
        if begin >= end:
            return
        length = min(bar.length, end - begin)
        yield Bar(begin, length, bar_kind(pattern, number), bar.accented, number, bar.beats)
        begin += length


def _clicking(bars: tuple[Bar, ...], click: ClickChoice) -> tuple[Bar, ...]:
    """Return the bars that a click goes through."""
    if click == "off":
        return ()
    return tuple(bar for bar in bars if click == "on" or bar.kind in {"count-in", "rest"})


def _swung(at: Fraction, bar: Bar, swing: Fraction) -> Fraction:
    """Return where a written time is played: a beat's halves are drawn out and shortened."""
    if swing == EVEN or bar.beats is None:
        return at
    begin = bar.at - bar.beats.skipped
    start, end = next(span for span in bar.beats.spans if at - begin < span[1])
    part = (at - begin - start) / (end - start)
    bent = part * 2 * swing if part <= EVEN else swing + (part - EVEN) * 2 * (1 - swing)
    return begin + start + bent * (end - start)


def _blows(laid: LaidPart, number: int, whole: LaidPlayalong) -> Iterator[Struck]:
    """Play a part. A silent bar silences the notes that begin in it, their graces too."""
    exercise, bars, tempo_map = laid.part.exercise, laid.bars, whole.tempo_map
    begins = [bar.at for bar in bars]
    for repetition, start in enumerate(laid.repetitions, start=1):
        for position in exercise.struck:
            written = start + exercise.starts[position]
            bar = bars[bisect_right(begins, written) - 1]
            if bar.kind == "played":
                at = _swung(written, bar, whole.asked.pattern.swing)
                yield from _note(laid.part, number, repetition, position, at, tempo_map)


def _note(
    part: Part, number: int, repetition: int, position: int, at: Fraction, tempo_map: TempoMap
) -> Iterator[Struck]:
    """Play a note: its graces ahead of it, itself, and where it is a buzz its bounces."""
    note, time_s = part.exercise.notes[position], tempo_map.time_s(at)
    place = (number, repetition, position)
    for k, hand in enumerate(note.graces):
        ahead = (len(note.graces) - k) * Fraction(GRACE_GAP_S).limit_denominator(1000)
        yield Struck(time_s - ahead, part.levels_db[position, k], hand, *place, grace=True)
    hand = note.hand or "R"
    level_db = part.levels_db[position, None]
    yield Struck(time_s, level_db, hand, *place, sound=note.sound)
    if note.both:
        yield Struck(time_s, level_db, other_hand(hand), *place, sound=note.sound)
    if note.buzz:
        held = sum((each.value for each in _held_after(part.exercise, position)), note.value)
        lasts_s = (tempo_map.time_s(at + held) - time_s) * (1 if note.tied else BOUNCE_SHARE)
        for k, after_s in enumerate(_bounces(lasts_s), start=1):
            yield Struck(time_s + after_s, level_db - k * BOUNCE_LOSS_DB, hand, *place)


def _held_after(exercise: Exercise, position: int) -> Iterator[Note]:
    """Give what lengthens a note."""
    return takewhile(lambda note: note.held, exercise.notes[position + 1 :])


def _bounces(lasts_s: Fraction) -> Iterator[Fraction]:
    """Give a buzz's bounces after its first blow: each sooner than the one before, while it lasts."""
    after_s = FIRST_BOUNCE_S
    for k in range(1, MOST_BOUNCES + 1):
        if after_s > lasts_s:
            return
        yield after_s
        after_s += FIRST_BOUNCE_S * BOUNCE_RATIO**k


HANDS_APART_DB = -9.0  # how much softer a hand is on the other hand's side
LEVEL_STEP_DB = 0.01  # strokes this much alike share their sound


@dataclass(frozen=True, slots=True)
class Mixing:
    """How strokes and click come together.

    ``played_db`` is the peak of a stroke from a full one's height over the click's, None for no strokes.
    ``ear`` puts the click in one ear; ``hands_apart`` puts each hand to its own side. ``groove`` lays a quiet
    groove under what is played.
    """

    played_db: float | None = 3.0
    ear: Ear = "both"
    hands_apart: bool = False
    groove: bool = False

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
            TrackEvent(
                nearest_sample(lead_in_s + blow.time_s, rate_hz),
                number[_key(blow)] + blow.variant,
                10 ** (blow.off_db / 20),
            )
            for blow in laid.blows
        ]
    if mixing.groove:
        events += _groove(laid, rate_hz, mixing, voices, lead_in_s)
    ends = (event.sample + len(voices[event.voice].sound) - voices[event.voice].start for event in events)
    frames = max(nearest_sample(lead_in_s + laid.tempo_map.seconds, rate_hz), *ends, 1)
    in_order = tuple(sorted(events, key=lambda event: event.sample))
    return Track(tuple(voices), in_order, frames, rate_hz, mixing.channels)


def _groove(
    laid: LaidPlayalong, rate_hz: int, mixing: Mixing, voices: list[Voice], lead_in_s: Fraction
) -> Iterator[TrackEvent]:
    """Add the groove's voices, and lay them under the bars that are played."""
    first, sides = len(voices), (1.0,) * mixing.channels
    voices += [voiced(groove_sound(part, rate_hz), sides=sides) for part in PARTS]
    beat, swing = laid.asked.tempo.beat, laid.asked.pattern.swing
    for bar in laid.bars:
        if bar.kind == "played":
            beats, whole_s = bar.beats_at(beat), laid.tempo_map.tempo(bar.at).whole_note_s
            for place, part, under_db in groove_places(beats, whole_s, swing):
                at = place - beats.skipped
                if not 0 <= at < bar.length:
                    continue
                time_s = lead_in_s + laid.tempo_map.time_s(bar.at + at)
                gain_db = (mixing.played_db or 0.0) + UNDER_FULL_DB[part] - under_db
                sample = nearest_sample(time_s, rate_hz)
                yield TrackEvent(sample, first + PARTS.index(part), 10 ** (gain_db / 20))


Voicing = tuple[Hand, int, Sound]


def _key(blow: Struck) -> Voicing:
    return blow.hand, round(blow.level_db / LEVEL_STEP_DB), blow.sound


def _stroke_voices(
    blows: Sequence[Struck], rate_hz: int, mixing: Mixing, voices: list[Voice]
) -> dict[Voicing, int]:
    """Add the voices of each hand, level and sound that is played; return the first one's number."""
    number: dict[Voicing, int] = {}
    played_db = mixing.played_db or 0.0
    for each in sorted({_key(blow) for blow in blows}):
        number[each] = len(voices)
        voices += _variants(each, rate_hz, played_db, _sides(each[0], mixing))
    return number


@lru_cache(maxsize=256)
def _variants(
    voicing: Voicing, rate_hz: int, played_db: float, sides: tuple[float, ...]
) -> tuple[Voice, ...]:
    """Return the voices of one hand, level and sound; made once."""
    hand, level, sound = voicing
    if sound != "drum":
        gain = 10 ** ((played_db + level * LEVEL_STEP_DB) / 20)
        others = other_sounds(sound, rate_hz, VARIANTS)
        return tuple(voiced(gain * each, sides=sides) for each in others)
    made, gain = stroke_sounds(hand, level * LEVEL_STEP_DB, rate_hz, VARIANTS), _gain(rate_hz, played_db)
    return tuple(voiced(gain * each.sound, start=each.start, sides=sides) for each in made)


@lru_cache(maxsize=16)
def _gain(rate_hz: int, played_db: float) -> float:
    """Return what brings the middle one of full strokes' peaks to its place against the click's."""
    full = [each.sound for hand in HANDS for each in stroke_sounds(hand, 0.0, rate_hz, VARIANTS)]
    return float(10 ** (played_db / 20) / np.median([np.max(np.abs(sound)) for sound in full]))


def _sides(hand: Hand, mixing: Mixing) -> tuple[float, ...]:
    """Return a hand's gain in each channel."""
    if mixing.channels == 1:
        return (1.0,)
    away = 10 ** (HANDS_APART_DB / 20) if mixing.hands_apart else 1.0
    return (1.0, away) if hand == "L" else (away, 1.0)
