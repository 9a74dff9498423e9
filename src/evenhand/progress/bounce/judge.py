"""Judge drops of the stick: how much of its speed it keeps, how high it was, whether it was left alone.

Conventions: times in seconds, rising; levels in dB re full scale; heights in cm of a free fall. Of grips and
hands, the logarithm of restitution is compared, of free drops only. Drops of one label differ from each other
(the hand is never the same twice): how much is weighed as in ``random_effects``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from evenhand.arrays import Floats, Ints
from evenhand.measuring.values import Measure
from evenhand.progress.bounce.restitution import (
    MOST_KEPT,
    BounceComparison,
    DropKind,
    Estimate,
    HeardDrop,
    LabelBounce,
    LawFit,
    fit_law,
)
from evenhand.progress.statistics import Mixture, random_effects, t_975
from evenhand.take import Remark

STEP_S, LASTS_S = 0.0025, 0.010
_BACKGROUND = 2.0  # per cent: the quietest of a take is its background; more would hold ringing, too


@dataclass(frozen=True, slots=True)
class LoudnessCurve:
    """The curve of one take."""

    level_db: Floats

    def loudest_db(self, start_s: float, end_s: float) -> float:
        """Return the loudest frame that begins in a stretch of time."""
        first = max(round(start_s / STEP_S), 0)
        last = max(round(end_s / STEP_S), first) + 1
        part = self.level_db[first:last]
        return float(part.max()) if len(part) else float("-inf")

    @property
    def background_db(self) -> float:
        """Return how loud the take is where nothing is struck."""
        return float(np.percentile(self.level_db, _BACKGROUND))

    @property
    def end_s(self) -> float:
        """Return where the curve ends."""
        return len(self.level_db) * STEP_S


FEWEST_FOR_SURE = 4  # blows
WIDEST_SURE = 0.25  # of the interval of restitution
SHORTEST_TOLD_S = 0.025  # a flight that the ear can tell surely
SHORTEST_OF_PAD_S = (
    0.060  # electronic pads tell no second blow sooner for sure (common practice: 10 to 50 ms)
)
DB_PER_LOG = 20 / math.log(10)
SHORTEST_SOONER_S = 0.035  # and one that can be seen to be cut short
_SOONER, _SOONER_SPREADS = 0.15, 4.0  # ln: a flight shorter by that much than the law was cut short
_UNDER_DB = 6.0  # a blow would have stood out above what sounds, were it there
_LEVELS = 4  # last blows whose level tells the next one's
_AROUND = 0.35  # of a flight, around where a blow is due
_FEWEST_FLIGHTS = 3  # before a finger is believed


@dataclass(frozen=True, slots=True)
class BlowsOfDrop:
    """What was heard of one drop: which blow of the law each is, and hits off the law behind them."""

    times_s: Floats
    numbers: Ints
    after_s: Floats
    levels_db: Floats | None = None  # of ``times_s``, where a pad has measured them

    @property
    def all_s(self) -> Floats:
        """The times of all its hits, shape (n,)."""
        return np.concatenate([self.times_s, self.after_s])


@dataclass(frozen=True, slots=True)
class PadFloor:
    """The softest blow that an electronic pad has reported in a take, dB."""

    level_db: float


@dataclass(frozen=True, slots=True)
class _Verdict:
    """What a drop was, why, and from where on it is not free."""

    kind: DropKind
    why: Remark
    from_s: float | None = None


def judge_drop(
    blows: BlowsOfDrop, loudness: LoudnessCurve | PadFloor | None, label: str | None = None
) -> HeardDrop:
    """Judge one drop.

    ``loudness`` tells whether a blow that did not come would have been noticed: the take's own, or how soft
    a blow an electronic pad still reported; without it nothing is said of a stick that was held.
    """
    free = _before_a_finger(blows.times_s, blows.numbers)
    fit = fit_law(blows.times_s[:free], blows.numbers[:free])
    verdict = _verdict(blows, free, fit, loudness)
    hits = blows.all_s
    n = 0 if fit is None else fit.n_flights
    return HeardDrop(
        start_s=float(hits[0]),
        hits_s=tuple(hits.tolist()),
        bounces=int(blows.numbers[-1]) + 1 + len(blows.after_s),
        rings_s=float(hits[-1] - hits[0]),
        restitution=_measure(None if fit is None else fit.restitution(), n, "share"),
        first_height_cm=_measure(None if fit is None else fit.first_height_cm(), n, "cm"),
        rebound_height_cm=_measure(None if fit is None else fit.rebound_height_cm(), n, "cm"),
        kind=verdict.kind,
        why=verdict.why,
        label=label,
        damped_from_s=verdict.from_s,
    )


def _measure(estimate: Estimate | None, n: int, unit: str) -> Measure:
    """Give an estimate as a figure; ``n`` counts flights."""
    if estimate is None:
        return Measure(None, n, unit, None, 2)
    return Measure(estimate.value, n, unit, estimate.ci95)


def _before_a_finger(times_s: Floats, numbers: Ints) -> int:
    """Return how many blows follow the law before a flight is cut short; all, where none is."""
    for blows in range(_FEWEST_FLIGHTS + 1, len(times_s)):
        flight = float(times_s[blows] - times_s[blows - 1])
        before = float(times_s[blows - 1] - times_s[blows - 2])
        if flight > math.exp(-_SOONER) * before or numbers[blows] != numbers[blows - 1] + 1:
            continue
        fit = fit_law(times_s[:blows], numbers[:blows])
        if fit is None:
            continue
        due, spread = fit.next_log_flight(int(numbers[blows - 1]))
        short = due - math.log(flight)
        if short > _SOONER and short > _SOONER_SPREADS * spread and math.exp(due) > SHORTEST_TOLD_S:
            return blows
    return len(times_s)


def _verdict(
    blows: BlowsOfDrop, free: int, fit: LawFit | None, loudness: LoudnessCurve | PadFloor | None
) -> _Verdict:
    """Say what the drop was."""
    last = float(blows.times_s[free - 1])
    if fit is None:
        return _Verdict("unsure", Remark("few hits of a drop", {"n": len(blows.times_s)}))
    if len(blows.times_s) >= FEWEST_FOR_SURE and fit.restitution().value > MOST_KEPT:
        return _Verdict("unsure", Remark("strokes, not a drop"))
    due_s = math.exp(fit.next_log_flight(int(blows.numbers[free - 1]))[0])
    sooner = free < len(blows.times_s) or len(blows.after_s) > 0
    if sooner and due_s > SHORTEST_SOONER_S:
        number = int(blows.numbers[free - 1]) + 1
        return _Verdict("damped", Remark("damped by a finger", {"hit": number}), last)
    if _held(blows, due_s, fit, loudness):
        return _Verdict("damped", Remark("held", {"hit": int(blows.numbers[-1]) + 1}), last)
    return _left_alone(blows, fit)


def _left_alone(blows: BlowsOfDrop, fit: LawFit) -> _Verdict:
    """Say of a drop that nothing damped whether that is sure."""
    low, high = fit.restitution().ci95
    if len(blows.times_s) < FEWEST_FOR_SURE:
        return _Verdict("unsure", Remark("few hits of a drop", {"n": len(blows.times_s)}))
    if high - low > WIDEST_SURE:
        return _Verdict("unsure", Remark("shrinks unevenly"))
    return _Verdict("free", Remark("bounced on by itself"))


def _held(blows: BlowsOfDrop, due_s: float, fit: LawFit, loudness: LoudnessCurve | PadFloor | None) -> bool:
    """Tell whether the next blow was due, would have been heard, and was not there."""
    if due_s < SHORTEST_TOLD_S or len(blows.times_s) < FEWEST_FOR_SURE:
        return False
    if loudness is None or isinstance(loudness, PadFloor):
        return loudness is not None and _pad_would_tell(blows, due_s, fit, loudness)
    last = float(blows.times_s[-1])
    start, end = last + (1 - _AROUND) * due_s, last + (1 + _AROUND) * due_s
    if end > loudness.end_s:  # the recording was stopped first
        return False
    level = _next_level_db(blows, fit, loudness)
    return loudness.loudest_db(start, end) < level - _UNDER_DB


def _pad_would_tell(blows: BlowsOfDrop, due_s: float, fit: LawFit, floor: PadFloor) -> bool:
    """Tell whether a pad would have reported the next blow: late enough after the last, and loud enough."""
    if blows.levels_db is None or due_s < SHORTEST_OF_PAD_S:
        return False
    next_db = float(blows.levels_db[-1]) + DB_PER_LOG * fit.log_kept
    return next_db > floor.level_db + _UNDER_DB


def _next_level_db(blows: BlowsOfDrop, fit: LawFit, loudness: LoudnessCurve) -> float:
    """Return how loud the next blow would be: sound follows speed, and a blow keeps e of it."""
    step_db = DB_PER_LOG * fit.log_kept
    number = int(blows.numbers[-1]) + 1
    expected = [
        loudness.loudest_db(t, t) + step_db * (number - k)
        for t, k in zip(blows.times_s[-_LEVELS:].tolist(), blows.numbers[-_LEVELS:].tolist(), strict=True)
    ]
    return float(np.median(expected))


BETWEEN = np.array([0.002, 0.005, 0.01, 0.02, 0.04, 0.08, 0.16])
USUAL_BETWEEN, BETWEEN_FACTOR = 0.02, 2.5
_NORMAL_95 = 1.96
_ENOUGH = 2  # drops


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


def _kept(pooled: Mixture | None, n: int) -> Measure:
    """Return the label's restitution."""
    if pooled is None:
        return Measure(None, n, "share", None, 1)
    low, high = pooled.ci95
    return Measure(math.exp(pooled.value), n, "share", (math.exp(low), min(math.exp(high), 1.0)))


