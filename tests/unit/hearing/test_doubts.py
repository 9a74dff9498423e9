"""Saying what cannot be told."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from evenhand.hearing.alignment.costs import CostModel
from evenhand.hearing.alignment.doubt import FROM_HABIT, Ambiguity, beginning_ambiguity, weight
from evenhand.hearing.alignment.follow import align
from evenhand.hearing.alignment.score import Score
from evenhand.hearing.build_result import exercise_mismatch, other_tempos, tempo_warning
from evenhand.music.exercise import Tempo
from evenhand.report.words.remarks import remark_words
from evenhand.take import ExtraHit, Heard, Hit, MissedNote
from tests.unit.hearing.sounds import Array, evenly, score_of

SCORE = score_of("1/8: RLRR LRLL", "1/4=120")


def hits(n: int, off_ms: float = 0.0) -> tuple[Hit, ...]:
    """Give n hits that stand so far off, to either side by turns."""
    return tuple(Hit(0.25 * i, -12.0, 0.9, "R", 1, i % 8, deviation_ms=off_ms * (-1) ** i) for i in range(n))


def missed(n: int) -> tuple[MissedNote, ...]:
    return tuple(MissedNote(1, i % 8) for i in range(n))


def extra(n: int) -> tuple[ExtraHit, ...]:
    return tuple(ExtraHit(0.1 * i, -20.0) for i in range(n))


def test_a_take_of_the_exercise_is_like_it() -> None:
    assert exercise_mismatch(SCORE, Heard(hits(30, 10.0), missed(2), extra(3))) is None


def test_a_take_with_most_notes_unmatched_is_unlike_it_and_says_so_in_figures() -> None:
    said = exercise_mismatch(SCORE, Heard(hits(23), missed(41), extra(7)))
    assert said is not None
    assert "41 of 64 notes unmatched, 7 hits that are not in it" in remark_words(said)


def test_a_take_full_of_other_strokes_is_unlike_it() -> None:
    assert exercise_mismatch(SCORE, Heard(hits(20), (), extra(15))) is not None


def test_strokes_that_stand_nowhere_near_the_notes_are_unlike_it() -> None:
    """An eighth lasts 250 ms: strokes a third of it off are no player's of this exercise."""
    assert exercise_mismatch(SCORE, Heard(hits(30, 80.0))) is not None
    assert exercise_mismatch(SCORE, Heard(hits(30, 20.0))) is None


def test_grace_notes_not_heard_are_no_sign_of_another_exercise() -> None:
    graces = tuple(replace(note, grace=True) for note in missed(30))
    assert exercise_mismatch(SCORE, Heard(hits(30), graces)) is None


def test_nothing_is_unlike_any_exercise() -> None:
    assert exercise_mismatch(SCORE, Heard(())) is not None


def test_other_tempos_are_half_and_double_where_there_are_such() -> None:
    assert [tempo.bpm for tempo in other_tempos(Tempo(Fraction(1, 4), 120))] == [60, 240]
    assert [tempo.bpm for tempo in other_tempos(Tempo(Fraction(1, 4), 8))] == [16]
    assert [tempo.bpm for tempo in other_tempos(Tempo(Fraction(1, 4), 800))] == [400]


@pytest.mark.parametrize(("bpm", "word"), [(90, "slower"), (150, "faster")])
def test_a_tempo_far_off_is_said(bpm: float, word: str) -> None:
    """By hand: 90 and 150 are 25 % off 120."""
    (said,) = tempo_warning(Tempo(Fraction(1, 4), 120), Heard((), tempo_bpm=bpm))
    assert f"25 % {word}" in remark_words(said)


@pytest.mark.parametrize("bpm", [None, 110, 120, 138])
def test_a_tempo_within_fifteen_percent_is_not(bpm: float | None) -> None:
    assert tempo_warning(Tempo(Fraction(1, 4), 120), Heard((), tempo_bpm=bpm)) == ()


def begun(score: Score, times_s: Array, match: Array, elsewhere: float, extra: float = 5.0) -> Ambiguity:
    """Follow, and ask whether another beginning would do."""
    n, m = len(times_s), len(score)
    start = np.tile(np.where(np.arange(m) == 0, 0.0, elsewhere), (n, 1))
    costs = CostModel(times_s, np.full(n, extra), match, start)
    path = align(score, costs)
    assert path is not None
    return beginning_ambiguity(score, costs, path, clicked=False)


@pytest.mark.parametrize("n", [20, 40, 320])
def test_where_any_beginning_would_do_the_take_fits_two_alignments(n: int) -> None:
    """All notes alike, nothing to say where it began: hands cannot be told."""
    said = begun(SCORE, evenly(0.7, 0.25, n), np.zeros((n, 8)), elsewhere=0.0).ambiguity
    assert said is not None
    assert said.kind == "two alignments"
    assert "at 0.7 s" in remark_words(said)
    likely, other = (float(said.facts[key]) for key in ("weight", "other_weight"))
    assert 0.5 <= likely < 0.95
    assert likely + other == pytest.approx(1)


def test_readings_that_cost_the_same_are_as_likely_and_more_nats_are_less_doubt() -> None:
    """By hand: no difference is one to one; a probability grows with the margin, to 1 at most."""
    assert weight(0.0) == 0.5
    assert weight(1.0) < weight(3.0) < weight(30.0) <= 1.0


def test_where_accents_say_so_it_fits_one_only() -> None:
    """Only every eighth may be the top."""
    times, match = evenly(0.7, 0.25, 40), np.zeros((40, 8))
    match[np.arange(40) % 8 == 0, 1:] = 3.0
    match[np.arange(40) % 8 != 0, 0] = 3.0
    assert begun(SCORE, times, match, elsewhere=0.0) == Ambiguity()


def test_where_habit_alone_says_so_that_is_a_warning() -> None:
    """Beginning elsewhere is 4 nats less likely, and nothing else differs."""
    remark = begun(SCORE, evenly(0.7, 0.25, 40), np.zeros((40, 8)), elsewhere=4.0)
    assert remark == Ambiguity(warnings=(FROM_HABIT,))


def test_another_way_that_gives_the_same_hands_is_no_doubt() -> None:
    """One hand only: whichever note it began with, the hand is the same."""
    remark = begun(score_of("1/8: RRRR"), evenly(0.7, 0.25, 24), np.zeros((24, 4)), elsewhere=0.0)
    assert remark == Ambiguity()


def test_a_take_that_must_begin_at_the_top_is_no_doubt() -> None:
    """Neither elsewhere, nor with a later blow: leaving one out is too dear."""
    remark = begun(SCORE, evenly(0.7, 0.25, 40), np.zeros((40, 8)), elsewhere=20.0, extra=15.0)
    assert remark == Ambiguity()
