"""A straight trend through values that hang together: its slope, with an interval that allows for it.

Conventions: values at evenly spaced moments, shape (n,). The scatter about the line is taken as a process
in which each value keeps a share ``memory`` of the one before (AR(1)); how much is not known, so a grid of
memories is weighed by the restricted likelihood, and the slope is a mixture of Student's t over it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.practising.mixtures import middle_95

Floats = NDArray[np.float64]

FEWEST = 6
MEMORIES = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95])


@dataclass(frozen=True, slots=True)
class Slope:
    """A slope per unit of ``at``, and where it lies with 95 % certainty."""

    value: float
    ci95: tuple[float, float]
    n: int


def slope_of(at: Floats, values: Floats) -> Slope | None:
    """Return the slope of values over moments that lie evenly; None where there are too few."""
    n = len(values)
    if n < FEWEST or float(np.ptp(at)) <= 0:
        return None
    design = np.column_stack([np.ones(n), at - at.mean()])
    rows = [_under(memory, design, values) for memory in MEMORIES.tolist()]
    slopes, spreads, logs = (np.array(column) for column in zip(*rows, strict=True))
    weight = np.exp(logs - logs.max())
    weight /= weight.sum()
    return Slope(float(weight @ slopes), middle_95(slopes, spreads, weight, dof=n - 2), n)


def _under(memory: float, design: Floats, values: Floats) -> tuple[float, float, float]:
    """Return slope, its spread, and the log of the restricted likelihood under one memory."""
    n = len(values)
    apart = np.abs(np.arange(n)[:, None] - np.arange(n)[None, :])
    covariance = memory**apart if memory > 0 else np.eye(n)
    inverse = np.linalg.inv(covariance)
    information = design.T @ inverse @ design
    cov = np.linalg.inv(information)
    best = cov @ (design.T @ inverse @ values)
    rest = values - design @ best
    square = max(float(rest @ inverse @ rest), 1e-18)
    log = -0.5 * (np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(information)[1])
    log -= 0.5 * (n - 2) * np.log(square)
    return float(best[1]), float(np.sqrt(cov[1, 1] * square / (n - 2))), float(log)