def _bounces(free: Sequence[HeardDrop]) -> Measure:
    """Return the mean number of blows; it depends on the height too, so it is shown, not compared."""
    counts = np.array([drop.bounces for drop in free], dtype=np.float64)
    if len(counts) < _ENOUGH:
        value = float(counts[0]) if len(counts) else None
        return Measure(value, len(counts), "bounces", None, _ENOUGH)
    mean, error = float(counts.mean()), float(counts.std(ddof=1)) / math.sqrt(len(counts))
    reach = t_975(len(counts) - 1) * error
    return Measure(mean, len(counts), "bounces", (max(mean - reach, 0.0), mean + reach))


def _pooled(free: Sequence[HeardDrop]) -> Mixture | None:
    """Pool one label's free drops."""
    told = [(drop.restitution.value, drop.restitution.ci95) for drop in free]
    pairs = [(value, ci95) for value, ci95 in told if value is not None and ci95 is not None]
    if not pairs:
        return None
    logs = np.array([math.log(value) for value, _ in pairs])
    widths = np.array([math.log(high / low) for _, (low, high) in pairs])
    log_prior = -0.5 * (np.log(BETWEEN / USUAL_BETWEEN) / math.log(BETWEEN_FACTOR)) ** 2
    return random_effects(logs, widths / (2 * _NORMAL_95), BETWEEN, log_prior)


def _against(first: str, a: Mixture | None, second: str, b: Mixture | None) -> BounceComparison:
    """Set two labels against each other."""
    if a is None or b is None:
        return BounceComparison(first, second, Measure(None, 0, "share", None, 1), None)
    apart = a.minus(b)
    low, high = apart.ci95
    middle = math.exp((a.value + b.value) / 2)
    figure = [2 * middle * math.sinh(x / 2) for x in (apart.value, low, high)]
    longer = first if low > 0 else second if high < 0 else None
    return BounceComparison(first, second, Measure(figure[0], 2, "share", (figure[1], figure[2])), longer)


def _longest(names: Sequence[str], pairs: Sequence[BounceComparison]) -> str | None:
    """Name the label that bounces longer than each other one, if there is one."""
    for name in names:
        own = [pair for pair in pairs if name in {pair.first, pair.second}]
        if own and all(pair.longer == name for pair in own):
            return name
    return None
