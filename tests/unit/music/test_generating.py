"""Stickings by property: each property against its plain definition, and what cannot be."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from itertools import groupby, pairwise, product
from typing import get_args

import numpy as np
import pytest

from evenhand.errors import WrongOptions
from evenhand.music.equivalence import UpTo
from evenhand.music.exercise import Meter
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.music.writing.generation import MOST_NOTES, Accents, Stickings, generate, texts
from evenhand.music.writing.properties import Span, StickingQuery
from tests.stickings import exercises


def letters(found: Stickings) -> list[str]:
    """Write what was generated as R and L, accents left as they are."""
    return [re.sub(r".*: |\s", "", text) for text in texts(found, Fraction(1, 16))]


def all_of(n: int) -> list[str]:
    return ["".join(hands) for hands in product("RL", repeat=n)]


def runs(hands: str) -> list[int]:
    return [len(list(run)) for _, run in groupby(hands)]


def pairs(hands: str) -> int:
    return sum(a == b for a, b in pairwise(hands))


PLAIN: dict[str, tuple[StickingQuery, Callable[[str], bool]]] = {
    "lead": (StickingQuery(7, lead="L"), lambda s: s[0] == "L"),
    "ends with the leading hand": (StickingQuery(7, ends="leading"), lambda s: s[0] == s[-1]),
    "ends with the other": (StickingQuery(7, ends="other"), lambda s: s[0] != s[-1]),
    "mirrored": (
        StickingQuery(8, mirrored_halves=True),
        lambda s: s[4:] == s[:4].translate(str.maketrans("RL", "LR")),
    ),
    "run": (StickingQuery(9, longest_run=3), lambda s: max(runs(s)) <= 3),
    "run around": (
        StickingQuery(7, longest_run=2, around=True),
        lambda s: len(set(s)) == 2 and max(runs(s * 3)) <= 2,
    ),
    "pairs": (StickingQuery(7, pairs=Span(2, 4)), lambda s: 2 <= pairs(s) <= 4),
    "pairs around": (StickingQuery(7, pairs=Span(5), around=True), lambda s: pairs(s + s[0]) >= 5),
    "rights": (StickingQuery(7, rights=Span(5, 5)), lambda s: s.count("R") == 5),
    "weak share": (StickingQuery(7, weak_percent=Span(40, 60)), lambda s: 40 <= 100 * s.count("L") / 7 <= 60),
    "weak right hand": (
        StickingQuery(7, weak_percent=Span(70), weak_hand="R"),
        lambda s: 100 * s.count("R") / 7 >= 70,
    ),
    "together": (
        StickingQuery(8, longest_run=2, balanced=True, lead="R", pairs=Span(3, 4)),
        lambda s: max(runs(s)) <= 2 and s.count("R") == 4 and s[0] == "R" and 3 <= pairs(s) <= 4,
    ),
}


@pytest.mark.parametrize("name", PLAIN)
def test_a_property_is_what_it_says(name: str) -> None:
    """Each definition is written a second time, plainly, over letters."""
    wanted, holds = PLAIN[name]
    expected = [hands for hands in all_of(wanted.length) if holds(hands)]
    assert 0 < len(expected) < 2**wanted.length
    assert letters(generate(wanted)) == expected


def classes_by_hand(those: list[str], up_to: UpTo) -> list[str]:
    """Take the first of each class, by listing all that counts as the same."""
    first, met = [], set[str]()
    for hands in those:
        if hands in met:
            continue
        first.append(hands)
        images = {hands}
        if up_to.endswith("swap"):
            images |= {h.translate(str.maketrans("RL", "LR")) for h in images}
        if up_to.endswith("reversal"):
            images |= {h[::-1] for h in images}
        if up_to.startswith("rotation"):
            images |= {h[i:] + h[:i] for h in images for i in range(len(h))}
        met |= images
    return first


@pytest.mark.parametrize("up_to", get_args(UpTo))
@pytest.mark.parametrize(
    "wanted", [StickingQuery(7), StickingQuery(8, longest_run=2), StickingQuery(8, lead="L", pairs=Span(3))]
)
def test_a_class_is_given_by_its_first_that_was_wanted(wanted: StickingQuery, up_to: UpTo) -> None:
    """Also where the class's first of all does not have the property, such as to lead with the left."""
    assert letters(generate(wanted, up_to=up_to)) == classes_by_hand(letters(generate(wanted)), up_to)


def test_accents_are_placed_in_every_way_the_earlier_first() -> None:
    found = letters(generate(StickingQuery(3, balanced=False, lead="R", rights=Span(3, 3)), Accents(2)))
    assert found == [">R>RR", ">RR>R", "R>R>R"]


def test_accents_at_places_are_on_every_sticking() -> None:
    assert letters(generate(StickingQuery(2), Accents(places=(1,)))) == ["R>R", "R>L", "L>R", "L>L"]


def test_accents_turn_with_their_notes() -> None:
    """One accent on RL: on the right or on the left; swapped, these are one and the same turned."""
    wanted = StickingQuery(2, longest_run=1)
    assert letters(generate(wanted, Accents(1), "rotation")) == [">RL", "R>L"]
    assert letters(generate(wanted, Accents(1), "rotation-swap")) == [">RL"]
    assert letters(generate(wanted, Accents(1), "rotation-reversal")) == [">RL", "R>L"]
    assert letters(generate(StickingQuery(3, rights=Span(3, 3)), Accents(1), "rotation")) == [">RRR"]


@pytest.mark.parametrize(
    ("n", "accents", "message"),
    [
        (0, None, "a length of 0 notes; must be 1 to 24 notes"),
        (MOST_NOTES + 1, None, "a length of 25 notes; must be 1 to 24 notes"),
        (4, Accents(5), "5 accents on 4 notes; must be 0 to 4 accents"),
        (4, Accents(places=(0, 4)), "an accent on note 5 of 4; must be notes from 1 to 4"),
        (20, Accents(10), "stickings with 10 accents each"),
    ],
)
def test_what_cannot_be_gone_through_is_refused(n: int, accents: Accents | None, message: str) -> None:
    with pytest.raises(WrongOptions, match=message):
        generate(StickingQuery(n), accents)


@pytest.mark.parametrize("value", [Fraction(1, 16), Fraction(1, 12), Fraction(1, 20), Fraction(3, 16)])
@pytest.mark.parametrize("meter", [None, Meter(4, 4), Meter(6, 8)])
def test_texts_are_what_the_printer_prints(value: Fraction, meter: Meter | None) -> None:
    found = generate(StickingQuery(7, longest_run=3), Accents(2)).at(slice(0, 400))
    printed = [print_exercise(each) for each in exercises(found, value, meter)]
    assert texts(found, value, meter) == printed
    assert [print_exercise(parse_exercise(text)) for text in printed[:20]] == printed[:20]


def test_a_choice_of_some_keeps_their_accents() -> None:
    found = generate(StickingQuery(3), Accents(1))
    some = np.array([1, 5])
    assert letters(found.at(some)) == [letters(found)[1], letters(found)[5]]
