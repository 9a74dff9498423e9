"""Take several takes' figures together, so that one good or bad day counts as no more than that.

Conventions: arrays have shape (n_takes,), all in the same unit. A student's takes differ from each other by
more than their own intervals say (form on the day). How much is not known: a grid of such spreads is weighed
by the restricted likelihood and a prior around what is usual, and the mean's interval is that of the mixture
(random effects; as ``comparing`` does for drops).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.measures import Measure
from evenhand.practising.mixtures import middle_95

Floats = NDArray[np.float64]

NORMAL_95 = 1.959964
_STEPS = np.arange(-3.0, 4.0)
_FACTOR = 2.0  # from each spread of the grid to the next; the prior's own width is one such step


def pooled(values: Floats, errors: Floats, usual_between: float) -> tuple[float, tuple[float, float]]:
    """Return the mean and its 95 % range.

    Parameters
    ----------
    values, errors
        The takes' figures and their standard errors, n of 1 or more.
    usual_between
        How much takes usually differ beyond that (standard deviation).
    """
    between = usual_between * _FACTOR**_STEPS
    variance = errors[None, :] ** 2 + between[:, None] ** 2
    share = 1 / variance
    mean = (share @ values) / share.sum(axis=1)
    squares = (share * (values[None, :] - mean[:, None]) ** 2).sum(axis=1)
    log_weight = -0.5 * (np.log(variance).sum(axis=1) + np.log(share.sum(axis=1)) + squares)
    log_weight -= 0.5 * _STEPS**2
    weight = np.exp(log_weight - log_weight.max())
    low, high = middle_95(mean, np.sqrt(1 / share.sum(axis=1)), weight)
    return float(weight @ mean / weight.sum()), (low, high)


def error_of(measure: Measure) -> float | None:
    """Return a figure's standard error, as far as its interval tells; None where it has none."""
    if measure.value is None or measure.ci95 is None:
        return None
    return (measure.ci95[1] - measure.ci95[0]) / (2 * NORMAL_95)


def log_error_of(measure: Measure) -> float | None:
    """Return the standard error of a positive figure's logarithm."""
    if measure.value is None or measure.ci95 is None or measure.value <= 0 or measure.ci95[0] <= 0:
        return None
    return float(np.log(measure.ci95[1] / measure.ci95[0])) / (2 * NORMAL_95)
