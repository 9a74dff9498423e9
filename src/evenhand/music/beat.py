"""The beat that one feels, and tempos given on it.

A tempo is given on the quarter, the dotted quarter, the half or the eighth, and it lies from 40 to 208: the
range that a click is usually built for (common practice). Which of them is felt is chosen from the meter and
the notes: the meter's own beat first (the dotted quarter of 6/8, the half of 2/2); where that would be slower
than 40 the next smaller one, where it would be faster than 208 the next larger one.

Conventions: a speed is given as the seconds of a whole note, which is the same in every note value.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from evenhand.music.exercise import Exercise, Meter, Tempo, bpm_of, note_value, on_the_click, whole_note_s

HALF, DOTTED_QUARTER, QUARTER, EIGHTH = Fraction(1, 2), Fraction(3, 8), Fraction(1, 4), Fraction(1, 8)
SLOWEST_FELT_BPM, FASTEST_FELT_BPM = 40.0, 208.0
USUAL_WHOLE_S = 2.4  # a quarter of 0.6 s: what is tapped when nothing is asked (common practice)


def felt_beats(exercise: Exercise) -> tuple[Fraction, ...]:
    """Return the beats that an exercise can be felt in, the one that its meter suggests first.

    A beat must hold a whole number of the exercise's usual note, or be held by it.
    """
    meter, value = exercise.meter, note_value(exercise)
    ordered = _of_meter(meter)
    fitting = [beat for beat in ordered if _is_whole(beat / value) or _is_whole(value / beat)]
    return tuple(fitting) or ordered


def _of_meter(meter: Meter | None) -> tuple[Fraction, ...]:
    """Order the beats by how likely a meter is felt in them."""
    if meter is not None and meter.compound:
        return (DOTTED_QUARTER, EIGHTH)
    if meter is not None and meter.unit == 2:
        return (HALF, QUARTER, EIGHTH)
    if meter is not None and meter.unit >= 8 and meter.beats % 2:
        return (EIGHTH, QUARTER, HALF)
    return (QUARTER, EIGHTH, HALF)


def _is_whole(ratio: Fraction) -> bool:
    return ratio.denominator == 1


def felt_beat(exercise: Exercise, whole_s: float = USUAL_WHOLE_S) -> Fraction:
    """Return the beat that an exercise is felt in, at a speed given as a whole note's seconds.

    >>> from evenhand.music.text import parse_exercise
    >>> felt_beat(parse_exercise("1/8: RLRR LRLL")), felt_beat(parse_exercise("6/8 1/8: RLR LRL"))
    (Fraction(1, 4), Fraction(3, 8))
    >>> felt_beat(parse_exercise("1/8: RLRR LRLL"), whole_s=8.0)
    Fraction(1, 8)
    """
    beats = felt_beats(exercise)
    inside = [
        beat for beat in beats if SLOWEST_FELT_BPM <= round(bpm_of(whole_s, beat), 6) <= FASTEST_FELT_BPM
    ]
    return inside[0] if inside else min(beats, key=lambda beat: _outside(bpm_of(whole_s, beat)))


def _outside(bpm: float) -> float:
    """Say by what factor a tempo lies outside what is felt."""
    return max(SLOWEST_FELT_BPM / bpm, bpm / FASTEST_FELT_BPM)


def slowest_s(exercise: Exercise) -> float:
    """Return the slowest speed that can be felt: 40 on the smallest beat, as seconds of a whole note."""
    return whole_note_s(SLOWEST_FELT_BPM, min(felt_beats(exercise)))


def fastest_s(exercise: Exercise) -> float:
    """Return the fastest speed that can be felt: 208 on the largest beat, as seconds of a whole note."""
    return whole_note_s(FASTEST_FELT_BPM, max(felt_beats(exercise)))


def felt_beat_of_all(exercise: Exercise, wholes_s: Iterable[float]) -> Fraction:
    """Return one beat for several speeds of an exercise: the first that holds all, else the middle one's."""
    speeds = sorted(wholes_s)
    for beat in felt_beats(exercise):
        if all(SLOWEST_FELT_BPM <= bpm_of(each, beat) <= FASTEST_FELT_BPM for each in speeds):
            return beat
    return felt_beat(exercise, speeds[len(speeds) // 2])


def tempo_on(beat: Fraction, tempo: Tempo) -> Tempo:
    """Give the same speed on another beat, exactly.

    >>> tempo_on(Fraction(1, 4), Tempo(Fraction(1, 8), 140.0)).bpm
    70.0
    """
    return Tempo(beat, tempo.bpm * float(tempo.beat / beat))


def felt_tempo(exercise: Exercise, tempo: Tempo) -> Tempo:
    """Give a tempo on the beat that the exercise is felt in at it, exactly."""
    return tempo_on(felt_beat(exercise, tempo.whole_note_s), tempo)


def click_tempo(exercise: Exercise, whole_s: float, beat: Fraction | None = None) -> Tempo:
    """Give a speed as a tempo that a click is set to: on the felt beat (or the one given), 40 to 208.

    A speed outside 40 to 208 gives the nearest of them: who asks for it says why (``planning``).

    >>> from evenhand.music.text import parse_exercise
    >>> str(click_tempo(parse_exercise("1/12: RLR LRL"), whole_s=2.03))
    '1/4 = 118'
    """
    felt = felt_beat(exercise, whole_s) if beat is None else beat
    bpm = min(max(bpm_of(whole_s, felt), SLOWEST_FELT_BPM), FASTEST_FELT_BPM)
    return Tempo(felt, min(max(on_the_click(bpm), SLOWEST_FELT_BPM), FASTEST_FELT_BPM))
