"""A sticking is found wherever it lies, and it is said how; what was expected is told by hand."""

from __future__ import annotations

import pytest

from evenhand.errors import WrongOptions
from evenhand.music.search import StickingFound, find_sticking, read_query
from evenhand.music.text import parse_exercise


@pytest.mark.parametrize(
    ("exercise", "sought", "found"),
    [
        ("1/8: RLRR", "RLRR", StickingFound("whole", 0)),
        ("1/16: RLRR", "rlrr rlrr", StickingFound("whole", 0)),  # twice around
        ("1/8: RRLR LLRL", "RLRR LRLL", StickingFound("turned", 6)),
        ("1/8: RLRL", "LR", StickingFound("turned", 1)),
        ("1/16: RLRR LRLL", "RLRR", StickingFound("begins", 0)),
        ("1/16: RLRR LRLL", "RRLR", StickingFound("inside", 2)),
        ("1/16: RLRR LRLL", "LLRL", StickingFound("around", 6)),
        ("1/8: RL", "RLR", StickingFound("around", 0)),
        ("1/16: RLRL", "RR", None),
        ("1/8: R-RL", "RRL", StickingFound("whole", 0, rests_between=True)),
        ("1/8: R-RL", "R-R", StickingFound("begins", 0)),
        ("1/8: -RRL", "RRL", StickingFound("inside", 1)),
        ("1/8: lRL rLR", "lR", StickingFound("begins", 0)),
        ("1/8: RL lRL", "lRL", StickingFound("inside", 2)),
        ("1/8: BRBL", "BL", StickingFound("inside", 2)),
        ("1/8: R_LR", "RLR", StickingFound("whole", 0)),  # a note that is held is one
        ("1/8: RL >RL", ">R", StickingFound("inside", 2)),
    ],
)
def test_a_sticking_is_found(exercise: str, sought: str, found: StickingFound | None) -> None:
    assert find_sticking(parse_exercise(exercise), read_query(sought)) == found


def test_with_the_hands_swapped_only_where_that_is_nearer() -> None:
    left = parse_exercise("1/8: LRLL")
    assert find_sticking(left, read_query("RLRR")) is None
    assert find_sticking(left, read_query("RLRR"), swap=True) == StickingFound("whole", 0, hands_swapped=True)
    assert find_sticking(parse_exercise("1/8: RLRR LRLL"), read_query("RLRR"), swap=True) == StickingFound(
        "begins", 0
    )


@pytest.mark.parametrize("sought", ["", "RLX", "1/8: RL", "R" * 65, "(.*)"])
def test_what_is_no_sticking_is_refused(sought: str) -> None:
    with pytest.raises(WrongOptions, match="R and L, such as RLRR"):
        read_query(sought)
