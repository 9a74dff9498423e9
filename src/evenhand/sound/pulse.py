"""The pulse: which clicks a bar has, which bars are silent, and when each click comes.

Conventions: ``at`` is written time in whole notes from the top, ``time_s`` the exact second, both
``Fraction``; bars count from 1, those of the count-in too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from evenhand.domain.exercise import Exercise, Meter
from evenhand.domain.tempo import Tempo
from evenhand.errors import WrongOptions
from evenhand.sound.course import Course

ClickKind = Literal["first", "beat", "between"]
BarKind = Literal["count-in", "played", "silent", "rest"]

MOST_BEATS, LARGEST_UNIT, MOST_BETWEEN = 64, 64, 8
USUAL_BEATS = 4  # of a bar where no meter is written, and of a count-in


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: where it begins, how long it is, and what is heard in it.

    ``accented`` says that its first click is its first beat, and stands out.
    """

    at: Fraction
    length: Fraction
    kind: BarKind
    accented: bool = True


@dataclass(frozen=True, slots=True)
class Click:
    """One click."""

    at: Fraction
    time_s: Fraction
    kind: ClickKind


@dataclass(frozen=True, slots=True)
class Silence:
    """So many bars with sound, then so many without, and so on."""

    heard: int
    silent: int

    def kind(self, bar: int) -> BarKind:
        """Say whether a bar, from 0, is played or silent."""
        return "played" if bar % (self.heard + self.silent) < self.heard else "silent"


ALL_HEARD = Silence(1, 0)


def parse_meter(text: str) -> Meter:
    """Read a meter.

    >>> str(parse_meter("6/8"))
    '6/8'
    """
    beats, _, unit = (part.strip() for part in text.partition("/"))
    if not all(part.isascii() and part.isdecimal() and len(part) <= 3 for part in (beats, unit)):
        raise _bad_meter(text)
    meter = Meter(int(beats), int(unit))
    if (
        not 1 <= meter.beats <= MOST_BEATS
        or not 1 <= meter.unit <= LARGEST_UNIT
        or meter.unit.bit_count() > 1
    ):
        raise _bad_meter(text)
    return meter


def parse_silence(text: str) -> Silence:
    """Read how many bars are heard and how many are silent.

    >>> parse_silence("2:1").silent
    1
    """
    parts = [part.strip() for part in text.split(":")]
    if len(parts) == 2 and all(part.isascii() and part.isdecimal() and len(part) <= 4 for part in parts):
        heard, silent = int(parts[0]), int(parts[1])
        if heard >= 1 and silent >= 1:
            return Silence(heard, silent)
    raise WrongOptions(
        got=f"silence {text!r}", must_be="bars heard and bars silent, 1 or more of each, such as 2:2"
    )


def whole_beats(length: Fraction, tempo: Tempo) -> int | None:
    """Count the beats in a length; None where they do not come out even."""
    beats = length / tempo.beat
    return beats.numerator if beats.denominator == 1 else None


def meter_bar(meter: Meter, tempo: Tempo) -> Fraction:
    """Return a bar's length, which must be a whole number of the tempo's beats."""
    if whole_beats(meter.bar, tempo) is None:
        got = f"a bar of {meter} and a beat of {tempo.beat}"
        must_be = f"a tempo whose beats fill the bar, such as one given in 1/{meter.unit}"
        raise WrongOptions(got=got, must_be=must_be)
    return meter.bar


def exercise_bar(exercise: Exercise, tempo: Tempo) -> tuple[Fraction, bool]:
    """Return how long a bar of an exercise is, and whether its first beat is to stand out.

    Without a meter it is four beats where these fill a repetition, else the repetition itself where that is
    a whole number of beats; else four beats that nothing stands out in, since they go across.
    """
    if exercise.meter is not None:
        return meter_bar(exercise.meter, tempo), True
    beats = whole_beats(exercise.length, tempo)
    if beats is None:
        return USUAL_BEATS * tempo.beat, False
    return (USUAL_BEATS if beats % USUAL_BEATS == 0 else beats) * tempo.beat, True


def clicks_of(bar: Bar, tempo_beat: Fraction, course: Course, *, between: int = 1) -> tuple[Click, ...]:
    """Lay a bar's clicks: its beats, each in ``between`` equal parts."""
    step = tempo_beat / between
    places = range(-(-bar.length // step))
    return tuple(_click(bar, k, step, between, course) for k in places)


def _click(bar: Bar, k: int, step: Fraction, between: int, course: Course) -> Click:
    at = bar.at + k * step
    kind: ClickKind = "between" if k % between else "beat"
    return Click(at, course.time_s(at), "first" if k == 0 and bar.accented else kind)


def all_clicks(
    bars: Sequence[Bar], tempo_beat: Fraction, course: Course, *, between: int = 1
) -> tuple[Click, ...]:
    """Lay the clicks of all bars that are not silent."""
    heard = (bar for bar in bars if bar.kind != "silent")
    return tuple(click for bar in heard for click in clicks_of(bar, tempo_beat, course, between=between))


def _bad_meter(text: str) -> WrongOptions:
    must_be = f"beats a bar, 1 to {MOST_BEATS}, over a note value of 1, 2, 4 ... {LARGEST_UNIT}, such as 4/4"
    return WrongOptions(got=f"meter {text!r}", must_be=must_be)
