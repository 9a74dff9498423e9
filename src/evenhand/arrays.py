"""Arrays by what they hold, and the few statistics that every room takes of them.

Conventions: shapes and units stand where an array is used. Samples, spectra and energies are ``Singles``;
times, levels and figures ``Floats``; ``Indices`` point into another array, ``Ints`` count or label.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Indices = NDArray[np.intp]
Bools = NDArray[np.bool_]

MAD_TO_SD = 1.4826  # from the median absolute deviation of a normal distribution to its standard deviation


class ArrayTable:
    """A dataclass with slots whose fields are arrays, a row each for the same things, in order."""

    __slots__: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.columns[0])

    @property
    def columns(self) -> list[NDArray[Any]]:
        """The fields, each of shape (n, ...)."""
        return [getattr(self, name) for name in self.__slots__]

    def only(self, keep: Bools | Indices | slice) -> Self:
        """Return some of the rows, by a mask of shape (n,), indices or a slice."""
        return type(self)(*(column[keep] for column in self.columns))

    @classmethod
    def joined(cls, parts: Sequence[Self]) -> Self:
        """Return the rows of one table after those of another."""
        return cls(*(np.concatenate(same) for same in zip(*(part.columns for part in parts), strict=True)))


Kind = TypeVar("Kind", bound=np.floating[Any])


def median(values: NDArray[np.floating[Any]]) -> float:
    """Return the middle value, or the mean of the two middle ones.

    ``numpy.median`` gives the same figure, but loads numpy's masked arrays on its first use, which a short
    command waits for.

    Parameters
    ----------
    values : shape (n,), n of 1 or more, no NaN

    Examples
    --------
    >>> median(np.array([4.0, 1.0, 3.0, 2.0]))
    2.5
    """
    return float(medians(values.reshape(-1, 1))[0])


def medians(values: NDArray[Kind]) -> NDArray[Kind]:
    """Return the median of each column.

    Parameters
    ----------
    values : shape (n, n_columns), n of 1 or more, no NaN

    Returns
    -------
    shape (n_columns,), in the values' unit
    """
    half = len(values) // 2
    middle = [half] if len(values) % 2 else [half - 1, half]
    return np.asarray(np.partition(values, middle, axis=0)[middle].mean(axis=0), dtype=values.dtype)


def robust_sd(rest: NDArray[np.floating[Any]]) -> float:
    """Return the standard deviation of values about zero, shape (n,), by their median distance from it."""
    return MAD_TO_SD * median(np.abs(rest))


def from_logs(log_weights: Floats) -> Floats:
    """Return weights that add up to 1 from their logarithms, each known but for a common constant.

    Parameters
    ----------
    log_weights : any shape, natural logarithms

    Returns
    -------
    the same shape
    """
    weights = np.exp(log_weights - log_weights.max())
    return np.asarray(weights / weights.sum())
