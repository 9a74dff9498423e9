"""The same questions put to scipy and to a plain two-pass computation on the very hits."""

from __future__ import annotations

import numpy as np
import pytest
import scipy  # its parts are loaded where they are first used

from evenhand.measuring.estimates import (
    difference_of,
    mean_of,
    mixed_reach,
    scatter_of,
    spread_of,
    t_975,
    variance_factors,
)
from evenhand.measuring.measure import measure
from evenhand.music.exercise import Tempo
from tests.players import FAST, heard_of, written

DOF = (1.0, 1.3, 2.0, 2.7, 3.5, 5.0, 8.0, 13.0, 29.0, 80.0, 250.0, 5000.0)


@pytest.mark.parametrize("dof", DOF)
def test_students_t(dof: float) -> None:
    assert t_975(dof) == pytest.approx(scipy.stats.t.ppf(0.975, dof), rel=0.002)


@pytest.mark.parametrize("dof", DOF)
def test_chi_square(dof: float) -> None:
    low, high = variance_factors(dof)
    assert low == pytest.approx(dof / scipy.stats.chi2.ppf(0.975, dof), rel=0.002)
    assert high == pytest.approx(dof / scipy.stats.chi2.ppf(0.025, dof), rel=0.008)


def test_a_mixture_of_ts_leaves_five_in_a_hundred_outside() -> None:
    errors, dof, weight = np.array([1.0, 2.0, 9.0]), np.array([6.0, 20.0, 3.0]), np.array([0.6, 0.3, 0.1])
    reach = mixed_reach(errors, dof, weight)
    outside = float((weight * 2 * scipy.stats.t.sf(reach / errors, dof)).sum())
    assert outside == pytest.approx(0.05, abs=0.002)


def test_a_mean_of_independent_values_has_students_interval() -> None:
    values = np.random.default_rng(1).normal(3, 2, 17)
    found = mean_of(scatter_of(values, np.zeros(17, dtype=np.int64)), "dB")
    low, high = scipy.stats.t.interval(0.95, 16, loc=values.mean(), scale=scipy.stats.sem(values))
    assert found.ci95 == pytest.approx((low, high), rel=1e-3)


def test_a_difference_has_welchs_interval() -> None:
    rng = np.random.default_rng(2)
    first, second = rng.normal(1, 1, 12), rng.normal(0, 3, 30)
    groups = [scatter_of(x, np.zeros(x.size, dtype=np.int64)) for x in (first, second)]
    found = difference_of(groups[0], groups[1], "dB")
    theirs = scipy.stats.ttest_ind(first, second, equal_var=False).confidence_interval(0.95)
    assert found.ci95 == pytest.approx((theirs.low, theirs.high), rel=2e-3)


def test_a_spread_of_normal_values_has_nearly_the_chi_square_interval() -> None:
    """Ours allows for tails and so is a little wider: by at most a fifth at 200 values."""
    values = np.random.default_rng(3).normal(0, 2, 200)
    found = spread_of(scatter_of(values, np.zeros(200, dtype=np.int64)), "dB")
    assert found.value == pytest.approx(float(np.std(values, ddof=1)))
    assert found.ci95 is not None
    variance = values.var(ddof=1)
    ends = [float(np.sqrt(variance * 199 / scipy.stats.chi2.ppf(p, 199))) for p in (0.975, 0.025)]
    assert found.ci95[1] - found.ci95[0] == pytest.approx(ends[1] - ends[0], rel=0.2)


@pytest.mark.parametrize("clock", ["click", "smooth"])
@pytest.mark.parametrize("text", ["RLRL", "RLRR LRLL", ">RLRR >LRLL"])
def test_figures_are_the_plain_ones_of_the_very_hits(clock: str, text: str) -> None:
    """The library's own mean and n-1 spread; the tempo by scipy's linear regression."""
    exercise = written(text)
    heard = heard_of(exercise, clock=clock, late_ms={"L": 5.0}, timekeeper_ms=2.0, seed=9)
    found = measure(heard, exercise, Tempo.parse(FAST))
    name = "asynchrony_ms" if clock == "click" else "deviation_ms"
    for hand in ("R", "L"):
        own = [hit for hit in heard.hits if hit.hand == hand]
        timing = [getattr(hit, name) for hit in own]
        taps = [hit.level_db for hit in own if not exercise.notes[hit.position or 0].accent]
        assert found.hands[hand].timing_mean_ms.value == pytest.approx(np.mean(timing))
        assert found.hands[hand].timing_sd_ms.value == pytest.approx(np.std(timing, ddof=1))
        assert found.hands[hand].level_mean_db.value == pytest.approx(np.mean(taps))
        assert found.hands[hand].level_sd_db.value == pytest.approx(np.std(taps, ddof=1))
    line = scipy.stats.linregress(
        [hit.written or 0.0 for hit in heard.hits], [hit.time_s for hit in heard.hits]
    )
    assert found.tempo_bpm.value == pytest.approx(60 / (line.slope / 16))
