"""Which hit is which note, on candidates written down by hand.

Notes are unrolled: number 9 of an exercise of 8 is note 1 of its second repetition.
"""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.alignment.costs import CostModel
from evenhand.hearing.alignment.follow import Alignment, align
from evenhand.hearing.alignment.score import Score
from tests.unit.hearing.sounds import Array, evenly, score_of

BEGUN_ELSEWHERE = 6.0
SCORE = score_of("1/8: RLRR LRLL", "1/4=120")  # 0.25 s a note


def followed(times_s: Array, score: Score = SCORE, extra: float | Array = 5.0) -> Alignment:
    """Follow clear candidates of one kind; beginning elsewhere than at the top is dear."""
    n, m = len(times_s), len(score)
    start = np.tile(np.where(np.arange(m) == 0, 0.0, BEGUN_ELSEWHERE), (n, 1))
    path = align(score, CostModel(times_s, np.full(n, extra), np.zeros((n, m)), start))
    assert path is not None
    return path


def numbers(path: Alignment) -> list[int]:
    return [int(note) for note in path.notes]


def test_a_straight_performance_is_note_after_note() -> None:
    path = followed(evenly(0.7, 0.25, 32))
    assert numbers(path) == list(range(32))
    assert path.candidates.tolist() == list(range(32))
    assert not path.stretches.any()


def test_rests_and_values_are_followed_as_written() -> None:
    score = score_of("1/8: R - L 1/16: RL R-", "1/4=120")
    once = np.array([0, 0.5, 0.75, 0.875, 1.0])
    path = followed(np.concatenate([0.4 + once, 0.4 + 1.25 + once]), score)
    assert numbers(path) == list(range(10))


@pytest.mark.parametrize("lost", [[5], [5, 6], [3, 9, 20]])
def test_missed_notes_are_stepped_over(lost: list[int]) -> None:
    path = followed(np.delete(evenly(0.7, 0.25, 32), lost))
    assert numbers(path) == [k for k in range(32) if k not in lost]


def test_blows_between_are_no_notes() -> None:
    times = evenly(0.7, 0.25, 24)
    added = times[[4, 13]] + 0.11
    both = np.sort(np.concatenate([times, added]))
    path = followed(both)
    assert numbers(path) == list(range(24))
    assert sorted(set(both) - set(both[path.candidates])) == added.tolist()


@pytest.mark.parametrize("share", [-0.06, 0.06])
def test_a_drift_of_six_percent_is_followed(share: float) -> None:
    apart = 0.25 * (1 + share * np.linspace(0, 1, 63))
    path = followed(0.7 + np.concatenate([[0], np.cumsum(apart)]))
    assert numbers(path) == list(range(64))


@pytest.mark.parametrize("ratio", [0.85, 1.15])
def test_a_tempo_fifteen_percent_off_is_followed(ratio: float) -> None:
    assert numbers(followed(evenly(0.7, 0.25 / ratio, 32))) == list(range(32))


def test_after_a_stop_the_next_stretch_opens_a_repetition_at_its_top() -> None:
    """By hand: notes 0 to 12 (5th of the second time), a pause, then the third time from 16 on."""
    times = np.concatenate([evenly(0.7, 0.25, 13), evenly(5.6, 0.25, 16)])
    path = followed(times)
    assert numbers(path) == [*range(13), *range(16, 32)]
    assert path.stretches.tolist() == [0] * 13 + [1] * 16


def test_a_timing_spread_of_a_tenth_of_the_interval_is_no_hindrance(rng: np.random.Generator) -> None:
    times = evenly(0.7, 0.25, 48) + rng.normal(0, 0.025, 48)
    assert numbers(followed(times)) == list(range(48))


def test_what_sounds_before_the_first_note_can_be_left_out() -> None:
    """A count of four that matches no note and costs little to leave out."""
    times = np.concatenate([[0.1, 0.6, 1.1, 1.6], evenly(2.1, 0.25, 24)])
    n, m = len(times), len(SCORE)
    match, start = np.zeros((n, m)), np.tile(np.where(np.arange(m) == 0, 0.0, BEGUN_ELSEWHERE), (n, 1))
    match[:4] = 4.0
    extra = np.where(np.arange(n) < 4, 0.8, 5.0)
    path = align(SCORE, CostModel(times, extra, match, start))
    assert path is not None
    assert path.candidates[0] == 4
    assert numbers(path) == list(range(24))


def test_a_take_begun_within_the_exercise_is_followed_from_there() -> None:
    """Note values tell where: a long note comes sixth and no other fits."""
    score = score_of("1/16: RLRL 1/8: R 1/4: L", "1/4=120")
    starts = score.written(np.arange(3, 27)) * score.tempo.whole_note_s
    assert numbers(followed(starts, score)) == list(range(3, 27))


def test_an_exercise_of_one_note_is_followed() -> None:
    assert numbers(followed(evenly(0.3, 0.5, 9), score_of("1/4: R"))) == list(range(9))


def test_no_candidates_are_no_path() -> None:
    assert align(SCORE, CostModel(np.zeros(0), np.zeros(0), np.zeros((0, 8)), np.zeros((0, 8)))) is None


def test_an_accent_is_the_last_to_go_unheard() -> None:
    """Each second note is lost. One note back, each first would be: an accent, and less likely."""
    score = score_of("1/8: >RLLRL>L", "1/4=120")
    notes = np.array([n for n in range(36) if n % 6 != 1])
    n = len(notes)
    start = np.tile([6.0, 99.0, 99.0, 99.0, 99.0, 0.0], (n, 1))
    path = align(score, CostModel(0.5 + 0.25 * notes, np.full(n, 99.0), np.zeros((n, 6)), start))
    assert path is not None
    assert (path.notes % 6).tolist() == (notes % 6).tolist()
