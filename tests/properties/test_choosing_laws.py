"""What must be so of generated stickings, short sets, difficulty and choices, whatever they are."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import get_args

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evenhand.music.equivalence import UpTo
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.text import mirrored
from evenhand.music.writing.covering import best_of, cover, greedy, shares, union
from evenhand.music.writing.difficulty import LONGEST, SHORTEST, difficulties, easy_to_hard, hand_changes
from evenhand.music.writing.generation import conflict_in, generate
from evenhand.music.writing.properties import Span, StickingQuery, longest_run, run_over
from evenhand.report.words.exercises import explain
from tests.depth import share
from tests.stickings import difficulty
from tests.stickings import exercises as spelled
from tests.strategies import exercises

spans = st.none() | st.builds(lambda low, more: Span(low, low + more), st.integers(0, 9), st.integers(0, 4))
wants = st.builds(
    StickingQuery,
    st.integers(1, 9),
    longest_run=st.none() | st.integers(1, 9),
    around=st.booleans(),
    balanced=st.booleans(),
    lead=st.none() | st.sampled_from(("R", "L")),
    ends=st.none() | st.sampled_from(("leading", "other")),
    mirrored_halves=st.booleans(),
    pairs=spans,
    rights=spans,
)
sets = st.lists(st.frozensets(st.sampled_from("abcdefg"), max_size=4), max_size=8)


@given(wants)
@share(0.5)
def test_there_are_none_exactly_where_a_reason_is_said(wanted: StickingQuery) -> None:
    assert (conflict_in(wanted) is None) == (len(generate(wanted)) > 0)


@given(wants)
@share(0.3)
def test_more_that_is_asked_never_gives_more(wanted: StickingQuery) -> None:
    every = set(generate(wanted).hands.tolist())
    for looser in (
        replace(wanted, balanced=False), replace(wanted, longest_run=None), replace(wanted, pairs=None),
        replace(wanted, mirrored_halves=False), replace(wanted, rights=None), replace(wanted, lead=None),
    ):  # fmt: skip
        assert every <= set(generate(looser).hands.tolist())


@given(wants, st.sampled_from(get_args(UpTo)))
@share(0.3)
def test_one_of_each_class_comes_from_what_was_wanted(wanted: StickingQuery, up_to: str) -> None:
    (way,) = (each for each in get_args(UpTo) if each == up_to)
    some, every = generate(wanted, up_to=way).hands.tolist(), generate(wanted).hands.tolist()
    assert set(some) <= set(every)
    assert some == sorted(set(some))
    assert some[:1] == every[:1]  # the first of all is the first of its class


@given(st.integers(1, 10), st.booleans())
def test_two_ways_to_ask_for_the_longest_run_agree(n: int, around: bool) -> None:  # noqa: FBT001 - drawn
    codes = generate(StickingQuery(n)).hands
    runs = longest_run(codes, n, around=around)
    for most in range(1, n + 1):
        np.testing.assert_array_equal(run_over(codes, n, most, around=around), runs > most)


@given(sets)
@share(0.4)
def test_a_cover_covers_and_is_never_longer_than_one_by_one(holds: list[frozenset[str]]) -> None:
    found = cover(holds)
    assert union(holds[i] for i in found.chosen) == union(holds)
    assert found.bound == len(found.chosen) <= len(greedy(holds))
    assert list(found.chosen) == sorted(set(found.chosen))


@given(sets, st.integers(1, 4))
@share(0.3)
def test_the_best_of_more_holds_no_less(holds: list[frozenset[str]], n: int) -> None:
    fewer, more = best_of(holds, n), best_of(holds, n + 1)
    assert fewer.held <= more.held <= len(union(holds))
    assert shares(fewer.chosen, holds)[-1:] in ([], [fewer.held / max(len(union(holds)), 1)]) or not union(
        holds
    )


@given(exercises(), st.integers(SHORTEST, LONGEST))
@share(0.4)
def test_hand_changes_are_as_many_as_notes_where_nothing_rests(exercise: Exercise, k: int) -> None:
    found = hand_changes(exercise, k)
    assert found.total() <= len(exercise.notes)
    assert all(len(window) == k for window in found)
    if len(exercise.struck) == len(exercise.notes):
        assert found.total() == len(exercise.notes)


@given(exercises(), st.integers(0, 40))
@share(0.3)
def test_hand_changes_and_load_don_t_depend_on_where_the_repeat_begins(exercise: Exercise, by: int) -> None:
    at = by % len(exercise.notes)
    assume(exercise.notes[at].hand is not None)
    turned = Exercise(exercise.notes[at:] + exercise.notes[:at])
    assert hand_changes(exercise, 4) == hand_changes(turned, 4)
    mine, other = (difficulty(each, Tempo.parse("1/4=90")).weighed for each in (exercise, turned))
    assert other[:-1] == pytest.approx(mine[:-1], rel=1e-6)  # but for which hand leads


@given(exercises())
@share(0.3)
def test_the_faster_tempo_is_never_the_easier(exercise: Exercise) -> None:
    slow, fast = (difficulty(exercise, Tempo(Fraction(1, 4), bpm)) for bpm in (60.0, 90.0))
    assert fast.load == pytest.approx(1.5 * slow.load)
    assert all(b >= a >= 0 for a, b in zip(slow.weighed, fast.weighed, strict=True))


@given(exercises())
@share(0.3)
def test_with_the_hands_swapped_the_other_is_the_weak_one(exercise: Exercise) -> None:
    tempo = Tempo.parse("1/4=90")
    other = difficulty(mirrored(exercise), tempo, "R")
    assert other.load == pytest.approx(difficulty(exercise, tempo, "L").load)


@given(st.lists(exercises(), max_size=6))
@share(0.15)
def test_exercises_stand_easy_to_hard_each_with_a_reason(those: list[Exercise]) -> None:
    asks = difficulties(those, Tempo.parse("1/4=90"))
    order = easy_to_hard(asks)
    assert sorted(order) == list(range(len(those)))
    loads = [asks[place].load for place in order]
    assert all(b >= a - 1e-5 for a, b in pairwise(loads))
    assert len(explain([asks[place] for place in order])) == len(those)


def test_a_generated_page_and_its_exercises_have_the_same_load() -> None:
    """The two ways to the figures, many at once from numbers and one by one from exercises, agree."""
    page = spelled(generate(StickingQuery(7)), Fraction(1, 16))
    tempo = Tempo.parse("1/4=90")
    assert difficulties(page, tempo) == [difficulty(each, tempo) for each in page]
