"""The pulse: which clicks a bar has, which bars are silent, and when each click comes.

Conventions: ``at`` is written time in whole notes from the top, ``time_s`` the exact second, both
``Fraction``; bars count from 1, those of the count-in too.

How the tempo goes: written time in, exact time out.

Conventions: written time is a ``Fraction`` of a whole note from the top; heard time is a ``Fraction`` of a
second, exact where the tempo holds, and within 2**-80 of the exact value where it changes evenly.

A tempo that changes evenly rises by as many beats a minute in each second. With ``b0`` at the start and
``b1`` after ``n`` beats, beat ``k`` is played at tempo ``b(k) = sqrt(b0^2 + (b1^2 - b0^2) k / n)``, and comes
``120 k / (b0 + b(k))`` seconds after the start: the area under a straight line, solved for time.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import accumulate, count, islice, pairwise
from math import isqrt
from typing import Literal

from evenhand.errors import WrongOptions
from evenhand.music.click_pattern import EVERY_BEAT, BarBeats, ClickKind, ClickPattern, ClickPlace, Silence
from evenhand.music.exercise import MOST_METER_BEATS, Meter, Tempo, meter_of

ROOT_BITS = 80  # of a square root, after the point


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of music, ``length`` in whole notes, in which the tempo holds or changes evenly."""

    length: Fraction
    beat: Fraction
    from_bpm: Fraction
    to_bpm: Fraction

    @classmethod
    def steady(cls, tempo: Tempo, length: Fraction) -> Stretch:
        """Hold a tempo for so long.

        >>> Stretch.steady(Tempo.parse("1/4=97"), Fraction(1)).seconds
        Fraction(240, 97)
        """
        return cls(length, tempo.beat, exact_bpm(tempo), exact_bpm(tempo))

    @property
    def seconds(self) -> Fraction:
        """Seconds that the stretch lasts."""
        return self.time_s(self.length)

    def bpm(self, at: Fraction) -> Fraction:
        """Return the tempo held at a written time, in beats a minute."""
        if self.from_bpm == self.to_bpm:
            return self.from_bpm
        share = at / self.length
        return _root(self.from_bpm**2 + (self.to_bpm**2 - self.from_bpm**2) * share)

    def time_s(self, at: Fraction) -> Fraction:
        """Return when a written time comes, from the stretch's start."""
        return 120 * (at / self.beat) / (self.from_bpm + self.bpm(at))


@dataclass(frozen=True)
class TempoMap:
    """Stretches one after the other."""

    stretches: tuple[Stretch, ...]

    @cached_property
    def _begins(self) -> tuple[Fraction, ...]:
        return tuple(accumulate((s.length for s in self.stretches), initial=Fraction(0)))

    @cached_property
    def _begins_s(self) -> tuple[Fraction, ...]:
        return tuple(accumulate((s.seconds for s in self.stretches), initial=Fraction(0)))

    @property
    def length(self) -> Fraction:
        """Length of all of it, in whole notes."""
        return self._begins[-1]

    @property
    def seconds(self) -> Fraction:
        """Seconds of all of it."""
        return self._begins_s[-1]

    def time_s(self, at: Fraction) -> Fraction:
        """Return when a written time comes."""
        i = self._stretch_at(at)
        return self._begins_s[i] + self.stretches[i].time_s(at - self._begins[i])

    def tempo(self, at: Fraction) -> Tempo:
        """Return the tempo held at a written time."""
        i = self._stretch_at(at)
        return Tempo(self.stretches[i].beat, float(self.stretches[i].bpm(at - self._begins[i])))

    def tempos_from(self, at: Fraction) -> tuple[Tempo, Tempo]:
        """Return the tempo at a written time and at the end."""
        return self.tempo(at), self.tempo(self.length)

    def _stretch_at(self, at: Fraction) -> int:
        return min(max(bisect_right(self._begins, at) - 1, 0), len(self.stretches) - 1)


@dataclass(frozen=True, slots=True)
class Change:
    """How a tempo is to change: by steps of ``step_bpm`` every so many rounds, or evenly up to ``to``.

    A round is a bar or a repetition. With both, the steps go on to that tempo and stay there.
    """

    step_bpm: Fraction | None = None
    every: int = 1
    to: Tempo | None = None


HOLD = Change()


def stretches(
    tempo: Tempo,
    round_length: Fraction,
    rounds: int,
    change: Change = HOLD,
    *,
    pattern: ClickPattern = EVERY_BEAT,
    bar: Fraction | None = None,
) -> tuple[Stretch, ...]:
    """Lay the tempo over so many rounds.

    A step that is due where a silence begins or ends waits for the next round that begins amid sound; those
    after it come when they would have come. ``bar`` is the pattern's bar, by itself a round.

    Raises
    ------
    WrongOptions, BadTempo
        Where the steps lead away from where they are to end, or out of what can be played, or where the tempo
        would change unheard.
    """
    goal_bpm = None if change.to is None else exact_bpm(change.to) * change.to.beat / tempo.beat
    _check_heard(change, pattern)
    if change.step_bpm is None:
        return (_even(tempo, round_length * rounds, goal_bpm),)
    _check(tempo, change, goal_bpm)
    begins = _step_rounds(rounds, change.every, pattern, round_length / (bar or round_length))
    sizes = [end - begin for begin, end in pairwise([*begins, rounds])]
    tempos = islice(_stepping(exact_bpm(tempo), change.step_bpm, goal_bpm), len(sizes))
    return tuple(
        Stretch.steady(Tempo(tempo.beat, float(bpm)), round_length * size)
        for bpm, size in zip(tempos, sizes, strict=True)
    )


