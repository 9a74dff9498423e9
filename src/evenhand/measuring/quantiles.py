"""The 95 % points of Student's t and of chi-square, for any degrees of freedom from 1 up.

Tables, read between their knots: within 0.7 % of scipy.stats everywhere (checked in the tests), and no
scipy to wait for. The knots stand evenly in 1/dof (t) and 1/sqrt(dof) (chi-square), where the curves
are nearly straight.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

LIGHTEST = 3e-4  # parts of a mixture that weigh less are left out

_DOF = np.array(
    [1, 1.1, 1.25, 1.4, 1.6, 1.8, 2.1, 2.5, 3, 3.6, 4.4, 5.5, 7, 9, 12, 17, 25, 45, 100, 300, 1e9]
)  # fmt: skip
_T_975 = np.array(
    [12.706, 10.277, 8.028, 6.657, 5.5172, 4.7949, 4.1122, 3.5747, 3.1824, 2.9024, 2.6797, 2.5019, 2.3646,
     2.2622, 2.1788, 2.1098, 2.0595, 2.0141, 1.9840, 1.9679, 1.9600]
)  # fmt: skip
_DOF_OVER_CHI2_025 = np.array(
    [1018.3, 557.12, 271.91, 155.61, 87.509, 56.165, 33.991, 21.075, 13.902, 9.8283, 7.1549, 5.3513, 4.1423,
     3.3329, 2.7249, 2.2474, 1.9055, 1.5864, 1.3473, 1.1815, 1.0001]
)  # fmt: skip
_DOF_OVER_CHI2_975 = np.array(
    [0.19905, 0.20787, 0.22026, 0.23177, 0.24595, 0.25900, 0.27681, 0.29789, 0.32091, 0.34480, 0.37196,
     0.40297, 0.43715, 0.47312, 0.51421, 0.56308, 0.61506, 0.68797, 0.77184, 0.85745, 0.99991]
)  # fmt: skip

_BY_INVERSE = 1 / _DOF[::-1]
_BY_ROOT = np.sqrt(_BY_INVERSE)
_LOG_T, _LOG_UPPER, _LOG_LOWER = (
    np.log(table[::-1]) for table in (_T_975, _DOF_OVER_CHI2_025, _DOF_OVER_CHI2_975)
)


def t_975(dof: float) -> float:
    """Return the point that Student's t stays below 97.5 times in 100."""
    return math.exp(float(np.interp(1 / max(dof, 1.0), _BY_INVERSE, _LOG_T)))


def mixed_reach(errors: NDArray[np.float64], dof: NDArray[np.float64], weight: NDArray[np.float64]) -> float:
    """Return how far to either side 95 % of a mixture of Student's t lies.

    Parameters
    ----------
    errors, dof, weight
        Standard error, degrees of freedom and weight (summing to 1) of each, shape (n_grid,).

    Notes
    -----
    The tail of t goes by Wallace's (1959) near-normal form, within 0.003 of the exact chance from 2 degrees
    of freedom up. Halving on the log of the reach, to 1 part in 1000.
    """
    heavy = weight > LIGHTEST
    parts = list(
        zip(errors[heavy].tolist(), np.maximum(dof[heavy], 1.0).tolist(), weight[heavy].tolist(), strict=True)
    )
    ends = [t_975(d) * error for error, d, _ in parts]
    low, high = min(ends), max(ends)
    if low <= 0 or len(parts) == 1:
        return float(high)
    beyond_all = 0.05 * sum(w for _, _, w in parts)
    while high > low * 1.001:
        reach = math.sqrt(low * high)
        beyond = sum(w * _two_tails(reach / error, d) for error, d, w in parts)
        low, high = (reach, high) if beyond > beyond_all else (low, reach)
    return float(high)


def _two_tails(t: float, dof: float) -> float:
    """Return the chance that Student's t lies further out than ``t`` on either side."""
    z = (8 * dof + 1) / (8 * dof + 3) * math.sqrt(dof * math.log1p(t * t / dof))
    return math.erfc(z / math.sqrt(2))


def variance_factors(dof: float) -> tuple[float, float]:
    """Return what a sample variance is multiplied by for the ends of its 95 % range."""
    at = 1 / math.sqrt(max(dof, 1.0))
    lower, upper = np.interp(at, _BY_ROOT, _LOG_LOWER), np.interp(at, _BY_ROOT, _LOG_UPPER)
    return math.exp(float(lower)), math.exp(float(upper))
