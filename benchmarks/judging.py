"""What a method heard in one take, beside what was played.

Conventions: times in seconds, errors in ms (heard minus true), levels in dB; shape (n,) each. One constant
a take is removed from the times before anything is counted. Hits are matched one to one by mir_eval.

To be heard are all blows: notes, graces, extra blows. Bounces of a buzz may be heard or not. A detector that
knows no exercise is judged from the first blow to the last only; Evenhand is judged over the whole recording.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchmarks.takes import BenchTake

Floats = NDArray[np.float64]
Pairs = NDArray[np.int64]

WINDOWS_MS = (2, 5, 10)
WIDE_S = 0.010
AROUND_S = 0.05  # before the first blow and after the last, for detectors that know no exercise
CONSTANT_S, CONSTANT_WIDTH_S = 0.060, 0.004
BOUNCE_S, CLICK_S, CLICK_ALONE_S = 0.015, 0.012, 0.040
FAST_PER_S = 18.0
LOUD_WITHIN_DB, SOFT_BELOW_DB, BIAS_LEAST = 4.0, 10.0, 5


@dataclass(frozen=True)
class Score:
    """One method on one take. Pairs are (found, of)."""

    n_true: int
    n_heard: int
    matched: tuple[int, ...]  # at each of the windows
    errors_ms: tuple[float, ...]
    constant_ms: float
    graces: tuple[int, int]
    fast: tuple[int, int]
    on_clicks: tuple[int, int]
    bias_ms: float | None
    spread_errors_ms: tuple[float, ...]
    cpu_s: float
    own: OwnScore | None = None


@dataclass(frozen=True)
class OwnScore:
    """What only Evenhand says of a take. Counts are (right, said, true)."""

    aligned_wrong: bool
    wrong_share: float
    shift: int | None  # notes
    only_repetition: bool  # aligned wrong, but on the right notes of another repetition
    hands_wrong: tuple[int, int]
    lost: bool
    said_ambiguous: bool
    said_unlike: bool
    level_errors_db: tuple[float, ...]
    missed: tuple[int, int, int]
    extra: tuple[int, int, int]
    clicks: tuple[int, int, int]
    named_graces: tuple[int, int]
    figure_errors: dict[str, float] = field(default_factory=dict)
    whole_cpu_s: float = 0.0
    hidden: int = 0  # notes that lie under louder ones, so that nothing could be heard


@dataclass(frozen=True)
class Matched:
    """True blows and heard ones, with the pairs (true, heard) that lie within 10 ms."""

    true_s: Floats
    heard_s: Floats
    pairs: Pairs
    constant_s: float

    @property
    def errors_ms(self) -> Floats:
        """Heard minus true, of the pairs."""
        return np.asarray(1000 * (self.heard_s[self.pairs[:, 1]] - self.true_s[self.pairs[:, 0]]))


def blow_times(take: BenchTake) -> Floats:
    """Return when all that is to be heard sounds, rising."""
    return np.array([blow.time_s for blow in take.blows])


def match(true_s: Floats, heard_s: Floats) -> Matched:
    """Take the constant off, and pair."""
    constant_s = constant_between(true_s, heard_s)
    shifted = heard_s - constant_s
    return Matched(true_s, shifted, paired(true_s, shifted, WIDE_S), constant_s)


def paired(true_s: Floats, heard_s: Floats, within_s: float) -> Pairs:
    """Pair one to one, as many as can be; shape (n_pairs, 2)."""
    import mir_eval

    if not len(true_s) or not len(heard_s):
        return np.zeros((0, 2), np.int64)
    return np.array(mir_eval.util.match_events(true_s, heard_s, within_s), np.int64).reshape(-1, 2)


def constant_between(true_s: Floats, heard_s: Floats) -> float:
    """Return the constant by which heard times lie off: the middle of where the differences lie thickest."""
    apart = np.sort((heard_s[:, None] - true_s[None, :]).ravel())
    apart = apart[np.abs(apart) < CONSTANT_S]
    if not len(apart):
        return 0.0
    ends = np.searchsorted(apart, apart + CONSTANT_WIDTH_S, side="right")
    first = int(np.argmax(ends - np.arange(len(apart))))
    return float(np.median(apart[first : ends[first]]))


def in_the_playing(true_s: Floats, heard_s: Floats) -> Floats:
    """Keep what was heard between the first blow and the last."""
    constant_s = constant_between(true_s, heard_s)
    shifted = heard_s - constant_s
    inside = (shifted >= true_s[0] - AROUND_S) & (shifted <= true_s[-1] + AROUND_S)
    return np.asarray(heard_s[inside])


def judge(take: BenchTake, all_heard_s: Floats, cpu_s: float, *, blind: bool) -> Score:
    """Judge the times that a method heard."""
    from benchmarks.figures import spread_errors_ms

    true_s = blow_times(take)
    heard_s = in_the_playing(true_s, all_heard_s) if blind else np.sort(all_heard_s)
    found = match(true_s, heard_s)
    free = unpaired(found)
    bounces = np.array(take.truth.bounces_s)
    ignored = int(near(free, bounces, BOUNCE_S).sum())
    counts = tuple(len(paired(true_s, found.heard_s, ms / 1000)) for ms in WINDOWS_MS)
    return Score(
        n_true=len(true_s),
        n_heard=len(heard_s) - ignored,
        matched=counts,
        errors_ms=tuple(found.errors_ms.tolist()),
        constant_ms=1000 * found.constant_s,
        graces=graces_found(take, found),
        fast=fast_found(take, found),
        on_clicks=on_clicks(take, all_heard_s - found.constant_s),
        bias_ms=bias_ms(take, found),
        spread_errors_ms=spread_errors_ms(take, found),
        cpu_s=cpu_s,
    )


def unpaired(found: Matched) -> Floats:
    """Return the heard times that no blow accounts for."""
    free = np.ones(len(found.heard_s), np.bool_)
    free[found.pairs[:, 1]] = False
    return found.heard_s[free]


def near(times_s: Floats, others_s: Floats, within_s: float) -> NDArray[np.bool_]:
    """Tell which times have another one near."""
    if not len(others_s) or not len(times_s):
        return np.zeros(len(times_s), np.bool_)
    return np.asarray(np.abs(times_s[:, None] - others_s[None, :]).min(axis=1) <= within_s)


def was_found(found: Matched) -> NDArray[np.bool_]:
    """Tell which blows were heard."""
    out = np.zeros(len(found.true_s), np.bool_)
    out[found.pairs[:, 0]] = True
    return out


def indices(found: Matched, times_s: Sequence[float]) -> Pairs:
    """Return where some true blows stand among all."""
    return np.searchsorted(found.true_s, np.array(times_s, np.float64))


def graces_found(take: BenchTake, found: Matched) -> tuple[int, int]:
    """Count graces heard, of all."""
    at = indices(found, [hit.time_s for hit in take.truth.hits if hit.grace])
    return int(was_found(found)[at].sum()), len(at)


def fast_found(take: BenchTake, found: Matched) -> tuple[int, int]:
    """Count strokes heard, of all that stand among neighbours at 18 a second or more; graces don't count."""
    main = np.array([hit.time_s for hit in take.truth.hits if not hit.grace])
    fast = np.zeros(len(main), np.bool_)
    fast[1:-1] = (main[2:] - main[:-2]) / 2 <= 1 / FAST_PER_S
    at = indices(found, main[fast].tolist())
    return int(was_found(found)[at].sum()), len(at)


def on_clicks(take: BenchTake, heard_s: Floats) -> tuple[int, int]:
    """Count clicks that were heard as hits, of all clicks that sound alone."""
    truth = take.truth
    clicks = np.array(truth.clicks_s)
    others = np.concatenate([blow_times(take), np.array(truth.count_in_s), np.array(truth.bounces_s)])
    alone = clicks[~near(clicks, others, CLICK_ALONE_S)]
    return int(near(alone, heard_s, CLICK_S).sum()), len(alone)


def bias_ms(take: BenchTake, found: Matched) -> float | None:
    """Return how much later soft blows are read than loud ones; None where the take has too few of either."""
    level = np.array([blow.level_db for blow in take.blows])
    top = np.quantile(level, 0.9)
    paired_level, errors = level[found.pairs[:, 0]], found.errors_ms
    loud, soft = paired_level > top - LOUD_WITHIN_DB, paired_level < top - SOFT_BELOW_DB
    if loud.sum() < BIAS_LEAST or soft.sum() < BIAS_LEAST:
        return None
    return float(np.median(errors[soft]) - np.median(errors[loud]))
