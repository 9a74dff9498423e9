"""The sound of a played exercise: a pad, each stroke as loud as its height makes it, the same each time.

Conventions: heights in cm, levels in dB re a stroke from the height of a full one; sounds of shape (n,).

A stick that falls from a height ``h`` strikes at a speed of ``sqrt(2 g h)``, and sound pressure goes with the
speed: the level rises by ``10 log10`` of the ratio of heights (half the height, 3 dB less).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.exercise import Hand
from evenhand.domain.stroke import COMMON_HEIGHTS
from evenhand.sound.instruments import DRUMS
from evenhand.sound.placing import place
from evenhand.sound.strokes import LEAD, synthesise

Floats = NDArray[np.float64]

REFERENCE_CM = COMMON_HEIGHTS.full.aim_cm
REFERENCE_VELOCITY = 0.9  # of what the drum model takes: 1 is the hardest there is
SOFTEST_VELOCITY = 0.04
START = 2 * LEAD  # samples before the stroke's own start
ALWAYS_THE_SAME = 7  # seeds the small accidents of a stroke: every one has the same


def level_of_height_db(height_cm: float) -> float:
    """Return how loud a stroke from a height is.

    >>> round(level_of_height_db(REFERENCE_CM / 2), 2)
    -3.01
    """
    return 10 * math.log10(height_cm / REFERENCE_CM)


@dataclass(frozen=True, slots=True)
class StrokeSound:
    """One stroke: its sound, and the sample at which it starts."""

    sound: Floats
    start: int = START


def stroke_sound(hand: Hand, level_db: float, rate_hz: int) -> StrokeSound:
    """Build one stroke; its level is that of the first 10 ms, re a full stroke of the right hand.

    A softer stroke is duller too, as on a drum. The sticks of the two hands sound a little different.
    """
    velocity = np.array([max(REFERENCE_VELOCITY * 10 ** (level_db / 20), SOFTEST_VELOCITY)])
    rng = np.random.default_rng(ALWAYS_THE_SAME)
    rows = synthesise(DRUMS["pad"], velocity, np.array([hand == "R"]), rate_hz, rng)
    placed = place(rows, np.array([START / rate_hz]), np.array([level_db]), rate_hz)
    first = int(placed.first[0])
    ahead = np.zeros(max(first, 0))
    return StrokeSound(np.concatenate([ahead, placed.rows.head[0][max(-first, 0) :]]))
