"""Looking again where a note is wanting. Strengths are laid out by hand, 2000 frames a second."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.alignment.recovery import Matched, find_graces, find_skipped, graces_among, unplayed
from evenhand.hearing.onsets.bands import FRAME_HZ
from tests.unit.hearing.sounds import Array, Floats, score_of

SCORE = score_of("1/8: RLRR LRLL", "1/4=120")  # 0.25 s a note
FLAMS = score_of("1/4: lR rL", "1/4=120")
DRAGS = score_of("1/4: llR rrL", "1/4=120")


def matched(numbers: list[int], times_s: Array | None = None, apart_s: float = 0.25) -> Matched:
    """Give notes that were found in time, all in one stretch."""
    at = 1.0 + apart_s * np.array(numbers) if times_s is None else times_s
    none = np.zeros(len(numbers), dtype=np.intp)
    return Matched(at, np.array(numbers, dtype=np.intp), none, none, np.full(len(numbers), 8.0))


def strengths(seconds: float, **peaks: float) -> Floats:
    """Give strengths of nothing, with peaks at given milliseconds: ``at1500=3.0``."""
    out = np.full(round(seconds * FRAME_HZ), -1.0, dtype=np.float32)
    for name, height in peaks.items():
        out[round(int(name.removeprefix("at")) * FRAME_HZ / 1000)] = height
    return out


def test_the_unplayed_lie_between_the_first_and_last_of_each_stretch() -> None:
    """By hand: 2 and 3 in the first stretch, 10 in the second; what the stop cut off is not among them."""
    numbers = np.array([0, 1, 4, 5, 8, 9, 11])
    assert unplayed(numbers, np.array([0, 0, 0, 0, 1, 1, 1])) == [(2, 0), (3, 0), (10, 1)]


def test_a_skipped_note_is_found_where_it_is_due() -> None:
    """Note 6 is due at 2.5 s; something sounds 4 ms later."""
    found = find_skipped(matched([0, 1, 2, 3, 4, 5, 7, 8, 9]), SCORE, strengths(5, at2504=3.0))
    assert found.numbers.tolist() == list(range(10))
    assert found.times_s[6] == pytest.approx(2.504, abs=0.001)
    assert found.strength[6] == 3


@pytest.mark.parametrize("peak", [{}, {"at2504": 0.3}, {"at2620": 6.0}, {"at2255": 6.0}])
def test_what_is_too_faint_or_elsewhere_is_not_taken(peak: dict[str, float]) -> None:
    before = matched([0, 1, 2, 3, 4, 5, 7, 8, 9])
    after = find_skipped(before, SCORE, strengths(5, **peak))
    assert after.numbers.tolist() == before.numbers.tolist()


def test_what_was_found_is_not_moved() -> None:
    before = matched([0, 1, 2, 4, 5])
    after = find_skipped(before, SCORE, strengths(4, at1750=4.0, at1250=9.0))
    assert after.times_s[[0, 1, 2, 4, 5]].tolist() == before.times_s.tolist()


def test_graces_are_found_ahead_of_their_notes() -> None:
    notes = matched([0, 1, 2, 3], apart_s=0.5)
    found = find_graces(notes, FLAMS, strengths(4, at970=4.0, at1472=4.0, at2465=4.0))
    graces = found.only(found.graces > 0)
    assert graces.numbers.tolist() == [0, 1, 3]
    np.testing.assert_allclose(graces.times_s, [0.970, 1.472, 2.465], atol=0.001)
    assert (np.diff(found.times_s) > 0).all()


def test_of_two_graces_the_nearest_counts_from_one() -> None:
    found = find_graces(matched([0, 1], apart_s=0.5), DRAGS, strengths(3, at940=3.0, at970=5.0))
    assert found.graces.tolist() == [2, 1, 0, 0]


def test_where_no_graces_are_written_none_are_sought() -> None:
    notes = matched([0, 1, 2, 3])
    assert find_graces(notes, SCORE, strengths(4, at970=9.0)).numbers.tolist() == [0, 1, 2, 3]


def test_a_faint_grace_is_found_where_the_plain_ones_usually_stand() -> None:
    """Six flams 30 ms apart; before the seventh a stronger peak at 70 ms and a faint one at 30."""
    notes = matched(list(range(7)), apart_s=0.5)
    plain = {f"at{970 + 500 * i}": 5.0 for i in range(6)}
    found = find_graces(notes, FLAMS, strengths(6, **plain, at3930=2.2, at3970=1.6))
    graces = found.only(found.graces > 0)
    assert graces.times_s[-1] == pytest.approx(3.970, abs=0.001)


def test_known_blows_just_ahead_of_a_note_are_its_graces() -> None:
    """Blows 0 and 3 are graces; 5 stands too far ahead, 1 is a note of its own."""
    blows = np.array([0.97, 1.0, 1.3, 1.468, 1.5, 1.85, 2.0])
    notes = matched([0, 1, 2], blows[[1, 4, 6]])
    together, used = graces_among(notes, FLAMS, blows, np.array([1, 4, 6]))
    assert used.tolist() == [0, 1, 3, 4, 6]
    assert together.graces.tolist() == [1, 0, 1, 0, 0]
    assert together.numbers.tolist() == [0, 0, 1, 1, 2]
    np.testing.assert_array_equal(together.times_s, blows[used])


def test_a_drag_played_even_has_two_known_graces() -> None:
    blows = np.array([0.94, 0.97, 1.0, 1.5])
    together, _ = graces_among(matched([0, 1], blows[[2, 3]]), DRAGS, blows, np.array([2, 3]))
    assert together.graces.tolist() == [2, 1, 0, 0]
