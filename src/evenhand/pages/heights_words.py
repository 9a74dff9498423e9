"""Loudness as height, in words: for the terminal and for the pictures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from evenhand.domain.height_scale import (
    PHYSICS_DB_PER_DECADE,
    HandScale,
    HeightCalibration,
    SaidHeights,
    SaidStroke,
)
from evenhand.domain.stroke import STROKE_CLASSES, StrokeClass
from evenhand.pages.figures import count, interval_words, listed, plain

PLURALS: dict[StrokeClass, str] = {"tap": "taps", "half": "halves", "full": "fulls"}
NAMES = {"R": "right", "L": "left", "both": "both hands"}
SCALE_HEADS = ("hand", "dB a decade of height", "95 % range", "taps", "halves", "fulls", "spread")
SAID_HEADS = ("hand", "taps", "halves", "fulls", "none of them", "sure by more than 0.9")
PHYSICS_NOTE = (
    f"By physics it is about {PHYSICS_DB_PER_DECADE:g} dB a decade (ten times the height) where the stick "
    "only falls; a player who adds force to the high strokes shows more."
)
SURE = 0.9


def calibration_words(calibration: HeightCalibration) -> str:
    """Say what the calibration gives."""
    slope = calibration.scales["both"].slope_db_per_decade
    if slope.value is None:
        return "The scale is not known yet."
    doubled = slope.value * 0.30103
    own = [scale for of, scale in calibration.scales.items() if of != "both"] or [calibration.scales["both"]]
    spread = max(scale.spread_db for scale in own)
    louder = f"Twice the height is {plain(doubled, 1)} dB louder"
    return f"{louder}; hits of one height spread by {plain(spread, 1)} dB."


def scale_cells(name: str, scale: HandScale) -> tuple[str, ...]:
    """Return one hand's row."""
    slope = scale.slope_db_per_decade
    levels = [f"{plain(scale.classes[stroke].mean_db, 1)} dB" for stroke in STROKE_CLASSES]
    return (
        NAMES[name],
        plain(slope.value or 0.0, 1),
        interval_words(slope.ci95, 1),
        *levels,
        f"{plain(scale.spread_db, 1)} dB",
    )


def said_words(said: SaidHeights) -> str:
    """Say what the take's hits were, in one sentence."""
    if said.refused is not None:
        return said.refused
    kinds = Counter(stroke.stroke for stroke in said.strokes)
    parts = [count(kinds[each], each, PLURALS[each]) for each in STROKE_CLASSES if kinds[each]]
    if kinds[None]:
        parts.append(f"{kinds[None]} unlike any of them")
    return f"{count(len(said.strokes), 'hit')}: most likely {listed(parts)}."


def said_rows(said: SaidHeights) -> list[tuple[str, ...]]:
    """Return a row for each hand that there are hits of."""
    hands = [hand for hand in ("R", "L", None) if any(s.hand == hand for s in said.strokes)]
    return [_hand_row(hand, [s for s in said.strokes if s.hand == hand]) for hand in hands]


def _hand_row(hand: str | None, strokes: Sequence[SaidStroke]) -> tuple[str, ...]:
    kinds = Counter(stroke.stroke for stroke in strokes)
    sure = sum(1 for stroke in strokes if (stroke.probability or 0.0) > SURE)
    name = NAMES[hand] if hand is not None else "not known"
    numbers = [kinds[each] for each in STROKE_CLASSES]
    return (name, *(str(n) for n in numbers), str(kinds[None] or ""), f"{sure} of {len(strokes)}")
