"""The forty standard rudiments as a track, with a ladder of three tempos each.

Conventions: tempos are those of the quarter, or of the eighth where the quarter would be slower than one
feels as a beat. A rung is chosen so that the busier hand (``writing.rates``)
plays as many strokes a second as the rung asks, whatever the note value: slow is where a hand still has time
to think, the target is just over the turn from two wrist strokes to a bounce where there are doubles, and
four fifths of it elsewhere. The rates are conventions of Evenhand; no published tempos are used. A rung is
passed by ear of the teacher, who signs it off.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Literal

from evenhand.music.exercise import Exercise, Tempo, on_the_click
from evenhand.music.library.letters import Titled
from evenhand.music.rudiments import Rudiment, rudiments
from evenhand.music.strokes.heights import COMMON_HEIGHTS
from evenhand.music.text import parse_exercise
from evenhand.music.writing.rates import double_interval_s, rate_per_s, tempo_bounds, turn_per_s

BEATS = (Fraction(1, 4), Fraction(1, 8))
SLOW_PER_S = 1.0
NEAR = 0.02  # of a tempo: a step of the click
OVER_THE_TURN, WITHOUT_DOUBLES = 1.1, 0.8  # of the turn's strokes a second
SLOWEST_BPM, FASTEST_BPM = 40.0, 208.0  # what is felt as a beat

Ladder = tuple[Tempo, Tempo, Tempo]
Rung = Literal["slow", "middle", "target"]


def the_forty() -> Iterator[Titled]:
    """Give the forty in the order of their numbers."""
    for each in rudiments():
        yield each.name, each.text


def ladder(rudiment: Rudiment) -> Ladder:
    """Return a rudiment's slow, middle and target tempo.

    >>> [str(tempo) for tempo in ladder(rudiments()[15])]
    ['1/8 = 45', '1/8 = 86', '1/8 = 164']
    """
    exercise = parse_exercise(rudiment.text)
    target = turn_per_s(COMMON_HEIGHTS.tap.aim_cm) * _share(exercise)
    slowest, _ = tempo_bounds(exercise, (SLOW_PER_S, target), BEATS[0])
    beat = BEATS[0] if slowest >= SLOWEST_BPM else BEATS[1]
    slow = _tempo(exercise, SLOW_PER_S, beat)
    slow_per_s = rate_per_s(exercise, slow)
    return slow, _tempo(exercise, (slow_per_s * target) ** 0.5, beat), _tempo(exercise, target, beat)


def _share(exercise: Exercise) -> float:
    has_doubles = double_interval_s(exercise, Tempo(BEATS[0], SLOWEST_BPM)) is not None
    return OVER_THE_TURN if has_doubles else WITHOUT_DOUBLES


def _tempo(exercise: Exercise, per_s: float, beat: Fraction) -> Tempo:
    bpm, _ = tempo_bounds(exercise, (per_s, per_s), beat)
    return Tempo(beat, on_the_click(min(max(bpm, SLOWEST_BPM), FASTEST_BPM)))


def rungs_reached(rudiment: Rudiment, whole_note_s: float) -> int:
    """Return how many rungs of a rudiment's ladder a repetition reaches that lasts so long, 0 to 3.

    ``whole_note_s`` is in seconds; a tempo that is within a step of the click of a rung reaches it.
    """
    return sum(whole_note_s <= rung.whole_note_s * (1 + NEAR) for rung in ladder(rudiment))
