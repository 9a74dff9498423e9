"""What teachers give before what: common practice, not a measurement, and no study of it was found.

Each pair is judged at the same tempo of the quarter. The weights of ``music.writing.demands`` are a few
numbers for all; none of them is there for one pair.
"""

from __future__ import annotations

import pytest

from evenhand.music.exercise import Tempo
from evenhand.music.rudiments import rudiments
from evenhand.music.text import parse_exercise
from evenhand.music.writing.difficulty import difficulties

NAMED = {each.name: each.text for each in rudiments()}
BEFORE = (  # common practice
    ("1/8: RLRL RLRL", "1/16: RLRL RLRL"),
    ("1/16: RLRL RLRL", "1/16: RRLL RRLL"),
    ("1/16: RRLL RRLL", "1/16: RLRR LRLL"),
    ("1/16: RLRR LRLL", "1/16: >RLRR >LRLL"),
    ("1/16: RLRL RLRL", "1/16: >RLRL >RLRL"),
    ("1/16: >RLRL >RLRL", "1/16: R>LRL R>LRL"),
    ("1/16: >RLRL >RLRL", "1/16: >RLRL R>LRL RL>RL RLR>L"),
    ("1/16: RLRL RLRL", "1/16: LRLR LRLR"),
    ("1/8: RR-- LL--", "1/8: RRLL RRLL"),
    ("1/8: RRLL RRLL", "1/16: RRLL RRLL"),
    ("1/16: RRLL RRLL", "Double stroke open roll"),
    ("1/16: >RRLL", "1/16: R>RLL"),
    ("1/8: RRRR LLLL", "1/8: RRRR RRRR LLLL LLLL"),
    ("1/8: RRLL RRLL", "1/8: RRRR LLLL"),
    ("1/16: RLR- LRL-", "1/16: RLRL R--- LRLR L---"),
    ("1/16: RLRL R--- LRLR L---", "1/16: RLRL RLRL"),
    ("Single stroke four", "Single stroke seven"),
    ("Double stroke open roll", "Triple stroke roll"),
    ("Five stroke roll", "Nine stroke roll"),
    ("Nine stroke roll", "Thirteen stroke roll"),
    ("Thirteen stroke roll", "Seventeen stroke roll"),
    ("Seven stroke roll", "Fifteen stroke roll"),
    ("Seventeen stroke roll", "Double stroke open roll"),
    ("Single paradiddle", "Double paradiddle"),
    ("Single paradiddle", "Single paradiddle-diddle"),
    ("Single paradiddle", "Flam paradiddle"),
    ("Flam paradiddle", "Flam paradiddle-diddle"),
    ("Single paradiddle", "Single flammed mill"),
    ("Flam", "Flam accent"),
    ("Flam", "Flam tap"),
    ("Flam accent", "Flam tap"),
    ("Flam accent", "Pataflafla"),
    ("Flam accent", "Flam paradiddle"),
    ("Flam tap", "Inverted flam tap"),
    ("Flam tap", "Seventeen stroke roll"),
    ("Flam", "Drag"),
    ("Drag", "Single drag tap"),
    ("Single drag tap", "Double drag tap"),
    ("Drag", "Single ratamacue"),
    ("Single ratamacue", "Double ratamacue"),
    ("Double ratamacue", "Triple ratamacue"),
    ("Drag paradiddle #1", "Drag paradiddle #2"),
    ("Single stroke four", "Single ratamacue"),
    ("1/12: RLR LRL", "1/12: RLL RLL"),
)


def load(text: str) -> float:
    (found,) = difficulties([parse_exercise(NAMED.get(text, text))], Tempo.parse("1/4=60"))
    return found.load


@pytest.mark.parametrize(("before", "after"), BEFORE)
def test_what_is_given_before_is_measured_as_easier(before: str, after: str) -> None:
    assert load(before) < load(after)


def test_a_triple_ratamacue_is_far_from_what_a_beginner_gets() -> None:
    """Common practice: half a book later."""
    ordered = sorted(NAMED, key=load)
    assert ordered.index("Triple ratamacue") - ordered.index("Single stroke roll") > len(NAMED) / 2
