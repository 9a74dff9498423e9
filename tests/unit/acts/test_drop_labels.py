"""Which grip or hand each drop was is read from what was typed, or from a small table."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.acts.takes.history import table_labels, typed_grips, typed_hands
from evenhand.errors import BadList, WrongOptions


def test_a_table_of_grips_hands_or_both() -> None:
    assert table_labels("grip\nopen\ntight\n", "t.csv") == ("open", "tight")
    assert table_labels("\ufeffdrop,hand\n1,R\n2,l\n", "t.csv") == ("R", "L")
    assert table_labels("hand,grip\nR,open\n\nL,open\n", "t.csv") == ("R, open", "L, open")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "got the columns none; must be grip or hand"),
        ("grip\n", "a heading alone"),
        ("height\n20\n", "row 1: got the column 'height'"),
        ("hand\nR\nX\n", "row 3, column hand: got 'X'; must be R or L"),
        ("grip,note\n,tired\n", "row 2: got ''"),
        ('grip\n"open\n', "comma-separated"),
    ],
)
def test_a_table_that_cannot_be_read_is_refused_by_its_place(text: str, message: str) -> None:
    with pytest.raises(BadList, match=r"t\.csv") as caught:
        table_labels(text, "t.csv")
    assert message in str(caught.value)


@pytest.mark.parametrize("text", ["", "R,,L", "R,X", "RL"])
def test_hands_are_r_or_l(text: str) -> None:
    with pytest.raises(WrongOptions, match="must be R or L for each drop"):
        typed_hands(text)


@pytest.mark.parametrize("text", ["", "open,", "a" * 61])
def test_grips_have_names(text: str) -> None:
    with pytest.raises(WrongOptions, match="must be a name for each drop"):
        typed_grips(text)


@given(st.text(max_size=200))
def test_no_text_breaks_the_table(text: str) -> None:
    try:
        labels = table_labels(text, "t.csv")
    except BadList:
        return
    assert all(labels)
