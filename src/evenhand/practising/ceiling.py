"""The tempo ceiling from repetitions at several tempos, and the tempo to try next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from evenhand.domain.ceiling import TempoCeiling, TriedRepetition
from evenhand.domain.exercise import Hand
from evenhand.domain.measures import Measure
from evenhand.domain.tempo import click_step_bpm, on_the_click
from evenhand.practising.psychometric import Posterior, expected_narrowing, posterior_of

FEWEST = 8  # repetitions, of which some in control and some not
ENOUGH_SHARE = 0.06  # half the interval, of the ceiling
A_TAKE = 8  # repetitions of the next take
LOOSE_CHANCE = 2 / 3  # no tempo is proposed at which control is less likely than this (a convention)
FASTER_AT_ONCE = 1.10  # nor one so much faster than the fastest that went well (a convention)
SLOWER_AT_ONCE = 0.80
CURVE_POINTS = 33
BEYOND = 1.3  # an interval that goes so far past the tempos tried is bounded by no repetition


def tempo_ceiling(tried: Sequence[TriedRepetition], beat: Fraction) -> TempoCeiling:
    """Find the ceiling of both hands together and of each, and what to try next."""
    hands = sorted({hand for repetition in tried for hand in repetition.hands})
    return replace(ceiling_of_both(tried, beat), hands={hand: _of_hand(tried, hand) for hand in hands})


def ceiling_of_both(tried: Sequence[TriedRepetition], beat: Fraction) -> TempoCeiling:
    """Find the ceiling of both hands together, and what to try next; of neither hand alone."""
    if not tried:
        nothing = Measure(None, 0, "bpm", needs=FEWEST)
        return TempoCeiling(beat, nothing, {}, (), None, enough=False, why="no whole repetition was heard")
    posterior = _posterior(tried, None)
    return _with_next(tried, posterior, _measure(posterior, [each.controlled for each in tried]), beat)


def with_curve(found: TempoCeiling) -> TempoCeiling:
    """Return a ceiling with the course of the chance of control, for drawing."""
    if not found.tried:
        return found
    return replace(found, curve=_curve(found.tried, _posterior(found.tried, None)))


def _of_hand(tried: Sequence[TriedRepetition], hand: Hand) -> Measure:
    of_it = [each for each in tried if hand in each.hands]
    return _measure(_posterior(of_it, hand), [each.hands[hand] for each in of_it])


def _posterior(tried: Sequence[TriedRepetition], hand: Hand | None) -> Posterior:
    controlled = [each.controlled if hand is None else each.hands[hand] for each in tried]
    return posterior_of(np.array([each.tempo_bpm for each in tried]), np.array(controlled))


def _measure(posterior: Posterior, controlled: Sequence[bool]) -> Measure:
    """Give the ceiling with its interval; nothing where the tempos tried do not bound it."""
    n = len(controlled)
    if n < FEWEST:
        return Measure(None, n, "bpm", needs=FEWEST)
    low, middle, high = (posterior.quantile(share) for share in (0.025, 0.5, 0.975))
    slowest, fastest = posterior.tried_bpm
    bounded = slowest / BEYOND < low and high < fastest * BEYOND
    if all(controlled) or not any(controlled) or not bounded:
        return Measure(None, n, "bpm")
    return Measure(middle, n, "bpm", (low, high))


def _with_next(
    tried: Sequence[TriedRepetition],
    posterior: Posterior,
    ceiling: Measure,
    beat: Fraction,
) -> TempoCeiling:
    """Say whether that is enough, else what to try next and why."""
    controlled = [each.controlled for each in tried]
    enough = _narrow(ceiling)
    next_bpm = None if enough else _next_tempo(tried, posterior)
    unknown = ceiling.value is None
    return TempoCeiling(
        beat=beat,
        ceiling=ceiling,
        hands={},
        tried=tuple(tried),
        next_tempo_bpm=next_bpm,
        enough=enough,
        why=_why(ceiling, controlled, next_bpm),
        at_least_bpm=posterior.quantile(0.025) if unknown and any(controlled) else None,
        at_most_bpm=posterior.quantile(0.975) if unknown and not all(controlled) else None,
    )


def _narrow(ceiling: Measure) -> bool:
    if ceiling.value is None or ceiling.ci95 is None:
        return False
    return (ceiling.ci95[1] - ceiling.ci95[0]) / 2 <= ENOUGH_SHARE * ceiling.value


def _next_tempo(tried: Sequence[TriedRepetition], posterior: Posterior) -> float:
    """Choose the tempo that tells most, of those at which the hands are likely to stay loose."""
    well = [each.tempo_bpm for each in tried if each.controlled]
    slowest = min(each.tempo_bpm for each in tried)
    if not well:
        return on_the_click(slowest * SLOWER_AT_ONCE)
    fastest = max(well) * FASTER_AT_ONCE
    step = click_step_bpm(fastest)
    first, last = math.ceil(slowest * SLOWER_AT_ONCE / step), math.floor(fastest / step)
    candidates = np.arange(first, last + 1, dtype=np.float64) * step
    loose = candidates[posterior.chance(candidates) >= LOOSE_CHANCE]
    if not len(loose):
        return on_the_click(slowest * SLOWER_AT_ONCE)
    return float(loose[np.argmax(expected_narrowing(posterior, loose, A_TAKE))])


def _why(ceiling: Measure, controlled: Sequence[bool], next_bpm: float | None) -> str:
    """Say in a line where things stand."""
    went_well, n = sum(controlled), len(controlled)
    count = f"{went_well} of {n} repetitions in control"
    if n < FEWEST:
        return f"{count}: too few to judge, {FEWEST} are needed"
    if all(controlled):
        return f"{count}: the ceiling lies higher than what was tried"
    if not went_well:
        return f"{count}: the ceiling lies lower than what was tried"
    if ceiling.value is None:
        return f"{count}: the tempos tried do not show the ceiling yet"
    if next_bpm is None:
        return f"{count}: known well enough to practise by"
    return f"{count}: a take at the next tempo would tell most"


def _curve(
    tried: Sequence[TriedRepetition], posterior: Posterior
) -> tuple[tuple[float, float, float, float], ...]:
    """Return tempo, chance of control and its interval over the tempos tried and a little beyond."""
    tempos = [each.tempo_bpm for each in tried]
    grid = np.linspace(min(tempos) * 0.93, max(tempos) * 1.07, CURVE_POINTS)
    chance = posterior.chance(grid)
    bands = [posterior.chance_band(tempo) for tempo in grid]
    return tuple(
        (float(t), float(c), low, high) for t, c, (low, high) in zip(grid, chance, bands, strict=True)
    )
