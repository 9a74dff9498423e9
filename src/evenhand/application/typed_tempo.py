"""A tempo as people type it: "72" alone means 72 of the item's own beat.

The item's own beat is that of the tempo that stood there, as long as the exercise is the same; else that of
the exercise: its meter's, or the note value that it begins with (of triplets, the value that they divide).
"""

from __future__ import annotations

import re
from fractions import Fraction

from evenhand.craft.text import parse_exercise
from evenhand.domain.exercise import Exercise
from evenhand.domain.tempo import Tempo
from evenhand.errors import EvenhandError

_ALONE = re.compile(r"\s*(\d{1,4}(?:\.\d{1,6})?)\s*(?:bpm)?\s*", re.ASCII | re.IGNORECASE)


def own_beat(exercise: Exercise) -> Fraction:
    """Return the note value that gets the beat where nothing says so.

    >>> [
    ...     str(own_beat(parse_exercise(text)))
    ...     for text in ("1/8: RLRR", "4/4 1/16: RLRR LRLL RLRR LRLL", "1/12: RLR")
    ... ]
    ['1/8', '1/4', '1/4']
    """
    if exercise.meter is not None:
        return Fraction(1, exercise.meter.unit)
    divided = exercise.notes[0].value.denominator
    return Fraction(1, divided & -divided)  # the powers of two in it


def full_tempo(text: str, exercise_text: str, *, shown: str = "", shown_for: str = "") -> str:
    """Return what was typed with its beat; what is no number alone stays as it is.

    ``shown`` is the tempo that stood there, of the exercise ``shown_for``.

    >>> full_tempo("72", "1/8: RLRR LRLL")
    '1/8 = 72'
    >>> full_tempo("72", "1/8: RLRR LRLL", shown="1/4 = 60", shown_for="1/8: RLRR LRLL")
    '1/4 = 72'
    >>> full_tempo("1/2 = 72", "1/8: RLRR LRLL")
    '1/2 = 72'
    """
    found = _ALONE.fullmatch(text)
    if found is None:
        return text
    same = exercise_text.strip() == shown_for.strip()
    beat = (_beat_of(shown) if same else None) or _exercise_beat(exercise_text)
    return text if beat is None else f"{beat.numerator}/{beat.denominator} = {found[1]}"


def _beat_of(tempo_text: str) -> Fraction | None:
    try:
        return Tempo.parse(tempo_text).beat
    except EvenhandError:
        return None


def _exercise_beat(text: str) -> Fraction | None:
    try:
        return own_beat(parse_exercise(text))
    except EvenhandError:
        return None
