"""Loudness as height: a pad, a microphone and a gain, calibrated by strokes of known height.

If sound follows striking speed and speed the root of the height, level rises by 10 dB a decade of height; a
player who adds force to the higher strokes shows more. How high a class was really played is known only to
within its range (a tap is 3 to 5 in): that, not the number of hits, is most of the uncertainty. What else
moves a whole class is not known; a grid of it is weighed by the restricted likelihood of the classes.

Conventions: levels in dB re full scale as of a hit, shape (n,); heights in cm of the stick's tip above the
drum; x is log10(height / 10 cm), a decade a factor of ten; ``both`` stands for both hands together, where the
hand is not known. A colour is how the sound of hits lies over the bands, dB about their mean.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from evenhand.arrays import Bools, Floats, Ints, from_logs, robust_sd
from evenhand.measuring.values import Measure
from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import STROKE_CLASSES, HeightRange, StrokeClass, StrokeHeights
from evenhand.progress.statistics import middle_95
from evenhand.take import InputFacts, Remark, RemarkKind, TakeKind

ScaleOf = Literal["R", "L", "both"]
PHYSICS_DB_PER_DECADE = 10.0  # sound follows speed, 20 log10 v, and speed the root of the height


@dataclass(frozen=True, slots=True)
class ClassLevel:
    """How loud one class of stroke came: mean of ``n`` hits, and how sure that mean is for another day."""

    mean_db: float
    doubt_db: float
    n: int


@dataclass(frozen=True, slots=True)
class HandScale:
    """One hand's scale. ``level = at_10_cm_db + slope x log10(height / 10 cm)``; hits spread about it."""

    slope_db_per_decade: Measure
    at_10_cm_db: float
    spread_db: float
    classes: Mapping[StrokeClass, ClassLevel]


