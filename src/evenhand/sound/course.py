"""How the tempo goes: written time in, exact time out.

Conventions: written time is a ``Fraction`` of a whole note from the top; heard time is a ``Fraction`` of a
second, exact where the tempo holds, and within 2**-80 of the exact value where it changes evenly.

A tempo that changes evenly rises by as many beats a minute in each second. With ``b0`` at the start and
``b1`` after ``n`` beats, beat ``k`` is played at tempo ``b(k) = sqrt(b0^2 + (b1^2 - b0^2) k / n)``, and comes
``120 k / (b0 + b(k))`` seconds after the start: the area under a straight line, solved for time.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import accumulate, count, islice
from math import isqrt

from evenhand.domain.tempo import Tempo
from evenhand.errors import WrongOptions

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
class Course:
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
    tempo: Tempo, round_length: Fraction, rounds: int, change: Change = HOLD
) -> tuple[Stretch, ...]:
    """Lay the tempo over so many rounds.

    Raises
    ------
    WrongOptions, BadTempo
        Where the steps lead away from where they are to end, or out of what can be played.
    """
    goal_bpm = None if change.to is None else exact_bpm(change.to) * change.to.beat / tempo.beat
    if change.step_bpm is None:
        return (_even(tempo, round_length * rounds, goal_bpm),)
    _check(tempo, change, goal_bpm)
    sizes = [min(change.every, rounds - begin) for begin in range(0, rounds, change.every)]
    tempos = islice(_stepping(exact_bpm(tempo), change.step_bpm, goal_bpm), len(sizes))
    return tuple(
        Stretch.steady(Tempo(tempo.beat, float(bpm)), round_length * size)
        for bpm, size in zip(tempos, sizes, strict=True)
    )


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
