"""Turns and rests add up to the seconds given."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.planning.week import (
    LONGEST_REST_S,
    SHORTEST_REST_S,
    PracticeTurn,
    Schedule,
    schedule,
    worth_again,
)
from tests.depth import share


def total_s(turns: list[PracticeTurn], scheduled: Schedule) -> int:
    return sum(turn.seconds * count for turn, count in zip(turns, scheduled.counts, strict=True)) + sum(
        scheduled.rests_s
    )


@share(0.25)
@given(
    lengths=st.lists(st.integers(15, 60), min_size=4, max_size=12),
    seconds=st.integers(300, 2400),
    seed=st.integers(0, 9),
)
def test_a_day_is_filled_to_the_second(lengths: list[int], seconds: int, seed: int) -> None:
    worths = np.random.default_rng(seed).uniform(0.5, 2, len(lengths))
    turns = [PracticeTurn(length, float(worth)) for length, worth in zip(lengths, worths, strict=True)]
    scheduled = schedule(turns, seconds)
    assert total_s(turns, scheduled) == seconds
    assert all(SHORTEST_REST_S <= rest <= LONGEST_REST_S for rest in scheduled.rests_s)
    assert len(scheduled.rests_s) == sum(scheduled.counts)


def test_the_best_choice_is_that_of_trying_all() -> None:
    # By brute force over all counts 0 to 4 of three turns, worth 1, .45, .25, .12 of a first turn each.
    turns, seconds = [PracticeTurn(30, 1.0), PracticeTurn(45, 1.3), PracticeTurn(52, 0.9)], 260
    again = np.cumsum([0, 1.0, 0.45, 0.25, 0.12])
    best = 0.0
    for counts in np.ndindex(5, 5, 5):
        played = sum(c * turn.seconds for c, turn in zip(counts, turns, strict=True))
        n = sum(counts)
        if played + n * SHORTEST_REST_S <= seconds <= played + n * LONGEST_REST_S:
            best = max(best, sum(turn.worth * again[c] for c, turn in zip(counts, turns, strict=True)))
    scheduled = schedule(turns, seconds)
    got = sum(turn.worth * again[c] for c, turn in zip(scheduled.counts, turns, strict=True))
    assert got >= 0.95 * best  # the solver stops within 5 % of what it has proven possible


def test_a_hand_change_that_the_week_lacks_is_put_in() -> None:
    turns = [
        PracticeTurn(40, 1.0, frozenset({"RLR"})),
        PracticeTurn(40, 1.0, frozenset({"RRL"})),
        PracticeTurn(40, 0.2, frozenset({"LLL"})),
    ]
    assert schedule(turns, 110).counts[2] == 0
    assert schedule(turns, 110, frozenset({"LLL"})).counts[2] >= 1


def test_seconds_that_no_turns_add_up_to_are_left_over() -> None:
    scheduled = schedule([PracticeTurn(30, 1.0)], 20)
    assert (scheduled.counts, scheduled.rests_s) == ((0,), ())


def test_a_long_day_goes_on_repeating() -> None:
    turns = [PracticeTurn(30, 1.0), PracticeTurn(35, 1.0)]
    assert len(worth_again(turns, 3600)) > 40
    assert total_s(turns, schedule(turns, 3600)) == 3600


@pytest.mark.parametrize("seconds", [300, 900, 1800])
def test_the_same_day_is_filled_the_same_way(seconds: int) -> None:
    turns = [PracticeTurn(20 + i, 1 + i / 10) for i in range(8)]
    assert schedule(turns, seconds) == schedule(turns, seconds)
