"""Short sets against trying out every choice, and hand changes against lists written by hand."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from evenhand.errors import WrongOptions
from evenhand.music.text import parse_exercise
from evenhand.music.writing.covering import Held, best_of, cover, greedy, reduced, shares, union
from evenhand.music.writing.difficulty import hand_changes, hand_changes_at


def sets(*words: str) -> list[Held]:
    return [frozenset(word) for word in words]


def some(seed: int, m: int, letters: str = "abcdefgh") -> list[Held]:
    rng = np.random.default_rng(seed)
    return [frozenset(each for each in letters if rng.random() < 0.35) for _ in range(m)]


def fewest_by_trying(holds: list[Held]) -> int:
    everything = union(holds)
    return next(
        n
        for n in range(len(holds) + 1)
        if any(union(choice) == everything for choice in combinations(holds, n))
    )


@pytest.mark.parametrize("seed", range(30))
def test_no_fewer_do(seed: int) -> None:
    """Against all choices of up to nine sets."""
    holds = some(seed, 9)
    found = cover(holds)
    assert union(holds[i] for i in found.chosen) == union(holds)
    assert len(found.chosen) == found.bound == fewest_by_trying(holds)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("n", [1, 2, 3])
def test_none_of_so_many_hold_more(seed: int, n: int) -> None:
    holds = some(seed, 9)
    most = max(len(union(choice)) for choice in combinations(holds, n))
    found = best_of(holds, n)
    assert (found.held, found.bound, len(found.chosen) <= n) == (most, most, True)
    assert len(union(holds[i] for i in found.chosen)) == most


def test_one_by_one_may_take_more() -> None:
    """After the first, each of the others adds two, so it takes all three; the two alone would do."""
    holds = sets("abcd", "aceg", "bdfh")
    assert greedy(holds) == [0, 1, 2]
    assert cover(holds).chosen == (1, 2)


def test_of_those_that_do_the_same_the_first_is_chosen() -> None:
    assert cover(sets("ab", "ab", "cd", "cd", "a")).chosen == (0, 2)
    assert cover(sets("a", "ab", "bc", "abc", "c")).chosen == (3,)
    assert cover(sets("ab", "abx", "xy", "y")).chosen == (0, 2)


def test_nothing_to_hold_takes_nothing() -> None:
    assert (cover([]).chosen, cover([frozenset()]).chosen) == ((), ())
    assert cover([]).optimal
    assert best_of([], 3).held == 0
    assert shares([0], [frozenset()]) == [1.0]


def test_what_needs_no_choice_is_taken_out_first() -> None:
    """Only the first holds z; then the second is left for c and d, and holds the third."""
    left = reduced(sets("abz", "cde", "cd", "ab"))
    assert (left.sure, left.missing) == ((0, 1), frozenset())


def test_without_time_the_quick_choice_comes_with_a_true_bound() -> None:
    holds = some(5, 60, letters="abcdefghijklmnopqrstuvwxyz")
    found = cover(holds, time_limit_s=1e-6)
    assert union(holds[i] for i in found.chosen) == union(holds)
    assert found.bound <= cover(holds).bound <= len(found.chosen)


@pytest.mark.parametrize("seed", range(8))
def test_long_lists_are_not_compared_with_each_other(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    holds = some(seed, 9, letters="abcdefghijkl")
    monkeypatch.setattr("evenhand.music.writing.covering.MOST_COMPARED", 2)
    assert len(cover(holds).chosen) == fewest_by_trying(holds)


def test_shares_are_what_is_held_so_far() -> None:
    assert shares([2, 0, 1], sets("ab", "cd", "bc")) == [0.5, 0.75, 1.0]


@pytest.mark.parametrize(
    ("text", "k", "changes"),
    [
        ("1/16: RLL", 2, {"RL": 1, "LL": 1, "LR": 1}),
        ("1/16: RLRL", 3, {"RLR": 2, "LRL": 2}),
        ("1/16: RL", 5, {"RLRLR": 1, "LRLRL": 1}),  # gone round as often as it takes
        ("1/16: R", 3, {"RRR": 1}),
        ("1/16: RL-L", 2, {"RL": 1, "LR": 1}),  # nothing over the rest, but around the repeat
        ("1/16: R-L-", 2, {}),
        ("1/8: >lRL 1/16: rLR~", 4, {"RLLR": 1, "LLRR": 1, "LRRL": 1, "RRLL": 1}),  # hands alone count
    ],
)
def test_hand_changes_are_taken_around_the_repeat(text: str, k: int, changes: dict[str, int]) -> None:
    assert dict(hand_changes(parse_exercise(text), k)) == changes


def test_the_hand_change_at_a_note() -> None:
    exercise = parse_exercise("1/16: RLRR L-LL")
    assert hand_changes_at(exercise, 3, 2, 1) == "LRRL"
    assert hand_changes_at(exercise, 0, 2, 1) == "LLRL"
    assert hand_changes_at(exercise, 4, 2, 1) is None
    assert hand_changes_at(exercise, 5, 0, 0) is None
    assert hand_changes_at(exercise, 99, 2, 1) is None


@pytest.mark.parametrize("k", [1, 17])
def test_hand_changes_of_one_note_or_of_too_many_are_refused(k: int) -> None:
    with pytest.raises(WrongOptions, match=f"hand changes of {k} notes; must be 2 to 16 notes"):
        hand_changes(parse_exercise("1/16: RL"), k)
