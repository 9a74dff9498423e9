"""Counts of stickings and of short sets against published sequences and bounds.

Sources: OEIS A000031 (necklaces of two colours), A000029 (bracelets), A000013 (necklaces, the colours may be
swapped), A003239 (necklaces of 2n beads, n of each colour), A000045 (Fibonacci) and A000073 (tribonacci) for
runs, A016031 (de Bruijn cycles; de Bruijn 1946); the greedy bound H(s) of Johnson 1974, Lovász 1975 and
Chvátal 1979. Values of the OEIS were read there; those of length 4 to 12 were also counted by brute force,
apart from this code.
"""

from __future__ import annotations

from fractions import Fraction
from math import comb

import numpy as np
import pytest

from evenhand.music.equivalence import UpTo
from evenhand.music.exercise import Exercise
from evenhand.music.writing.covering import Held, best_of, cover, greedy
from evenhand.music.writing.difficulty import hand_changes
from evenhand.music.writing.generation import generate
from evenhand.music.writing.properties import StickingQuery
from tests.stickings import exercises

SIXTEENTH = Fraction(1, 16)


def written(wanted: StickingQuery, up_to: UpTo = "none") -> list[Exercise]:
    return exercises(generate(wanted, up_to=up_to), SIXTEENTH)


def held(those: list[Exercise], k: int) -> list[Held]:
    return [frozenset(hand_changes(each, k)) for each in those]


@pytest.mark.parametrize(
    ("n", "strings", "necklaces", "bracelets", "with_swap"),
    [
        (1, 2, 2, 2, 1),
        (2, 4, 3, 3, 2),
        (3, 8, 4, 4, 2),
        (4, 16, 6, 6, 4),
        (5, 32, 8, 8, 4),
        (6, 64, 14, 13, 8),
        (7, 128, 20, 18, 10),
        (8, 256, 36, 30, 20),
        (12, 4096, 352, 224, 180),
        (16, 65536, 4116, 2250, 2068),
    ],
)
def test_classes_of_stickings(n: int, strings: int, necklaces: int, bracelets: int, with_swap: int) -> None:
    """A000031, A000029, A000013; those of length 1 to 3, 5, 7 and 16 from memory, and by Burnside below."""
    ways: tuple[UpTo, ...] = ("none", "rotation", "rotation-reversal", "rotation-swap")
    counts = [len(generate(StickingQuery(n), up_to=up_to)) for up_to in ways]
    assert counts == [strings, necklaces, bracelets, with_swap]


@pytest.mark.parametrize("n", [9, 10, 11, 13, 14, 15, 18])
def test_necklaces_by_burnside(n: int) -> None:
    """Rotation by r keeps 2^gcd(n, r) strings, so there are (1/n) of their sum (Burnside's lemma)."""
    by_burnside = sum(2 ** int(np.gcd(n, r)) for r in range(n)) // n
    assert len(generate(StickingQuery(n), up_to="rotation")) == by_burnside


@pytest.mark.parametrize(("n", "classes"), [(2, 1), (4, 2), (6, 4), (8, 10), (10, 26), (12, 80), (14, 246)])
def test_balanced_stickings_up_to_rotation(n: int, classes: int) -> None:
    """A003239; the strings are the central binomial coefficients."""
    assert len(generate(StickingQuery(n, balanced=True), up_to="rotation")) == classes
    assert len(generate(StickingQuery(n, balanced=True))) == comb(n, n // 2)


@pytest.mark.parametrize(
    ("n", "two", "three", "four"),
    [(4, 10, 14, 16), (6, 26, 48, 58), (8, 68, 162, 216), (12, 466, 1854, 2980)],
)
def test_stickings_by_their_longest_run(n: int, two: int, three: int, four: int) -> None:
    assert [len(generate(StickingQuery(n, longest_run=most))) for most in (2, 3, 4)] == [two, three, four]


@pytest.mark.parametrize("most", [1, 2, 3, 4])
def test_runs_follow_the_fibonacci_rule(most: int) -> None:
    """The last run is 1 to ``most`` long, so a count is the sum of the ``most`` before (A000045, A000073)."""
    counts = [len(generate(StickingQuery(n, longest_run=most))) for n in range(1, 18)]
    assert all(counts[i] == sum(counts[i - most : i]) for i in range(most, len(counts)))


def test_no_run_over_two_around_the_repeat() -> None:
    """Length 8: 46 strings, 7 necklaces, by brute force; balanced with no run over 2 in the line: 34."""
    around = StickingQuery(8, longest_run=2, around=True)
    assert (len(generate(around)), len(generate(around, up_to="rotation"))) == (46, 7)
    assert len(generate(StickingQuery(8, longest_run=2, balanced=True))) == 34


@pytest.mark.parametrize(("k", "cycles"), [(2, 1), (3, 2), (4, 16)])
def test_de_bruijn_cycles_hold_every_hand_change_once(k: int, cycles: int) -> None:
    """A016031: of the necklaces of 2^k notes, 1, 2, 16 hold all 2^k hand changes of k notes."""
    sets = held(written(StickingQuery(2**k, balanced=True), "rotation"), k)
    assert sum(len(each) == 2**k for each in sets) == cycles
    assert len(cover(sets).chosen) == 1


@pytest.mark.parametrize(("k", "fewest"), [(3, 1), (4, 2), (5, 4), (6, 8), (7, 16)])
def test_eight_notes_hold_eight_hand_changes_so_2_to_k_take_2_to_k_less_3(k: int, fewest: int) -> None:
    """No exercise of 8 notes holds more than 8, so 2^k / 8 is the least there can be; it is reached."""
    found = cover(held(written(StickingQuery(8), "rotation"), k))
    assert (len(found.chosen), found.bound) == (fewest, fewest)


@pytest.mark.parametrize("seed", range(5))
def test_greedy_stays_within_its_bound(seed: int) -> None:
    rng = np.random.default_rng(seed)
    page = written(StickingQuery(8))
    sets = held([page[i] for i in rng.choice(len(page), 40, replace=False)], 5)
    harmonic = sum(1 / i for i in range(1, max(map(len, sets)) + 1))
    assert len(greedy(sets)) <= harmonic * len(cover(sets).chosen)


@pytest.mark.parametrize("seed", range(3))
def test_the_best_of_so_many_beats_1_less_1_over_e_of_greedy(seed: int) -> None:
    """Greedy holds at least 1 - (1 - 1/n)^n of the best (Nemhauser, Wolsey & Fisher 1978), never more."""
    rng = np.random.default_rng(seed)
    page = written(StickingQuery(8))
    sets = held([page[i] for i in rng.choice(len(page), 30, replace=False)], 5)
    for n in (2, 3, 4):
        quick = len(frozenset().union(*(sets[i] for i in greedy(sets)[:n])))
        best = best_of(sets, n)
        assert best.optimal
        assert (1 - (1 - 1 / n) ** n) * best.held <= quick <= best.held