def _step_rounds(rounds: int, every: int, pattern: ClickPattern, bars_a_round: Fraction) -> list[int]:
    """Return the rounds at which a tempo begins."""
    begins, due = [0], every
    for number in range(1, rounds):
        if number >= due and pattern.may_change(number * bars_a_round):
            begins.append(number)
            due = (number // every + 1) * every
    return begins


def _check_heard(change: Change, pattern: ClickPattern) -> None:
    """Refuse a tempo that changes where nothing sounds."""
    if change == HOLD:
        return
    if pattern.every > 1:
        raise WrongOptions(got=f"a tempo that changes, and {pattern}", must_be="a click in every bar")
    if pattern.silence is None and pattern.fade is None:
        return
    if change.step_bpm is None:
        raise WrongOptions(got="a tempo that changes evenly, and bars without a click", must_be="steps")
    if isinstance(pattern.silence, Silence) and pattern.silence.heard == 1:
        raise WrongOptions(got=f"steps and {pattern.silence}", must_be="two bars heard, or more")


def exact_bpm(tempo: Tempo) -> Fraction:
    """Return beats a minute as they were written, not as a float holds them.

    >>> exact_bpm(Tempo.parse("1/4=97.3"))
    Fraction(973, 10)
    """
    return Fraction(tempo.bpm).limit_denominator(10**6)


def _even(tempo: Tempo, length: Fraction, goal_bpm: Fraction | None) -> Stretch:
    """Change evenly over all of it, or hold."""
    begin = exact_bpm(tempo)
    return Stretch(length, tempo.beat, begin, begin if goal_bpm is None else goal_bpm)


def _stepping(bpm: Fraction, step: Fraction, goal_bpm: Fraction | None) -> Iterator[Fraction]:
    """Give the tempo of each step."""
    for k in count():
        now = bpm + k * step
        if goal_bpm is not None:
            now = min(now, goal_bpm) if step > 0 else max(now, goal_bpm)
        yield now


def _check(tempo: Tempo, change: Change, goal_bpm: Fraction | None) -> None:
    """Refuse steps that lead nowhere."""
    step = change.step_bpm or Fraction(0)
    if step == 0 or change.every < 1:
        raise WrongOptions(
            got=f"steps of {float(step):g} bpm every {change.every}",
            must_be="steps up or down, every 1 or more",
        )
    if goal_bpm is not None and (goal_bpm - exact_bpm(tempo)) * step < 0:
        must_be = f"steps that lead from {tempo} to {change.to}"
        raise WrongOptions(got=f"steps of {float(step):+g} bpm", must_be=must_be)


def _root(square: Fraction) -> Fraction:
    """Return a square root, cut off after so many bits."""
    return Fraction(isqrt((square.numerator << 2 * ROOT_BITS) // square.denominator), 1 << ROOT_BITS)


BarKind = Literal["count-in", "played", "silent", "rest"]


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: where it begins, how long it is, and what is heard in it.

    ``number`` counts from 0 after the count-in; None for a bar of the count-in or a rest, whose clicks are
    its beats. ``accented`` says that its first click is its first beat, and stands out. ``beats`` say where
    its beats are, where these are not the tempo's.
    """

    at: Fraction
    length: Fraction
    kind: BarKind
    accented: bool = True
    number: int | None = None
    beats: BarBeats | None = None

    def beats_at(self, beat: Fraction) -> BarBeats:
        """Return where its beats are, at a tempo's beat."""
        return self.beats or BarBeats.even(self.length, beat)


@dataclass(frozen=True, slots=True)
class Click:
    """One click; its level is dB beside a usual one of its kind."""

    at: Fraction
    time_s: Fraction
    kind: ClickKind
    level_db: float = 0.0


def parse_meter(text: str) -> Meter:
    """Read a meter.

    >>> str(parse_meter("6/8"))
    '6/8'
    """
    beats, _, unit = (part.strip() for part in text.partition("/"))
    plain = all(part.isascii() and part.isdecimal() and len(part) <= 3 for part in (beats, unit))
    meter = meter_of(int(beats), int(unit)) if plain else None
    if meter is None:
        must_be = f"beats a bar, 1 to {MOST_METER_BEATS}, over a note value of 1, 2, 4 ... 64, such as 4/4"
        raise WrongOptions(got=f"meter {text!r}", must_be=must_be)
    return meter


def bar_kind(pattern: ClickPattern, number: int) -> BarKind:
    """Say whether a bar, from 0 after the count-in, is played or silent."""
    return "silent" if pattern.is_silent(number) else "played"


def clicks_of(
    bar: Bar, tempo_beat: Fraction, tempo_map: TempoMap, pattern: ClickPattern = EVERY_BEAT
) -> tuple[Click, ...]:
    """Lay a bar's clicks."""
    number, kept = (0, EVERY_BEAT) if bar.number is None else (bar.number, pattern)
    accented = bar.accented and pattern.accent
    return tuple(
        _click(bar, place, tempo_map)
        for place in kept.in_bar(number, bar.length, bar.beats_at(tempo_beat), accented=accented)
    )


def _click(bar: Bar, place: ClickPlace, tempo_map: TempoMap) -> Click:
    at = bar.at + place.at
    return Click(at, tempo_map.time_s(at), place.kind, place.level_db)


def all_clicks(
    bars: Sequence[Bar], tempo_beat: Fraction, tempo_map: TempoMap, pattern: ClickPattern = EVERY_BEAT
) -> tuple[Click, ...]:
    """Lay the clicks of all bars, in order of time."""
    return tuple(click for bar in bars for click in clicks_of(bar, tempo_beat, tempo_map, pattern))
