"""The simulated evening against queueing theory: published formulas, and one table by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from proof.evening import (
    arrivals,
    erlang_c,
    fewest,
    mean_wait,
    mean_wait_with_one,
    raised_cosine,
    simulated,
    waits,
)

TAKES, BATCHES = 200_000, 20


def test_waits_by_hand() -> None:
    """Two workers; takes of 4, 4, 1, 1 s come at 0, 1, 2, 3 s: the last two wait until 4 and 5 s."""
    found = waits(np.array([0.0, 1.0, 2.0, 3.0]), np.array([4.0, 4.0, 1.0, 1.0]), 2)
    np.testing.assert_allclose(found, [0.0, 0.0, 2.0, 2.0])
    alone = waits(np.array([0.0, 1.0, 10.0]), np.array([3.0, 3.0, 1.0]), 1)
    np.testing.assert_allclose(alone, [0.0, 2.0, 0.0])


def test_erlang_s_c_is_his_formula() -> None:
    """As Kleinrock writes it, with powers and factorials; by hand for one server (rho) and two."""
    assert erlang_c(0.7, 1) == pytest.approx(0.7)
    assert erlang_c(1.0, 2) == pytest.approx(1 / 3)
    for load, servers in ((3.2, 4), (9.0, 12), (33.0, 40)):
        last = load**servers / math.factorial(servers) * servers / (servers - load)
        below = sum(load**k / math.factorial(k) for k in range(servers))
        assert erlang_c(load, servers) == pytest.approx(last / (below + last))


def interval(waited: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, float]:
    """Give the mean of batches of takes that followed each other, and its standard error."""
    means = np.array([batch.mean() for batch in np.array_split(waited[TAKES // 10 :], BATCHES)])
    return float(means.mean()), float(means.std(ddof=1) / math.sqrt(BATCHES))


@pytest.mark.parametrize(("load", "servers"), [(0.6, 1), (3.2, 4), (10.0, 12)])
def test_with_exponential_service_waits_are_erlang_s(load: float, servers: int) -> None:
    rng = np.random.default_rng(servers)
    at_s = np.cumsum(rng.exponential(1 / load, TAKES))
    waited = waits(at_s, rng.exponential(1.0, TAKES), servers)
    mean, error = interval(waited)
    assert abs(mean - mean_wait(load, servers, 1.0)) < 4 * error
    had_to, error = interval((waited > 0).astype(np.float64))
    assert abs(had_to - erlang_c(load, servers)) < 4 * error


@pytest.mark.parametrize("spread", [0.0, 0.5])
def test_with_one_worker_waits_are_pollaczek_s_and_khinchine_s(spread: float) -> None:
    """Without spread this is M/D/1, whose waits are half of those with exponential service."""
    rng = np.random.default_rng(7)
    some_s = np.array([0.36 * (1 - spread), 0.36 * (1 + spread)])
    rate = 0.8 / 0.36
    waited = waits(np.cumsum(rng.exponential(1 / rate, TAKES)), rng.choice(some_s, TAKES), 1)
    mean, error = interval(waited)
    assert abs(mean - mean_wait_with_one(rate, some_s)) < 4 * error
    if spread == 0.0:
        assert mean_wait_with_one(rate, some_s) == pytest.approx(mean_wait(0.8, 1, 0.36) / 2)


def test_an_evening_has_its_takes_and_its_peak_in_the_middle() -> None:
    """Counted against the Poisson law: within four standard deviations of the rate's own integral."""
    rate, peak = raised_cosine(50_000, 5)
    assert rate(np.array([2.5 * 3600]))[0] == pytest.approx(peak) == pytest.approx(2 * 50_000 / 18_000)
    at_s = arrivals(rate, peak, 18_000, np.random.default_rng(1))
    assert abs(len(at_s) - 50_000) < 4 * math.sqrt(50_000)
    middle = np.sum((at_s > 0.25 * 18_000) & (at_s < 0.75 * 18_000))
    wanted = 50_000 * (0.5 + 1 / math.pi)
    assert abs(middle - wanted) < 4 * math.sqrt(wanted)
    assert np.all(np.diff(at_s) >= 0)


def test_more_workers_wait_less_and_the_fewest_are_found() -> None:
    service_s = np.array([0.3, 0.36, 0.42])
    found = [simulated(100_000, 5, workers, service_s, seed=3) for workers in (3, 4, 5)]
    assert [each.p99_s for each in found] == sorted((each.p99_s for each in found), reverse=True)
    assert found[0].busy == pytest.approx(2 * 100_000 / 18_000 * 0.36 / 3)
    needed = fewest(100_000, 5, 5.0, service_s, seed=3)
    assert needed.p99_s <= 5.0 < simulated(100_000, 5, needed.workers - 1, service_s, seed=3).p99_s
