"""The tempo ceiling from repetitions at several tempos, and the tempo to try next.

The chance of control is (1 - lapse) F(x) with F(x) = 1 / (1 + exp((x - ceiling) / width - ln 3)): F is 3/4 at
the ceiling, and ``width`` is that of the fall. A lapse is a slip that has nothing to do with the tempo. The
three unknowns lie on a grid; what the repetitions say about them is a posterior over that grid (as in Watson
2017, J. Vision 17(3):10). Flat in the logarithm of the ceiling and of the width; small lapses are likelier
than large ones, as Beta(1, 19) has it.

Conventions: ``x`` is the natural logarithm of the tempo.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

import numpy as np

from evenhand.arrays import Bools, Floats, from_logs
from evenhand.measuring.values import Measure
from evenhand.music.exercise import Hand, click_step_bpm, on_the_click
from evenhand.progress.ceiling.control import TempoCeiling, TriedRepetition
from evenhand.take import Remark

CONTROL_AT_CEILING = 0.75
_LOG_ODDS = np.log(CONTROL_AT_CEILING / (1 - CONTROL_AT_CEILING))
ROOM = 1.6  # the ceiling is looked for from the slowest tempo tried by this share to the fastest by it
FEWEST = 8  # repetitions, of which some in control and some not
BEYOND = 1.3  # an interval that goes so far past the tempos tried is bounded by no repetition
CEILINGS = 241
WIDTHS = np.geomspace(0.01, 0.20, 13)
LAPSES = np.array([0.0025, 0.01, 0.025, 0.05, 0.10])
_LAPSE_WEIGHTS = np.array([0.18, 0.22, 0.28, 0.22, 0.10])  # Beta(1, 19) over the spans between


@dataclass(frozen=True)
class Posterior:
    """What is known after some repetitions: weights over (ceiling, width, lapse), sum 1."""

    ceilings: Floats  # shape (n_ceilings,), natural logarithms
    weights: Floats  # shape (n_ceilings, n_widths, n_lapses)
    controlled: Bools  # shape (n,), the repetitions it rests on

    @property
    def tried_bpm(self) -> tuple[float, float]:
        """The slowest and the fastest tempo tried."""
        return float(np.exp(self.ceilings[0]) * ROOM), float(np.exp(self.ceilings[-1]) / ROOM)

    @property
    def of_ceiling(self) -> Floats:
        """Weights of the ceiling alone, shape (n_ceilings,).

        Returns
        -------
        shape (n_ceilings,), sum 1
        """
        return np.asarray(self.weights.sum(axis=(1, 2)))

    @property
    def ceiling(self) -> Measure:
        """The ceiling with its interval; nothing where the tempos tried do not bound it."""
        n = len(self.controlled)
        if n < FEWEST:
            return Measure(None, n, "bpm", needs=FEWEST)
        low, middle, high = (self.quantile(share) for share in (0.025, 0.5, 0.975))
        slowest, fastest = self.tried_bpm
        bounded = slowest / BEYOND < low and high < fastest * BEYOND
        if self.controlled.all() or not self.controlled.any() or not bounded:
            return Measure(None, n, "bpm")
        return Measure(middle, n, "bpm", (low, high))

    @property
    def bounds(self) -> tuple[float | None, float | None]:
        """What a ceiling that is not known is at least, and at most, as far as the repetitions tell."""
        if self.ceiling.value is not None:
            return None, None
        at_least = self.quantile(0.025) if self.controlled.any() else None
        return at_least, None if self.controlled.all() else self.quantile(0.975)

    def quantile(self, share: float) -> float:
        """Return the tempo below which the ceiling lies with this probability, bpm."""
        cumulative = np.cumsum(self.of_ceiling)
        middle = cumulative - self.of_ceiling / 2
        return float(np.exp(np.interp(share, middle, self.ceilings)))

    def chance(self, tempo_bpm: Floats) -> Floats:
        """Return the chance of control at some tempos.

        Parameters
        ----------
        tempo_bpm : shape (n_tempos,), beats a minute

        Returns
        -------
        shape (n_tempos,), 0 to 1
        """
        return np.asarray(np.tensordot(_chances(np.log(tempo_bpm), self.ceilings), self.weights, axes=3))

    def chance_band(self, tempo_bpm: float) -> tuple[float, float]:
        """Return the 95 % range of the chance of control at one tempo."""
        chances = _chances(np.log([tempo_bpm]), self.ceilings)[0].ravel()
        order = np.argsort(chances)
        cumulative = np.cumsum(self.weights.ravel()[order])
        low, high = np.searchsorted(cumulative, [0.025, 0.975])
        last = len(order) - 1
        return float(chances[order[min(low, last)]]), float(chances[order[min(high, last)]])


def posterior_of(tempo_bpm: Floats, controlled: Bools) -> Posterior:
    """Weigh all ceilings, widths and lapses by the repetitions played.

    Parameters
    ----------
    tempo_bpm
        shape (n,), n of 1 or more, beats a minute.
    controlled
        shape (n,), whether each was in control.
    """
    x = np.log(tempo_bpm)
    ceilings = np.linspace(x.min() - np.log(ROOM), x.max() + np.log(ROOM), CEILINGS)
    at, which = np.unique(x, return_inverse=True)
    well = np.bincount(which, weights=controlled)
    not_well = np.bincount(which) - well
    chances = _chances(at, ceilings)
    log_weights = np.tensordot(well, np.log(chances), axes=1)
    log_weights += np.tensordot(not_well, np.log1p(-chances), axes=1)
    log_weights += np.log(_LAPSE_WEIGHTS)
    return Posterior(ceilings, from_logs(log_weights), controlled)


def expected_narrowing(posterior: Posterior, tempo_bpm: Floats, repetitions: int) -> Floats:
    """Return how much a take of so many repetitions would tell about the ceiling, at each tempo.

    Parameters
    ----------
    tempo_bpm : shape (n_tempos,), beats a minute
    repetitions : of the take

    Returns
    -------
    shape (n_tempos,), nats: the mutual information of the count in control and the ceiling
    """
    chances = np.clip(_chances(np.log(tempo_bpm), posterior.ceilings), 1e-9, 1 - 1e-9)
    counts = np.arange(repetitions + 1)
    binomial = _log_binomial(repetitions)
    narrowing = np.zeros(len(tempo_bpm))
    of_ceiling = posterior.of_ceiling
    for i, chance in enumerate(chances):
        log_likely = (
            binomial[:, None, None, None]
            + counts[:, None, None, None] * np.log(chance)
            + (repetitions - counts)[:, None, None, None] * np.log1p(-chance)
        )
        joint = (np.exp(log_likely) * posterior.weights).sum(axis=(2, 3))  # (counts, ceilings)
        narrowing[i] = _mutual_information(joint, of_ceiling)
    return narrowing


def _mutual_information(joint: Floats, of_ceiling: Floats) -> float:
    of_count = joint.sum(axis=1, keepdims=True)
    apart = of_count * of_ceiling
    there = joint > 1e-300
    return float(np.sum(joint[there] * np.log(joint[there] / np.maximum(apart, 1e-300)[there])))


def _log_binomial(n: int) -> Floats:
    logs = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, n + 1)))])
    return np.asarray(logs[n] - logs - logs[::-1])


def _chances(x: Floats, ceilings: Floats) -> Floats:
    """Return the chance of control, shape (n_x, n_ceilings, n_widths, n_lapses)."""
    z = (x[:, None, None] - ceilings[None, :, None]) / WIDTHS[None, None, :] - _LOG_ODDS
    falling = 0.5 * (1.0 - np.tanh(0.5 * z))
    return np.asarray(np.clip((1 - LAPSES) * falling[..., None], 1e-6, 1 - 1e-6))


ENOUGH_SHARE = 0.06  # half the interval, of the ceiling
A_TAKE = 8  # repetitions of the next take
LOOSE_CHANCE = 2 / 3  # no tempo is proposed at which control is less likely than this (a convention)
FASTER_AT_ONCE = 1.10  # nor one so much faster than the fastest that went well (a convention)
SLOWER_AT_ONCE = 0.80
CURVE_POINTS = 33


def tempo_ceiling(tried: Sequence[TriedRepetition], beat: Fraction) -> TempoCeiling:
    """Find the ceiling of both hands together and of each, and what to try next."""
    hands = sorted({hand for repetition in tried for hand in repetition.hands})
    return replace(ceiling_of_both(tried, beat), hands={hand: _of_hand(tried, hand) for hand in hands})


def ceiling_of_both(tried: Sequence[TriedRepetition], beat: Fraction) -> TempoCeiling:
    """Find the ceiling of both hands together, and what to try next; of neither hand alone."""
    if not tried:
        nothing = Measure(None, 0, "bpm", needs=FEWEST)
        return TempoCeiling(beat, nothing, {}, (), None, enough=False, why=Remark("no whole repetition"))
    controlled = tuple(each.controlled for each in tried)
    ceiling, (at_least, at_most), next_bpm = _found(tuple(each.tempo_bpm for each in tried), controlled)
    return TempoCeiling(
        beat=beat,
        ceiling=ceiling,
        hands={},
        tried=tuple(tried),
        next_tempo_bpm=next_bpm,
        enough=_narrow(ceiling),
        why=_why(ceiling, controlled, next_bpm),
        at_least_bpm=at_least,
        at_most_bpm=at_most,
    )


@lru_cache(maxsize=512)  # the plan and the page ask the same of an exercise, and several times
def _found(
    tempo_bpm: tuple[float, ...], controlled: tuple[bool, ...]
) -> tuple[Measure, tuple[float | None, float | None], float | None]:
    """Return the ceiling of some repetitions, its bounds where it is not known, and what to try next."""
    posterior = posterior_of(np.array(tempo_bpm), np.array(controlled))
    next_bpm = None if _narrow(posterior.ceiling) else _next_tempo(tempo_bpm, posterior)
    return posterior.ceiling, posterior.bounds, next_bpm


def with_curve(found: TempoCeiling) -> TempoCeiling:
    """Return a ceiling with the course of the chance of control, for drawing."""
    if not found.tried:
        return found
    return replace(found, curve=_curve(found.tried, _posterior(found.tried, None)))


def _of_hand(tried: Sequence[TriedRepetition], hand: Hand) -> Measure:
    of_it = [each for each in tried if hand in each.hands]
    return _posterior(of_it, hand).ceiling


def _posterior(tried: Sequence[TriedRepetition], hand: Hand | None) -> Posterior:
    controlled = [each.controlled if hand is None else each.hands[hand] for each in tried]
    return posterior_of(np.array([each.tempo_bpm for each in tried]), np.array(controlled))


def _narrow(ceiling: Measure) -> bool:
    if ceiling.value is None or ceiling.ci95 is None:
        return False
    return (ceiling.ci95[1] - ceiling.ci95[0]) / 2 <= ENOUGH_SHARE * ceiling.value


def _next_tempo(tempo_bpm: Sequence[float], posterior: Posterior) -> float:
    """Choose the tempo that tells most, of those at which the hands are likely to stay loose."""
    well = [bpm for bpm, held in zip(tempo_bpm, posterior.controlled, strict=True) if held]
    slowest = min(tempo_bpm)
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


def _why(ceiling: Measure, controlled: Sequence[bool], next_bpm: float | None) -> Remark:
    """Say where things stand."""
    facts = {"controlled": sum(controlled), "n": len(controlled), "needed": FEWEST}
    if len(controlled) < FEWEST:
        return Remark("too few to judge", facts)
    if all(controlled):
        return Remark("ceiling higher", facts)
    if not any(controlled):
        return Remark("ceiling lower", facts)
    if ceiling.value is None:
        return Remark("ceiling not shown", facts)
    return Remark("ceiling known" if next_bpm is None else "next tempo would tell", facts)


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
