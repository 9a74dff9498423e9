"""The judge of the benchmark is judged: a perfect ear loses nothing, and each fault is seen for what it is.

The timing of a blow is worked twice, in the benchmark and in the hearing, each from the written definition.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchmarks.figures import figure_errors, mains, numbered, smooth, true_heard
from benchmarks.judging import blow_times, judge
from benchmarks.own import judge_own
from benchmarks.takes import BenchTake, make, recipes
from evenhand.hearing.alignment.score import smooth_times
from evenhand.take import Heard, Hit

CASES = ("flams", "stop", "missing", "adding", "click-through")


@pytest.fixture(scope="module")
def takes(tmp_path_factory: pytest.TempPathFactory) -> list[BenchTake]:
    """Give one take of each of some cases."""
    folder: Path = tmp_path_factory.mktemp("takes")
    return [make(r, folder) for r in recipes(20, 0, (), held_out=False) if r.case in CASES and not r.codec]


def test_a_perfect_ear_loses_nothing(takes: list[BenchTake]) -> None:
    for take in takes:
        score = judge(take, blow_times(take), 1.0, blind=False)
        own = judge_own(take, true_heard(take), 0.0)
        assert score.matched == (score.n_true,) * 3
        assert score.n_heard == score.n_true
        assert max(map(abs, (*score.errors_ms, *score.spread_errors_ms))) < 1e-9
        assert not own.aligned_wrong
        assert not own.lost
        assert own.missed == (len(take.truth.missed),) * 3
        assert own.extra == (len(take.truth.extras),) * 3
        assert max(figure_errors(take, true_heard(take)).values()) == 0


def test_a_constant_is_nobodys_fault_and_a_lost_blow_is(takes: list[BenchTake]) -> None:
    for take in takes:
        times = blow_times(take)
        late = judge(take, times + 0.021, 1.0, blind=True)
        assert late.constant_ms == pytest.approx(21, abs=0.01)
        assert late.matched == (late.n_true,) * 3
        assert judge(take, times[:-3], 1.0, blind=True).matched == (late.n_true - 3,) * 3


def changed(take: BenchTake, change: Callable[[Hit], Hit]) -> Heard:
    heard = true_heard(take)
    return replace(heard, hits=tuple(change(hit) for hit in heard.hits))


def test_a_note_off_is_wrong_and_hands_are_counted(takes: list[BenchTake]) -> None:
    def later(hit: Hit) -> Hit:
        return replace(hit, repetition=(hit.repetition or 0) + 1)

    def swapped(hit: Hit) -> Hit:
        return replace(hit, hand="L" if hit.hand == "R" else "R")

    for take in takes:
        moved = judge_own(take, changed(take, later), 0.0)
        assert moved.aligned_wrong
        assert moved.only_repetition
        assert moved.shift == len(take.exercise.struck)
        wrong, of = judge_own(take, changed(take, swapped), 0.0).hands_wrong
        assert wrong == of == len(take.truth.hits)


def test_the_smooth_tempo_is_the_same_worked_twice(takes: list[BenchTake]) -> None:
    for take in takes:
        hits = mains(take)
        written, number, stretch = numbered(take, hits)
        time_s = np.array([hit.time_s for hit in hits])
        other = smooth_times(time_s, written, number.astype(np.intp), stretch.astype(np.intp))
        np.testing.assert_allclose(smooth(time_s, written, number, stretch), other, atol=1e-9)
