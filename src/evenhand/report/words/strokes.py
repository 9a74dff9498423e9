"""Remarks on a stroke plan in words; notes count from 1."""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction

from evenhand.music.exercise import HAND_NAMES
from evenhand.music.strokes.heights import Unit, height_words
from evenhand.music.strokes.remarks import BOUNCE_UNDER_S, WRISTS_OVER_S, StrokeRemark, StrokeRemarkKind
from evenhand.report.words.figures import capitalised, listed

NAMED = 6  # so many notes are named; of more, the first are
_ALONE = (
    "{notes} from {height_cm}: by rebound and weight alone, up and down takes {needed_s}; "
    "there is {given_s}, enough for {reached_cm}."
)
STROKE_REMARKS: Mapping[StrokeRemarkKind, str] = {
    "needs_throw": (
        f"{_ALONE} It takes force: the stick is thrown, not dropped. Relaxed up to {{relaxed_bpm}}."
    ),
    "needs_lift": (
        f"{_ALONE} Rebound is not enough: rising alone takes {{rise_s}}, so the hand must lift. "
        "Relaxed up to {relaxed_bpm}."
    ),
    "stop_low": (
        "{notes}: a down stroke whose hand strikes again {given_s} later. "
        "Two wrist strokes usually end at {wrists_s} to {bounce_s}: "
        "stopping the stick low in that time is hard, and the next note comes too loud."
    ),
    "quick_lift": (
        "{notes}: an up stroke with {given_s} to get from low to {height_cm}; "
        "a free rise alone takes {rise_s}. Start the next note lower, or take it slower."
    ),
    "loud_second": (
        "{notes}: higher than the same hand's note {given_s} before. "
        "A bounce is never louder than its throw, so this takes a stroke of its own, from the fingers."
    ),
    "fast_hand": (
        "{hands} strikes every {given_s}, {rate:.1f} a second: "
        "a hand's steady limit is usually given as 5 to 7 a second."
    ),
    "grace_after_high": (
        "{notes}: by the hand that has just come from high. "
        "Its stick stops low after that note and waits there."
    ),
    "buzz": "{notes}: a buzz uses its rebound up on the head; the hand lifts the stick after it.",
}


def stroke_remark_words(remark: StrokeRemark, unit: Unit, beat: Fraction) -> str:
    """Say a remark, heights in a unit and tempos in a beat."""
    figures = {**remark.figures, "wrists_s": WRISTS_OVER_S, "bounce_s": BOUNCE_UNDER_S}
    said = {name: _figure_words(name, value, unit, beat) for name, value in figures.items()}
    given_s = remark.figures.get("given_s")
    return STROKE_REMARKS[remark.kind].format(
        notes=_blows(remark), hands=_hands(remark), rate=1 / given_s if given_s else 0.0, **said
    )


def tempo_below(beat: Fraction, bpm: float) -> str:
    """Write a tempo rounded down to whole beats.

    >>> tempo_below(Fraction(1, 8), 251.7)
    '1/8 = 251'
    """
    return f"{beat.numerator}/{beat.denominator} = {math.floor(bpm + 1e-9)}"


def _figure_words(name: str, value: float, unit: Unit, beat: Fraction) -> str:
    if name.endswith("_cm"):
        return height_words(value, unit)
    if name.endswith("_bpm"):
        return tempo_below(beat, value)
    return f"{value:.2f} s" if value >= 0.195 else f"{value:.3f} s"


def _blows(remark: StrokeRemark) -> str:
    """Name some blows: "Notes 1, 3 and 5", "The grace at note 2"."""
    numbers = [str(position + 1) for position in remark.positions]
    said = listed(numbers)
    if len(numbers) > NAMED:
        said = f"{', '.join(numbers[:NAMED])} and {len(numbers) - NAMED} more"
    notes = f"{'note' if len(numbers) == 1 else 'notes'} {said}"
    if remark.graces:
        return f"The {'grace' if remark.graces == 1 else 'graces'} at {notes}"
    return capitalised(notes)


def _hands(remark: StrokeRemark) -> str:
    return "Each hand" if len(remark.hands) == 2 else f"The {HAND_NAMES[remark.hands[0]]} hand"
