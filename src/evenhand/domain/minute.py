"""A minute of single strokes: how many, how evenly, and whether they tire.

Conventions: times in seconds from the first decoded sample; rates in strokes a second; ``ci95`` is for the
player's underlying value. Strokes are numbered from 0; even and odd ones are the two hands in turn, but
which hand is which the sound does not tell, unless it is said which began.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.domain.exercise import Hand
from evenhand.domain.measures import Measure
from evenhand.domain.take import InputFacts

RECORD_STROKES, RECORD_SECONDS = 1208, 60  # fastest single strokes in a minute, 2013: from memory
RECORD_PER_S = RECORD_STROKES / RECORD_SECONDS


@dataclass(frozen=True, slots=True)
class HeardMinute:
    """The strokes of one take, or of its first ``asked_s`` seconds of playing.

    ``strokes`` counts all: ``hidden`` of them were not heard by themselves but must have been played, since
    the train goes on through them. ``left_out_s`` are moments when a stroke was due and none was played.
    ``whole`` tells whether the take lasts as long as was asked; else ``per_minute`` is reckoned from
    its rate. ``rate_per_s`` are (middle of the window, strokes a second).
    """

    input: InputFacts
    asked_s: float
    start_s: float
    strokes: int
    hidden: int
    left_out_s: tuple[float, ...]
    seconds: float
    per_minute: float
    whole: bool
    stops: int
    rate_per_s: tuple[tuple[float, float], ...]
    tiring_per_minute: Measure  # strokes a second, each minute; negative slows down
    interval_ms: Measure
    interval_sd_ms: Measure  # about the two hands' own intervals and the slow course of the rate
    alternation_ms: Measure  # interval after odd strokes less that after even ones
    second_hand_late_ms: Measure  # odd strokes against the middle between their neighbours
    level_difference_db: Measure  # odd strokes less even ones
    first_hand: Hand | None
    name: str
    version: str
    warnings: tuple[str, ...] = ()
