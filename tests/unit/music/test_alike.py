"""Which exercises are the same: begun at another note, or with the hands swapped."""

from __future__ import annotations

import pytest

from evenhand.music.book import Entry
from evenhand.music.equivalence import Equivalence, canonical, least_rotation, same_groups, turn_between
from evenhand.music.text import parse_exercise


def same(one: str, other: str, *, rotation: bool = True, swap: bool = True) -> bool:
    first, second = parse_exercise(one), parse_exercise(other)
    keys = {canonical(each, rotation=rotation, swap=swap) for each in (first, second)}
    turn = turn_between(first, second, rotation=rotation, swap=swap)
    assert (len(keys) == 1) == (turn is not None)
    return len(keys) == 1


@pytest.mark.parametrize(
    ("one", "other", "by_rotation", "by_swap", "by_both"),
    [  # worked by hand
        ("1/16: RLRR LRLL", "1/16: RLRR LRLL", True, True, True),
        ("1/16: RLRR LRLL", "1/16: RRLR LLRL", True, False, True),  # two notes later
        ("1/16: RLRR LRLL", "1/16: LRLL RLRR", True, True, True),  # four later, or swapped
        ("1/16: RLRR", "1/16: LRLL", False, True, True),
        ("1/16: RLRR", "1/16: LLRL", False, False, True),  # swapped, and two later
        ("1/16: RLRR", "1/16: RLRL", False, False, False),
        ("1/16: RRLRLL", "1/16: RRLLRL", False, False, True),  # LLRLRR, and three later
        ("1/16: >RRL", "1/16: LR>R", False, False, False),  # one is the other backwards
        ("1/8: RL", "1/8: RLRL", False, False, False),  # twice as long
    ],
)
def test_rotation_and_swap(one: str, other: str, by_rotation: bool, by_swap: bool, by_both: bool) -> None:  # noqa: FBT001 - a table's columns
    assert same(one, other, swap=False) == by_rotation
    assert same(one, other, rotation=False) == by_swap
    assert same(one, other) == by_both
    assert same(one, other, rotation=False, swap=False) == (one == other)


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [  # worked by hand: what a note carries goes with it
        ("1/8: RL", "1/16: RL", False),
        ("1/8: R 1/16: L", "1/16: L 1/8: R", True),
        ("1/8: R 1/16: L", "1/16: R 1/8: L", True),  # swapped, and one later
        ("1/8: >RL", "1/8: L>R", True),
        ("1/8: >RL", "1/8: RL", False),
        ("1/8: lRL", "1/8: rLR", True),  # the grace is swapped with its note
        ("1/8: lRL", "1/8: rRL", False),
        ("1/8: lRL", "1/8: llRL", False),
        ("1/8: R~L", "1/8: RL~", True),
        ("1/8: R~L", "1/8: RL", False),
        ("1/8: RL-", "1/8: -LR", True),
        ("1/8: R-", "1/8: RR", False),
        ("4/4 1/8: RLRL RLRL |", "2/4 1/8: RLRL | RLRL |", True),  # bars say how it is written
    ],
)
def test_what_a_note_carries_counts(one: str, other: str, alike: bool) -> None:  # noqa: FBT001 - a table's column
    assert same(one, other) == alike


@pytest.mark.parametrize(
    ("one", "other", "turn"),
    [
        ("1/16: RLRR LRLL", "1/16: RLRR LRLL", Equivalence(0, hands_swapped=False)),
        ("1/16: RLRR LRLL", "1/16: LRLL RLRR", Equivalence(0, hands_swapped=True)),
        ("1/16: RLRR LRLL", "1/16: LRRL RLLR", Equivalence(1, hands_swapped=False)),
        ("1/16: RLRR LRLL", "1/16: RLLR LRRL", Equivalence(1, hands_swapped=True)),
        ("1/16: RLRR", "1/16: RLRL", None),
    ],
)
def test_how_one_is_got_from_the_other(one: str, other: str, turn: Equivalence | None) -> None:
    assert turn_between(parse_exercise(one), parse_exercise(other)) == turn


def test_a_turn_keeps_to_what_is_allowed() -> None:
    paradiddle, swapped = parse_exercise("1/16: RLRR LRLL"), parse_exercise("1/16: LRLL RLRR")
    assert turn_between(paradiddle, swapped, swap=False) == Equivalence(4, hands_swapped=False)
    assert turn_between(paradiddle, swapped, rotation=False) == Equivalence(0, hands_swapped=True)
    assert turn_between(paradiddle, swapped, rotation=False, swap=False) is None


def test_groups_hold_those_that_are_the_same_and_leave_out_the_rest() -> None:
    texts = ("1/8: RRL", "1/8: RL", "1/8: RLR", "1/8: LR", "1/8: RLL", "1/8: RRR")
    entries = [Entry(parse_exercise(text)) for text in texts]
    assert same_groups(entries) == ((0, 2, 4), (1, 3))
    assert same_groups(entries, swap=False) == ((0, 2), (1, 3))
    assert same_groups(entries, rotation=False) == ((1, 3),)
    assert same_groups(entries, rotation=False, swap=False) == ()


@pytest.mark.parametrize(
    ("word", "start"),
    [("a", 0), ("ab", 0), ("ba", 1), ("aaaa", 0), ("cabcab", 1), ("bbaba", 2), ("abaabaaa", 5)],
)
def test_least_rotation_by_hand(word: str, start: int) -> None:
    assert least_rotation(word) == start