@dataclass(frozen=True, slots=True)
class SetUp:
    """What would change if pad, microphone or gain did. ``colours`` are dB by band, class by class."""

    kind: TakeKind
    format: str
    rate_hz: int | None
    channels: int | None
    background_db: float | None
    quietest_db: float
    loudest_db: float
    colours: tuple[tuple[float, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class HeightCalibration:
    """All that is kept of a calibration."""

    heights: StrokeHeights
    scales: Mapping[ScaleOf, HandScale]
    set_up: SetUp
    version: str
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SaidStroke:
    """What one hit most likely was. ``stroke`` is None where it lies far outside all that was calibrated."""

    time_s: float
    level_db: float
    hand: Hand | None
    repetition: int | None
    position: int | None
    stroke: StrokeClass | None
    probability: float | None
    height_cm: float
    height_ci95_cm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class SaidHeights:
    """What was said of a take. Where it is ``refused``, the set-up seems changed, and nothing is said."""

    input: InputFacts
    name: str
    version: str
    refused: Remark | None
    strokes: tuple[SaidStroke, ...]
    warnings: tuple[str, ...] = ()


FEWEST_HITS = 8  # of each class
LEAST_STEP_DB = 1.0  # from one class to the next: less cannot be told apart
REFERENCE_CM = 10.0
_FAR = 4.0  # robust spreads: a hit so far off is another kind of stroke
_OTHER_DB = np.array([0.1, 0.2, 0.4, 0.8, 1.6, 3.2])
_USUAL_OTHER_DB, _OTHER_FACTOR = 0.4, 2.5
_OUTSIDE = 4.0  # spreads beyond the nearest class
_LEAST_SPREAD_DB = 0.3
_NORMAL_95 = 1.96


@dataclass(frozen=True, slots=True)
class Guess:
    """What a hit most likely was. ``stroke`` is None where it lies far outside of all classes."""

    stroke: StrokeClass | None
    probability: float | None
    height_cm: float
    height_ci95_cm: tuple[float, float]


def fit_scale(levels: Mapping[StrokeClass, Floats], heights: StrokeHeights) -> HandScale:
    """Fit one hand's scale to the levels of its taps, halves and fulls.

    Parameters
    ----------
    levels : shape (n_hits,) for each class, dB, ``FEWEST_HITS`` or more
    heights : what each class means, cm
    """
    kept = {stroke: _without_strays(levels[stroke]) for stroke in STROKE_CLASSES}
    means = np.array([kept[stroke].mean() for stroke in STROKE_CLASSES])
    freedom = sum(len(kept[stroke]) - 1 for stroke in STROKE_CLASSES)
    squares = sum(float(((kept[s] - kept[s].mean()) ** 2).sum()) for s in STROKE_CLASSES)
    spread = max(math.sqrt(squares / freedom), _LEAST_SPREAD_DB)
    counts = np.array([len(kept[stroke]) for stroke in STROKE_CLASSES])
    ranges = [heights.of(stroke) for stroke in STROKE_CLASSES]
    at = np.array([place(each.aim_cm) for each in ranges])
    error = _class_errors(spread, counts, ranges)
    slope, ci95, start = _line(at, means, error)
    classes = {
        stroke: ClassLevel(float(means[i]), float(error[i]), int(counts[i]))
        for i, stroke in enumerate(STROKE_CLASSES)
    }
    return HandScale(Measure(slope, int(counts.sum()), "dB/decade", ci95), start, spread, classes)


def place(height_cm: float) -> float:
    """Return log10 of a height over 10 cm.

    >>> place(100.0)
    1.0
    """
    return math.log10(height_cm / REFERENCE_CM)


def _without_strays(levels: Floats) -> Floats:
    """Leave out the few hits that are far from the rest."""
    middle = float(np.median(levels))
    spread = max(robust_sd(levels - middle), _LEAST_SPREAD_DB)
    return np.asarray(levels[np.abs(levels - middle) <= _FAR * spread])


def _class_errors(spread: float, counts: Ints, ranges: list[HeightRange]) -> Floats:
    """Return how far each class's mean may lie from that of its aimed height, dB.

    A height somewhere in a range, no place likelier than another: the range over the root of twelve.
    """
    about = [PHYSICS_DB_PER_DECADE * (place(r.high_cm) - place(r.low_cm)) / math.sqrt(12) for r in ranges]
    return np.asarray(np.hypot(spread / np.sqrt(counts), np.array(about)))


def _line(at: Floats, means: Floats, error: Floats) -> tuple[float, tuple[float, float], float]:
    """Fit a straight line to the classes: slope, its interval, and the level at 10 cm."""
    design = np.column_stack([np.ones_like(at), at])
    variance = error[None, :] ** 2 + _OTHER_DB[:, None] ** 2
    information = np.einsum("ki,mk,kj->mij", design, 1 / variance, design)
    cov = np.linalg.inv(information)
    best = np.einsum("mij,kj,mk,k->mi", cov, design, 1 / variance, means)
    rest = means[None, :] - best @ design.T
    logs = -0.5 * (np.log(variance).sum(1) + np.linalg.slogdet(information)[1] + (rest**2 / variance).sum(1))
    logs -= 0.5 * (np.log(_OTHER_DB / _USUAL_OTHER_DB) / math.log(_OTHER_FACTOR)) ** 2
    weight = from_logs(logs)
    ci95 = middle_95(best[:, 1], np.sqrt(cov[:, 1, 1]), weight)
    return float(weight @ best[:, 1]), ci95, float(weight @ best[:, 0])


def steps_db(scale: HandScale) -> tuple[float, float]:
    """Return how much louder halves are than taps, and fulls than halves."""
    tap, half, full = (scale.classes[stroke].mean_db for stroke in STROKE_CLASSES)
    return half - tap, full - half


def say_stroke(level_db: float, scale: HandScale) -> Guess:
    """Say what a hit most likely was: no class likelier than another before its level is known."""
    apart = np.array([level_db - scale.classes[stroke].mean_db for stroke in STROKE_CLASSES])
    spread = np.array([math.hypot(scale.spread_db, scale.classes[s].doubt_db) for s in STROKE_CLASSES])
    height, ci95 = _height(level_db, scale)
    z = apart / spread
    if abs(z[int(np.abs(z).argmin())]) > _OUTSIDE:
        return Guess(None, None, height, ci95)
    logs = -0.5 * z**2 - np.log(spread)
    chance = from_logs(logs)
    best = int(chance.argmax())
    return Guess(STROKE_CLASSES[best], float(chance[best]), height, ci95)


def _height(level_db: float, scale: HandScale) -> tuple[float, tuple[float, float]]:
    """Read a height off the line, with where it lies for a hit of that level."""
    slope = scale.slope_db_per_decade.value or PHYSICS_DB_PER_DECADE
    usual = float(np.mean([scale.classes[stroke].doubt_db for stroke in STROKE_CLASSES]))
    reach = _NORMAL_95 * math.hypot(scale.spread_db, usual) / slope
    at = (level_db - scale.at_10_cm_db) / slope
    low, middle, high = (REFERENCE_CM * 10 ** min(max(x, -3.0), 3.0) for x in (at - reach, at, at + reach))
    return middle, (low, high)


MOST_BACKGROUND_DB = 6.0  # the room's own noise moves less from day to day
MOST_COLOUR_DB = 2.0  # over the bands: another drum (2.3 to 2.7) or microphone; the same pad again is .6 off
SILENCE_DB = -90.0  # quieter backgrounds are all silence
OUTSIDE_SPREADS, OUTSIDE_SHARE, OUTSIDE_HITS = 3.5, 0.10, 3


def changed(now: SetUp, levels_db: Floats, calibration: HeightCalibration) -> Remark | None:
    """Return what has changed since the calibration, or None.

    Parameters
    ----------
    levels_db : shape (n_hits,), dB re full scale
    """
    then = calibration.set_up
    return (
        _of_file(now, then)
        or _of_background(now, then)
        or _of_colour(now, then)
        or _of_levels(levels_db, calibration)
    )


def _of_file(now: SetUp, then: SetUp) -> Remark | None:
    """Compare what the files are."""
    if (now.kind, now.format) != (then.kind, then.format):
        return Remark("another format", {"now": now.format, "then": then.format})
    if now.rate_hz != then.rate_hz:
        return Remark("another rate", {"now": now.rate_hz or 0, "then": then.rate_hz or 0})
    if now.channels != then.channels:
        return Remark("other channels", {"now": now.channels or 0, "then": then.channels or 0})
    return None


def _of_background(now: SetUp, then: SetUp) -> Remark | None:
    """Compare how loud it is where nothing is struck: a changed gain changes that, too."""
    if now.background_db is None or then.background_db is None:
        return None
    moved = max(now.background_db, SILENCE_DB) - max(then.background_db, SILENCE_DB)
    if abs(moved) <= MOST_BACKGROUND_DB:
        return None
    way = "louder" if moved > 0 else "quieter"
    return Remark("another background", {"by_db": abs(moved), "way": way})


def _of_colour(now: SetUp, then: SetUp) -> Remark | None:
    """Compare how hits sound: with the class that they sound most alike."""
    if not now.colours or not then.colours:
        return None
    apart = min(_colour_distance_db(np.array(now.colours[0]), np.array(colour)) for colour in then.colours)
    if apart <= MOST_COLOUR_DB:
        return None
    return Remark("another sound", {"by_db": apart})


def _colour_distance_db(one: Floats, other: Floats) -> float:
    """Return the mean difference of two colours over the bands."""
    if len(one) != len(other):
        return float("inf")
    return float(np.sqrt(np.mean((one - other) ** 2)))


def _of_levels(levels_db: Floats, calibration: HeightCalibration) -> Remark | None:
    """Compare levels with the range of what was calibrated."""
    scale = calibration.scales["both"]
    low = min(s.classes[STROKE_CLASSES[0]].mean_db for s in calibration.scales.values())
    high = max(s.classes[STROKE_CLASSES[-1]].mean_db for s in calibration.scales.values())
    reach = OUTSIDE_SPREADS * scale.spread_db
    for kind, outside in _outside(levels_db, low - reach, high + reach):
        count = int(outside.sum())
        if count >= OUTSIDE_HITS and count > OUTSIDE_SHARE * len(levels_db):
            return Remark(kind, {"n": count, "of": len(levels_db)})
    return None


def _outside(levels_db: Floats, low: float, high: float) -> tuple[tuple[RemarkKind, Bools], ...]:
    return ("louder than fulls", levels_db > high), ("softer than taps", levels_db < low)
