"""The exercise as arrays, by hand."""

from __future__ import annotations

import numpy as np

from tests.unit.hearing.sounds import score_of


def test_rests_are_left_out_and_positions_keep_their_count() -> None:
    score = score_of("1/8: R - >L lR", "1/8=120")
    assert score.positions.tolist() == [0, 2, 3]
    assert score.starts.tolist() == [0, 0.25, 0.375]
    assert score.accents.tolist() == [False, True, False]
    assert score.graces.tolist() == [0, 0, 1]
    assert (len(score), score.length, score.beat) == (3, 0.5, 0.125)


def test_note_numbers_roll_on_from_repetition_to_repetition() -> None:
    score = score_of("1/8: R - >L lR")
    np.testing.assert_allclose(score.written(np.array([0, 2, 3, 7])), [0, 0.375, 0.5, 1.25])


def test_the_shortest_distance_looks_around_the_repeat_too() -> None:
    assert score_of("1/8: R L 1/16: R L").shortest == 1 / 16
    assert score_of("1/4: R L - 1/32: R").shortest == 1 / 32
    assert score_of("1/4: R").shortest == 1 / 4
