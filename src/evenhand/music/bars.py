"""The bars that a click goes by: how long they are, how many beats they have, how many are counted in.

Conventions: lengths are ``Fraction`` of a whole note; a beat is the tempo's.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, chain, cycle, pairwise
from math import gcd, lcm

from evenhand.errors import WrongOptions
from evenhand.music.click_pattern import EVERY_BEAT, BarBeats, ClickPattern, ClickPlace
from evenhand.music.exercise import Exercise, Meter, Tempo

USUAL_BEATS = 4  # of a bar where no meter is written, and of a count-in
BARS_COUNTED = (3, 5, 6, 7)  # bars of so many beats are counted in whole; before all others, four beats
SHORT_UNIT = 8  # meters in such units are felt in groups where the tempo's beats do not fill their bars
GROUPS: Mapping[int, tuple[int, ...]] = {1: (1,), 2: (2,), 3: (3,), 5: (3, 2), 6: (3, 3), 7: (2, 2, 3)}


def whole_beats(length: Fraction, tempo: Tempo) -> int | None:
    """Count the beats in a length; None where they do not come out even."""
    beats = length / tempo.beat
    return beats.numerator if beats.denominator == 1 else None


def meter_bar(meter: Meter, tempo: Tempo) -> Fraction:
    """Return a bar's length, which must be a whole number of the tempo's beats."""
    if whole_beats(meter.bar, tempo) is None:
        got = f"a bar of {meter} and a beat of {tempo.beat}"
        raise WrongOptions(
            got=got, must_be=f"a tempo whose beats fill the bar, such as one given in 1/{meter.unit}"
        )
    return meter.bar


def groups_of(beats: int) -> tuple[int, ...]:
    """Return how a bar's beats are felt.

    >>> groups_of(7), groups_of(9)
    ((2, 2, 3), (2, 2, 2, 3))
    """
    if beats in GROUPS:
        return GROUPS[beats]
    return (2,) * (beats // 2) if beats % 2 == 0 else (*(2,) * (beats // 2 - 1), 3)


def exercise_bar(exercise: Exercise, tempo: Tempo) -> tuple[Fraction, bool]:
    """Return how long an exercise's bars of equal beats are, and whether their first is to stand out.

    Without a meter it is four beats where these fill a repetition, else the repetition itself where that is
    a whole number of beats; else four beats that nothing stands out in, since they go across.
    """
    if exercise.meter is not None and exercise.keeps_meter:
        return meter_bar(exercise.meter, tempo), True
    beats = whole_beats(exercise.length, tempo)
    if beats is None or not exercise.keeps_meter:
        return USUAL_BEATS * tempo.beat, False
    return (USUAL_BEATS if beats % USUAL_BEATS == 0 else beats) * tempo.beat, True


@dataclass(frozen=True, slots=True)
class ClickBar:
    """A bar as a click goes through it: how much of it is played, its beats, whether the first stands out."""

    length: Fraction
    beats: BarBeats
    accented: bool = True


def click_bars(exercise: Exercise, tempo: Tempo) -> tuple[ClickBar, ...]:
    """Return the bars that a click goes through, round and round, from the first note on.

    One bar where all are alike and the tempo's beats fill it, else those of a repetition: a bar's beats are
    the groups of an additive meter, the tempo's beats where they fill the bar, else what it is felt in.

    >>> from evenhand.music.text import parse_exercise
    >>> [
    ...     float(at)
    ...     for at in click_bars(parse_exercise("2+2+3/8 RLRLRLR"), Tempo.parse("1/8=200"))[0].beats.places
    ... ]
    [0.0, 0.25, 0.5]
    """
    meters = [meter for _, _, meter in exercise.sections]
    known = [meter for meter in meters if meter is not None]
    additive = any(meter.groups for meter in known)
    if len(known) < len(meters) or (exercise.keeps_meter and not additive and _fills(known[0], tempo)):
        length, accented = exercise_bar(exercise, tempo)
        return (ClickBar(length, BarBeats.even(length, tempo.beat), accented),)
    at, pickup = [*exercise.starts, exercise.length], exercise.spelling.pickup and len(meters) > 1
    return tuple(
        bar
        for start, stop, meter in exercise.sections
        if meter is not None
        for bar in _bars(at[stop] - at[start], meter, tempo, pickup=pickup and not start)
    )


def _fills(meter: Meter, tempo: Tempo) -> bool:
    return whole_beats(meter.bar, tempo) is not None


def _bars(length: Fraction, meter: Meter, tempo: Tempo, *, pickup: bool) -> Iterator[ClickBar]:
    """Part a stretch into bars; the last may be cut short, and a pickup is the end of one."""
    beats = _beats_of(meter, tempo)
    if pickup:
        yield ClickBar(length, replace(beats, skipped=max(meter.bar - length, Fraction(0))))
        return
    for number in range(-(-length // meter.bar)):
        yield ClickBar(min(meter.bar, length - number * meter.bar), beats)


def _beats_of(meter: Meter, tempo: Tempo) -> BarBeats:
    """Return where a meter's beats are."""
    felt = Fraction(3 if meter.compound else meter.beats, meter.unit)
    sizes = meter.groups
    if not sizes and whole_beats(felt, tempo) is not None:
        return BarBeats.even(meter.bar, tempo.beat)
    if not sizes and meter.unit < SHORT_UNIT:
        sizes = (1,) * meter.beats
    sizes = sizes or ((3,) * (meter.beats // 3) if meter.compound else groups_of(meter.beats))
    places = accumulate(sizes[:-1], initial=0)
    return BarBeats(tuple(Fraction(at, meter.unit) for at in places), meter.bar)


def count_in_bars(exercise: Exercise, tempo: Tempo, bars: int | None = None) -> tuple[ClickBar, ...]:
    """Return the bars that are counted in: so many of the first full one, or as many as is usual.

    Usual are a bar of 3, 5, 6 or 7 equal beats, else four beats; of unequal beats or changing bars a bar, or
    as many as hold three beats. Counting stops where a pickup begins (common practice); where that leaves
    less than half a bar of it, a bar more is counted.
    """
    laid = click_bars(exercise, tempo)
    full = next((bar for bar in laid if not bar.beats.skipped), laid[0])
    whole, upbeat = full.beats.end, laid[0].length if laid[0].beats.skipped else Fraction(0)
    beats = len(full.beats.places)
    if bars is None and len(laid) == 1 and full.beats == BarBeats.even(full.length, tempo.beat):
        bars, rest = divmod(beats if beats in BARS_COUNTED else USUAL_BEATS, beats)
        if rest:
            length = USUAL_BEATS * tempo.beat
            return (ClickBar(length, BarBeats.even(length, tempo.beat), full.accented),)
    elif bars is None:
        bars = max(1, USUAL_BEATS // beats) + (upbeat > whole / 2)
    if not bars:
        return ()
    last = replace(full, length=whole - upbeat)
    return (*(replace(full, length=whole),) * (bars - 1), last)


def count_in_length(exercise: Exercise, tempo: Tempo) -> Fraction:
    """Return how long is counted in before an exercise, in whole notes.

    >>> from evenhand.music.text import parse_exercise
    >>> count_in_length(parse_exercise("3/4 1/8: RLRLRL"), Tempo.parse("1/4=80"))
    Fraction(3, 4)
    >>> count_in_length(parse_exercise("4/4 pickup 1/8: RL | RLRR LRLL |"), Tempo.parse("1/4=80"))
    Fraction(3, 4)
    """
    return sum((bar.length for bar in count_in_bars(exercise, tempo)), Fraction(0))


def round_and_round(bars: Sequence[ClickBar]) -> Iterator[tuple[int, ClickBar]]:
    """Give bars over and over with their numbers from 0; a pickup has the number of the bar before it."""
    number = -1
    for bar in cycle(bars):
        number += not bar.beats.skipped
        yield max(number, 0), bar


def clicks_along(
    exercise: Exercise, tempo: Tempo, pattern: ClickPattern, until: Fraction, *, counted: bool
) -> Iterator[ClickPlace]:
    """Give the clicks before a written time, from the count-in on or, without one, from the first note."""
    at = Fraction(0)
    first = ((None, bar) for bar in count_in_bars(exercise, tempo) if counted)
    for number, bar in chain(first, round_and_round(click_bars(exercise, tempo))):
        if at >= until:
            return
        which = EVERY_BEAT if number is None else pattern
        for place in which.in_bar(
            number or 0, bar.length, bar.beats, accented=bar.accented and pattern.accent
        ):
            if at + place.at < until:
                yield replace(place, at=at + place.at)
        at += bar.length


def click_grid(exercise: Exercise, tempo: Tempo) -> tuple[Fraction, tuple[Fraction, ...]]:
    """Return the longest length on whose multiples all clicks fall, and how far apart neighbouring ones are.

    >>> from evenhand.music.text import parse_exercise
    >>> click_grid(parse_exercise("3/4 1/8: RLRLRL"), Tempo.parse("1/4=80"))
    (Fraction(1, 4), (Fraction(1, 4),))
    """
    bars, counted = click_bars(exercise, tempo), count_in_bars(exercise, tempo)
    until = sum((bar.length for bar in (*counted, *bars)), bars[0].beats.end)
    places = [place.at for place in clicks_along(exercise, tempo, EVERY_BEAT, until, counted=True)]
    apart = {after - at for at, after in pairwise(places)} | {tempo.beat}
    lengths = {*apart, count_in_length(exercise, tempo)}
    under = lcm(*(length.denominator for length in lengths))
    return Fraction(gcd(*(int(length * under) for length in lengths)), under), tuple(sorted(apart))


def check_pattern(exercise: Exercise, tempo: Tempo, pattern: ClickPattern) -> None:
    """Refuse a pattern that does not go with an exercise's bars.

    Raises
    ------
    WrongOptions
        Groups that do not fill each bar; beats 2 and 4 where no bar has two beats.
    """
    bars = click_bars(exercise, tempo)
    if pattern.sounds == "groups":
        for bar in bars:
            pattern.check(bar.beats.end, bar.beats.end)
    elif not any(len(bar.beats.places) > 1 for bar in bars):
        pattern.check(bars[0].beats.end, bars[0].beats.end)
