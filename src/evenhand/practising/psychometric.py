"""How the chance of a controlled repetition falls with tempo, and where it passes three in four.

Conventions: ``x`` is the natural logarithm of the tempo. The chance of control is
(1 - lapse) F(x) with F(x) = 1 / (1 + exp((x - ceiling) / width - ln 3)): F is 3/4 at
the ceiling, and ``width`` is that of the fall. A lapse is a slip that has nothing to
do with the tempo.

The three unknowns lie on a grid; what the repetitions say about them is a posterior
over that grid (as in Watson 2017, J. Vision 17(3):10, whose functions have the same
parts: threshold, slope, lapse). Flat in the logarithm of the ceiling and of the width;
small lapses are likelier than large ones, as Beta(1, 19) has it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

CONTROL_AT_CEILING = 0.75
_LOG_ODDS = np.log(CONTROL_AT_CEILING / (1 - CONTROL_AT_CEILING))
ROOM = 1.6  # the ceiling is looked for from the slowest tempo tried by this share to the fastest by it
CEILINGS = 241
WIDTHS = np.geomspace(0.01, 0.20, 13)
LAPSES = np.array([0.0025, 0.01, 0.025, 0.05, 0.10])
_LAPSE_WEIGHTS = np.array([0.18, 0.22, 0.28, 0.22, 0.10])  # Beta(1, 19) over the spans between


@dataclass(frozen=True)
class Posterior:
    """What is known after some repetitions: weights over (ceiling, width, lapse), sum 1."""

    ceilings: Floats  # shape (n_ceilings,), natural logarithms
    weights: Floats  # shape (n_ceilings, n_widths, n_lapses)

    @property
    def tried_bpm(self) -> tuple[float, float]:
        """The slowest and the fastest tempo tried."""
        return float(np.exp(self.ceilings[0]) * ROOM), float(np.exp(self.ceilings[-1]) / ROOM)

    @property
    def of_ceiling(self) -> Floats:
        """Weights of the ceiling alone, shape (n_ceilings,)."""
        return np.asarray(self.weights.sum(axis=(1, 2)))

    def quantile(self, share: float) -> float:
        """Return the tempo below which the ceiling lies with this probability, bpm."""
        cumulative = np.cumsum(self.of_ceiling)
        middle = cumulative - self.of_ceiling / 2
        return float(np.exp(np.interp(share, middle, self.ceilings)))

    def chance(self, tempo_bpm: Floats) -> Floats:
        """Return the chance of control at some tempos, shape (n_tempos,)."""
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
        Shape (n,), n of 1 or more, beats a minute.
    controlled
        Shape (n,), whether each was in control.
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
    weights = np.exp(log_weights - log_weights.max())
    return Posterior(ceilings, weights / weights.sum())


def expected_narrowing(posterior: Posterior, tempo_bpm: Floats, repetitions: int) -> Floats:
    """Return how much a take of so many repetitions would tell about the ceiling, at each tempo.

    In nats: the mutual information of the count of controlled repetitions and the
    ceiling. Shape (n_tempos,).
    """
    chances = np.clip(_chances(np.log(tempo_bpm), posterior.ceilings), 1e-9, 1 - 1e-9)
    counts = np.arange(repetitions + 1)
    binomial = _log_binomial(repetitions)
    told = np.zeros(len(tempo_bpm))
    of_ceiling = posterior.of_ceiling
    for i, chance in enumerate(chances):
        log_likely = (
            binomial[:, None, None, None]
            + counts[:, None, None, None] * np.log(chance)
            + (repetitions - counts)[:, None, None, None] * np.log1p(-chance)
        )
        joint = (np.exp(log_likely) * posterior.weights).sum(axis=(2, 3))  # (counts, ceilings)
        told[i] = _mutual_information(joint, of_ceiling)
    return told


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
