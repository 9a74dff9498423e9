"""Fit the lift scale to one player: some strokes left free, some lifted, on request.

Hands differ, so that what is free for one looks lifted on another. The medians of a player's free strokes
stand for free; the index turns half-way between the free strokes that look most lifted and the lifted that
look most free (one in ten of either may lie beyond). Where these overlap by more, the two cannot be told
apart on that player, and nothing is fitted.

Conventions: parts of rises as in ``LiftParts``; shares 0 to 1.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Floats, median
from evenhand.watching.peaks import FREE_BELOW, LIFTED_FROM, lift_odds
from evenhand.watching.values import LiftParts, LiftScale

FEWEST_OF_A_KIND = 12  # of 20 that are asked for
LEAST_TOLD_APART = 0.9  # of both kinds, on the average
BEYOND = 0.1  # of either kind may lie beyond where the index turns
LEAST_SLOPE, MOST_SLOPE = 0.5, 4.0


@dataclass(frozen=True, slots=True)
class NotFitted:
    """Why nothing was fitted: how many strokes of each kind were judged, and which share was told apart."""

    n_free: int
    n_lifted: int
    told_apart: float | None


def fit_lift_scale(free: Sequence[LiftParts], lifted: Sequence[LiftParts]) -> LiftScale | NotFitted:
    """Fit the scale to a player's own free and lifted strokes."""
    whole = [[each for each in kind if None not in _figures(each)] for kind in (free, lifted)]
    counts = len(whole[0]), len(whole[1])
    if min(counts) < FEWEST_OF_A_KIND:
        return NotFitted(*counts, None)
    columns = np.array([_figures(each) for each in whole[0]], dtype=np.float64).T
    at_free = (median(columns[0]), median(columns[1]), median(columns[2]))
    free_odds, lifted_odds = (_odds(kind, at_free) for kind in whole)
    low, high = float(np.quantile(free_odds, 1 - BEYOND)), float(np.quantile(lifted_odds, BEYOND))
    middle = (low + high) / 2
    told_apart = float(np.mean(free_odds < middle) + np.mean(lifted_odds >= middle)) / 2
    if told_apart < LEAST_TOLD_APART or high <= low:
        return NotFitted(*counts, told_apart)
    slope = max(_log_odds(LIFTED_FROM), -_log_odds(FREE_BELOW)) / (high - middle)
    return LiftScale(at_free, middle, min(max(slope, LEAST_SLOPE), MOST_SLOPE), *counts, told_apart)


def _figures(parts: LiftParts) -> tuple[float | None, ...]:
    return parts.half_rise, parts.energy_ratio, parts.at_30_ms


def _odds(kind: Sequence[LiftParts], at_free: tuple[float, float, float]) -> Floats:
    """Return each rise's log odds, shape (n,)."""
    return np.array([lift_odds(each, at_free) or 0.0 for each in kind])


def _log_odds(share: float) -> float:
    return math.log(share / (1 - share))
