"""Candidates weighed, and the way through the exercise that they allow."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.alignment.costs import CostModel
from evenhand.hearing.alignment.follow import Alignment, best_alignment, matched_ratio, missed_ratio
from tests.unit.hearing.sounds import candidates_at, evenly, score_of

SCORE = score_of("1/8: RLRR LRLL", "1/4=120")


def path_of(candidates: list[int], notes: list[int], stretches: list[int] | None = None) -> Alignment:
    where = stretches or [0] * len(notes)
    return Alignment(np.array(candidates), np.array(notes), np.array(where), 1.0)


def test_wanting_are_the_notes_skipped_for_each_note_heard() -> None:
    """By hand: two of eight; what a stop cut off is not wanting."""
    assert missed_ratio(path_of([0, 1, 2, 3], [0, 1, 3, 5])) == pytest.approx(2 / 4)
    assert missed_ratio(path_of([0, 1, 2, 3], [0, 1, 8, 9], [0, 0, 1, 1])) == 0


def test_explained_is_what_asks_to_be_a_note_and_is_taken_for_one() -> None:
    """By hand: three of four that cost 6 nats to leave out are taken; a fifth costs 1 of 25 in all."""
    extra = np.array([6.0, 6.0, 6.0, 6.0, 1.0])
    costs = CostModel(evenly(0.0, 0.25, 5), extra, np.zeros((5, 8)), np.zeros((5, 8)))
    assert matched_ratio(path_of([0, 1, 2], [0, 1, 2]), costs) == pytest.approx(18 / 25)


def test_clear_candidates_are_followed_alone_where_they_leave_nothing_wanting() -> None:
    clear = evenly(0.5, 0.25, 24)
    times = np.sort(np.concatenate([clear, clear[:-1:3] + 0.1]))
    strength = np.where(np.isin(times, clear), 8.0, 2.4)
    followed = best_alignment(SCORE, candidates_at(times, strength), None)
    assert followed is not None
    path, seen, _ = followed
    assert seen.times_s[path.candidates].tolist() == clear.tolist()
    assert len(seen) == 24


def test_faint_candidates_fill_in_where_notes_are_wanting() -> None:
    """Every fourth note is faint: it is found among the faint ones, and taken."""
    times = evenly(0.5, 0.25, 32)
    strength = np.where(np.arange(32) % 4 == 3, 2.6, 8.0)
    followed = best_alignment(SCORE, candidates_at(times, strength), None)
    assert followed is not None
    path, seen, _ = followed
    assert seen.times_s[path.candidates].tolist() == times.tolist()
    assert path.notes.tolist() == list(range(32))


def test_no_candidates_are_no_way() -> None:
    assert best_alignment(SCORE, candidates_at([]), None) is None
