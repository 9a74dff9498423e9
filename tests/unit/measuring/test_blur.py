"""Times that are heard badly, and known to be: they spoil no figure. Oracle: the same hits heard exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenhand.measuring.estimates import mean_of, scatter_of, spread_of
from evenhand.measuring.measure import measure
from evenhand.music.exercise import Tempo
from evenhand.take import Heard, Hit
from tests.players import FAST, heard_of, written

TEMPO = Tempo.parse(FAST)
SEEDS = range(40)


def moved(hit: Hit, off_ms: float, se_ms: float | None) -> Hit:
    deviation = None if hit.deviation_ms is None else hit.deviation_ms + off_ms
    return replace(hit, time_s=hit.time_s + off_ms / 1000, deviation_ms=deviation, time_se_ms=se_ms)


def blurred(heard: Heard, rng: np.random.Generator, *, known: bool) -> Heard:
    """Hear every eighth hit with an error of 6 ms, the hand's own spread being 4 and 5."""
    bad = np.arange(len(heard.hits)) % 8 == 3
    off = np.where(bad, rng.normal(0, 6, bad.size), rng.normal(0, 0.05, bad.size)).tolist()
    errors = np.where(bad, 6.0, 0.05).tolist()
    rows = zip(heard.hits, off, errors, strict=True)
    return replace(heard, hits=tuple(moved(hit, o, e if known else None) for hit, o, e in rows))


def spread_errors(*, known: bool) -> float:
    """Return the root mean square of how far both hands' spreads lie from those of exact hearing, ms."""
    off = []
    for seed in SEEDS:
        exact = heard_of("RLRR LRLL", repetitions=12, seed=seed)
        heard = blurred(exact, np.random.default_rng(seed), known=known)
        true, said = (measure(each, written("RLRR LRLL"), TEMPO).hands for each in (exact, heard))
        off += [(said[h].timing_sd_ms.value or 0) - (true[h].timing_sd_ms.value or 0) for h in ("R", "L")]
    return float(np.sqrt(np.mean(np.square(off))))


def test_bad_times_that_are_known_for_such_spoil_a_spread_less() -> None:
    assert spread_errors(known=True) < 0.6 * spread_errors(known=False)


def test_exact_values_give_the_plain_figures(rng: np.random.Generator) -> None:
    values, notes = rng.normal(0, 3, 40), np.arange(40) % 4
    plain, exact = scatter_of(values, notes), scatter_of(values, notes, np.zeros(40))
    assert plain.total == pytest.approx(np.var(values, ddof=1))
    within = sum(np.sum((values[notes == k] - values[notes == k].mean()) ** 2) for k in range(4)) / 36
    assert plain.within == pytest.approx(within)
    assert (exact.mean, exact.total, exact.within, exact.blur) == (plain.mean, plain.total, plain.within, 1.0)


def test_errors_of_one_size_are_taken_off_a_spread() -> None:
    """A spread of 3 heard through errors of 4 looks like one of 5. Standard error of the mean of 40: 0.05."""
    rng = np.random.default_rng(5)
    notes, errors = np.zeros(200, dtype=np.int64), np.full(200, 4.0)
    found = [scatter_of(rng.normal(0, 3, 200) + rng.normal(0, 4, 200), notes, errors) for _ in SEEDS]
    assert np.mean([scatter.total for scatter in found]) == pytest.approx(9.0, abs=0.6)


def test_intervals_hold_what_was_played_through_the_blur() -> None:
    """Of 400 takes of 24 hits, a third heard badly: 95 in 100, give or take three."""
    rng, held = np.random.default_rng(6), []
    notes = np.zeros(24, dtype=np.int64)
    for _ in range(400):
        errors = np.where(rng.random(24) < 0.35, 6.0, 0.1)
        scatter = scatter_of(rng.normal(2, 4, 24) + rng.normal(0, errors), notes, errors)
        for figure, true in ((mean_of(scatter, "ms"), 2.0), (spread_of(scatter, "ms"), 4.0)):
            low, high = figure.ci95 or (0.0, 0.0)
            held.append(low <= true <= high)
    assert 0.92 <= np.mean(held[::2]) <= 0.98
    assert 0.92 <= np.mean(held[1::2]) <= 0.98
