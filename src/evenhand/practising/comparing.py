"""Which grip, or which hand, bounces longest: drops of one label pooled, labels set against each other.

Conventions: restitution is compared by its logarithm; only free drops count. Drops of one label differ
from each other (the hand is never the same twice): how much is not known, so a grid of spreads is weighed by
the restricted likelihood, as in ``restitution``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from evenhand.domain.bounce import BounceComparison, HeardDrop, LabelBounce
from evenhand.domain.measures import Measure
from evenhand.practising.mixtures import middle_95, t_975
from evenhand.practising.restitution import Floats

BETWEEN = np.array([0.002, 0.005, 0.01, 0.02, 0.04, 0.08, 0.16])
USUAL_BETWEEN, BETWEEN_FACTOR = 0.02, 2.5
_NORMAL_95 = 1.96
_ENOUGH = 2  # drops


@dataclass(frozen=True, slots=True)
class _Pooled:
    """ln e of one label: mean and spread under each between-drop spread of the grid."""

    weight: Floats
    mean: Floats
    spread: Floats


def compare(
    drops: Sequence[HeardDrop],
) -> tuple[tuple[LabelBounce, ...], tuple[BounceComparison, ...], str | None]:
    """Sum up each label, compare each pair, and name the longest bounce where it can be told."""
    names = list(dict.fromkeys(drop.label for drop in drops if drop.label is not None))
    of = {name: [drop for drop in drops if drop.label == name] for name in names}
    labels = tuple(_summed(name, of[name]) for name in names)
    pooled = {name: _pooled(_free(of[name])) for name in names}
    pairs = tuple(_against(a, pooled[a], b, pooled[b]) for a, b in combinations(names, 2))
    return labels, pairs, _longest(names, pairs)


def _free(drops: Sequence[HeardDrop]) -> list[HeardDrop]:
    """Return the drops that were left alone."""
    return [drop for drop in drops if drop.kind == "free" and drop.restitution.ci95 is not None]


def _summed(name: str, drops: Sequence[HeardDrop]) -> LabelBounce:
    """Sum up one label."""
    free = _free(drops)
    pooled = _pooled(free)
    return LabelBounce(name, len(drops), len(free), _kept(pooled, len(free)), _bounces(free))


def _kept(pooled: _Pooled | None, n: int) -> Measure:
    """Return the label's restitution."""
    if pooled is None:
        return Measure(None, n, "share", None, 1)
    low, high = middle_95(pooled.mean, pooled.spread, pooled.weight)
    middle = float(pooled.weight @ pooled.mean)
    return Measure(math.exp(middle), n, "share", (math.exp(low), min(math.exp(high), 1.0)))


def _bounces(free: Sequence[HeardDrop]) -> Measure:
    """Return the mean number of blows; it depends on the height too, so it is shown, not compared."""
    counts = np.array([drop.bounces for drop in free], dtype=np.float64)
    if len(counts) < _ENOUGH:
        value = float(counts[0]) if len(counts) else None
        return Measure(value, len(counts), "bounces", None, _ENOUGH)
    mean, error = float(counts.mean()), float(counts.std(ddof=1)) / math.sqrt(len(counts))
    reach = t_975(len(counts) - 1) * error
    return Measure(mean, len(counts), "bounces", (max(mean - reach, 0.0), mean + reach))


def _pooled(free: Sequence[HeardDrop]) -> _Pooled | None:
    """Pool one label's free drops."""
    told = [(drop.restitution.value, drop.restitution.ci95) for drop in free]
    pairs = [(value, ci95) for value, ci95 in told if value is not None and ci95 is not None]
    if not pairs:
        return None
    logs = np.array([math.log(value) for value, _ in pairs])
    widths = np.array([math.log(high / low) for _, (low, high) in pairs])
    own = (widths / (2 * _NORMAL_95)) ** 2
    variance = own[None, :] + BETWEEN[:, None] ** 2
    share = 1 / variance
    mean = (share @ logs) / share.sum(axis=1)
    squares = (share * (logs[None, :] - mean[:, None]) ** 2).sum(axis=1)
    log_weight = -0.5 * (np.log(variance).sum(axis=1) + np.log(share.sum(axis=1)) + squares)
    log_weight -= 0.5 * (np.log(BETWEEN / USUAL_BETWEEN) / math.log(BETWEEN_FACTOR)) ** 2
    weight = np.exp(log_weight - log_weight.max())
    return _Pooled(weight / weight.sum(), mean, np.sqrt(1 / share.sum(axis=1)))


def _against(first: str, a: _Pooled | None, second: str, b: _Pooled | None) -> BounceComparison:
    """Set two labels against each other."""
    if a is None or b is None:
        return BounceComparison(first, second, Measure(None, 0, "share", None, 1), None)
    weight = (a.weight[:, None] * b.weight[None, :]).ravel()
    mean = (a.mean[:, None] - b.mean[None, :]).ravel()
    spread = np.hypot(a.spread[:, None], b.spread[None, :]).ravel()
    low, high = middle_95(mean, spread, weight)
    middle = math.exp((float(a.weight @ a.mean) + float(b.weight @ b.mean)) / 2)
    figure = [2 * middle * math.sinh(x / 2) for x in (float(weight @ mean), low, high)]
    longer = first if low > 0 else second if high < 0 else None
    return BounceComparison(first, second, Measure(figure[0], 2, "share", (figure[1], figure[2])), longer)


def _longest(names: Sequence[str], pairs: Sequence[BounceComparison]) -> str | None:
    """Name the label that bounces longer than each other one, if there is one."""
    for name in names:
        own = [pair for pair in pairs if name in {pair.first, pair.second}]
        if own and all(pair.longer == name for pair in own):
            return name
    return None
