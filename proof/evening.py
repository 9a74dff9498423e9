"""An evening at the queue, simulated: takes arrive faster and slower, and wait for one of so many workers.

Conventions: times in s from the evening's beginning; a rate is takes a second. First come, first served,
as the queue does it. Arrivals are a Poisson process whose rate changes, drawn by thinning (P. A. W. Lewis
and G. S. Shedler, "Simulation of nonhomogeneous Poisson processes by thinning", Naval Research Logistics
Quarterly 26, 1979, 403-413). Waiting in a queue of several servers follows from the wait before it (J. Kiefer
and J. Wolfowitz, "On the theory of queues with many servers", Transactions of the American Mathematical
Society 78, 1955, 1-18): who comes is served by the server that is free first.

What the simulation is held against, where the rate is constant:

- ``erlang_c``, the probability to wait with exponential service: A. K. Erlang, "Solution of some problems in
  the theory of probabilities of significance in automatic telephone exchanges", 1917; as in L. Kleinrock,
  Queueing Systems I, 1975, 3.5
- ``mean_wait_with_one``: F. Pollaczek 1930, A. Khinchine 1932; Kleinrock, 5.6; constant service is M/D/1
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Floats

Rate = Callable[[Floats], Floats]


def raised_cosine(takes: float, hours: float) -> tuple[Rate, float]:
    """Give an evening's rate, which rises from nothing to its peak in the middle and falls, and the peak.

    The peak is twice the mean, takes a second. The shape is an assumption: nobody's evenings were measured.
    """
    length_s = 3600.0 * hours
    mean = takes / length_s

    def rate(at_s: Floats) -> Floats:
        return mean * (1 - np.cos(2 * math.pi * at_s / length_s))

    return rate, 2 * mean


def arrivals(rate: Rate, peak: float, until_s: float, rng: np.random.Generator) -> Floats:
    """Draw when takes arrive, shape (n,), s, rising; ``peak`` is at least every rate."""
    n = int(rng.poisson(peak * until_s))
    at_s = np.sort(rng.uniform(0.0, until_s, n))
    kept: Floats = at_s[rng.uniform(0.0, peak, n) < rate(at_s)]
    return kept


def waits(arrive_s: Floats, service_s: Floats, workers: int) -> Floats:
    """Tell how long each waits until a worker takes it up, s.

    Parameters
    ----------
    arrive_s, service_s : shape (n,), when each arrives, rising, and how long its hearing takes
    workers : how many there are

    Returns
    -------
    shape (n,)
    """
    free_s = [0.0] * workers
    waited = np.empty(len(arrive_s))
    for number, (at_s, takes_s) in enumerate(zip(arrive_s.tolist(), service_s.tolist(), strict=True)):
        begins_s = max(at_s, free_s[0])
        waited[number] = begins_s - at_s
        heapq.heapreplace(free_s, begins_s + takes_s)
    return waited


@dataclass(frozen=True, slots=True)
class Evening:
    """What so many workers made of evenings: waits at the median and p99 of all takes, the longest, s."""

    workers: int
    takes: int
    p50_s: float
    p99_s: float
    longest_s: float
    busy: float  # the share of the workers' time at the peak: above 1 a queue builds up


def simulated(
    takes: float, hours: float, workers: int, service_s: Floats, *, seed: int, evenings: int = 1
) -> Evening:
    """Simulate evenings with service times drawn from measured ones, shape (m,)."""
    rng = np.random.default_rng(seed)
    rate, peak = raised_cosine(takes, hours)
    waited = []
    for _ in range(evenings):
        at_s = arrivals(rate, peak, 3600.0 * hours, rng)
        waited.append(waits(at_s, rng.choice(service_s, len(at_s)), workers))
    all_s = np.concatenate(waited)
    p50_s, p99_s = (float(each) for each in np.quantile(all_s, (0.5, 0.99)))
    busy = peak * float(np.mean(service_s)) / workers
    return Evening(workers, len(all_s), p50_s, p99_s, float(np.max(all_s)), busy)


def fewest(takes: float, hours: float, most_p99_s: float, service_s: Floats, *, seed: int) -> Evening:
    """Find the fewest workers with which 99 of 100 takes wait no longer than this."""
    workers = max(1, math.floor(takes / (3600.0 * hours) * float(np.mean(service_s))))
    while (found := simulated(takes, hours, workers, service_s, seed=seed)).p99_s > most_p99_s:
        workers += max(1, workers // 50)
    return found


def erlang_c(load: float, servers: int) -> float:
    """Return the probability to wait; ``load`` is the rate times the mean service, below ``servers``.

    By Erlang's B, which is worked out step by step without large numbers.
    """
    lost = 1.0
    for each in range(1, servers + 1):
        lost = load * lost / (each + load * lost)
    return lost / (1 - (load / servers) * (1 - lost))


def mean_wait(load: float, servers: int, service_s: float) -> float:
    """Return the mean wait with exponential service, s: Erlang's C times service over what is left free."""
    return erlang_c(load, servers) * service_s / (servers - load)


def mean_wait_with_one(rate: float, service_s: Floats) -> float:
    """Return the mean wait at one server, s, for any service times, shape (m,): rate E[S^2] / 2 (1 - rho)."""
    return float(rate * np.mean(service_s**2) / (2 * (1 - rate * np.mean(service_s))))
