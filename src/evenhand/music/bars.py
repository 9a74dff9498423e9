"""The bars that a click goes by: how long they are, how many beats they have, how many are counted in.

Conventions: lengths are ``Fraction`` of a whole note; a beat is the tempo's.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from evenhand.errors import WrongOptions
from evenhand.music.exercise import Exercise, Meter, Tempo

USUAL_BEATS = 4  # of a bar where no meter is written, and of a count-in
BARS_COUNTED = (3, 5, 6, 7)  # bars of so many beats are counted in whole; before all others, four beats


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


def exercise_bar(exercise: Exercise, tempo: Tempo) -> tuple[Fraction, bool]:
    """Return how long a bar of an exercise is, and whether its first beat is to stand out.

    Without a meter it is four beats where these fill a repetition, else the repetition itself where that is
    a whole number of beats; else four beats that nothing stands out in, since they go across; so it is
    where the meter changes or a pickup comes first.
    """
    if not exercise.keeps_meter:
        return USUAL_BEATS * tempo.beat, False
    if exercise.meter is not None:
        return meter_bar(exercise.meter, tempo), True
    beats = whole_beats(exercise.length, tempo)
    if beats is None:
        return USUAL_BEATS * tempo.beat, False
    return (USUAL_BEATS if beats % USUAL_BEATS == 0 else beats) * tempo.beat, True


def beats_of_bar(exercise: Exercise, tempo: Tempo) -> tuple[int, bool]:
    """Return how many beats a bar of the click has, and whether its first is to stand out.

    A tempo that does not fill the bars is clicked in fours without accent.
    """
    try:
        length, accented = exercise_bar(exercise, tempo)
    except WrongOptions:
        return USUAL_BEATS, False
    return whole_beats(length, tempo) or USUAL_BEATS, accented


def count_in_beats(exercise: Exercise, tempo: Tempo) -> int:
    """Return how many beats are counted in before an exercise.

    >>> from evenhand.music.text import parse_exercise
    >>> count_in_beats(parse_exercise("3/4 1/8: RLRLRL"), Tempo.parse("1/4=80"))
    3
    """
    beats, _ = beats_of_bar(exercise, tempo)
    return beats if beats in BARS_COUNTED else USUAL_BEATS


def fits_bars(exercise: Exercise, tempo: Tempo) -> Exercise:
    """Return an exercise without its meter where the tempo's beats do not fill it."""
    meters = (exercise.meter, *(meter for _, meter in exercise.spelling.meters))
    if all(meter is None or whole_beats(meter.bar, tempo) is not None for meter in meters):
        return exercise
    spelling = replace(exercise.spelling, meters=(), pickup=False)
    return replace(exercise, meter=None, bar_lines=(), spelling=spelling)
