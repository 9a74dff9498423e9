"""How sure a hit's time is. Oracle: the simulated player's own times, in noise and rooms, soft and loud."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from evenhand.hearing.listen import listen_to_blows
from evenhand.hearing.onsets.attack import time_hits
from evenhand.synthesis.instruments import Room
from evenhand.synthesis.playing import Player
from tests.unit.hearing.sounds import Array, heard_in, played

TEXTS = ("1/8: >RLRR >LRLL", "1/16: RLRL", "1/16: RRLL >RRLL", "1/8: R lR L rL")
NOISE_DB = (20.0, 30.0, 45.0)
ROOMS = (None, Room(0.4, -12.0))


@lru_cache(maxsize=1)
def timed() -> tuple[Array, Array]:
    """Time the hits of takes of 24 seeds near where they are; return errors and standard errors, ms."""
    off, said = [], []
    for seed in range(24):
        take = played(
            TEXTS[seed % 4],
            repetitions=6,
            seed=700 + seed,
            player=Player(timekeeper_sd_ms=5, level_sd_db=3),
            noise_snr_db=NOISE_DB[seed % 3],
            room=ROOMS[seed // 12],
        )
        true_s = np.array([hit.time_s for hit in take.truth.hits])
        rng = np.random.default_rng(seed)
        rough_s = np.sort(true_s + rng.uniform(-0.003, 0.003, true_s.size))
        found = time_hits(take.samples, take.rate_hz, rough_s)
        errors_ms = 1000 * (found.times_s - true_s)
        off.append(np.abs(errors_ms - np.median(errors_ms)))
        said.append(1000 * found.errors_s)
    return np.concatenate(off), np.concatenate(said)


@pytest.mark.parametrize("within_ms", [0.1, 0.2, 0.5])
def test_of_hits_said_to_be_sure_95_in_100_are(within_ms: float) -> None:
    off, said = timed()
    sure = 1.96 * said <= within_ms
    assert sure.sum() > 200
    assert np.mean(off[sure] <= within_ms) >= 0.95


def test_most_ranges_hold_the_true_time() -> None:
    off, said = timed()
    assert 0.93 <= np.mean(off <= 1.96 * said) <= 0.995


def test_half_the_hits_are_sure_to_a_tenth_of_a_millisecond_and_doubtful_ones_are_worse() -> None:
    off, said = timed()
    order = np.argsort(said)
    surest, least = off[order[: len(order) // 3]], off[order[-len(order) // 3 :]]
    assert np.mean(1.96 * said <= 0.1) > 0.5
    assert np.quantile(least, 0.9) > 2 * np.quantile(surest, 0.9)


def test_every_hit_says_how_sure_its_time_is() -> None:
    heard = heard_in(played(seed=5))
    assert all(hit.time_se_ms is not None and 0.02 < hit.time_se_ms < 5 for hit in heard.hits)


def test_given_times_have_no_error_of_hearing() -> None:
    blows = np.arange(8, dtype=np.float64) * 0.2
    assert all(hit.time_se_ms is None for hit in listen_to_blows(blows, np.full(8, -20.0)).hits)
