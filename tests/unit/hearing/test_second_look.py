"""Looking again where a note is wanting: in strengths laid out by hand, 2000 frames a second; in sound."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.alignment.recovery import Matched, find_graces, graces_among, unplayed
from evenhand.hearing.alignment.second_look import look_again
from evenhand.hearing.onsets.attack import TimedHits
from evenhand.hearing.onsets.bands import FRAME_HZ
from tests.unit.hearing.sounds import Array, Floats, score_of

RATE_HZ = 48000
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


def accents_over_taps(under_db: float, *, missed: tuple[int, ...] = ()) -> tuple[Floats, Matched, TimedHits]:
    """Make a take of clicks of noise that ring: accents on every fourth of 32 notes, taps between.

    The three taps after the first accents are known to the follower as the accents are, but for every
    eighth, which it skipped; ``missed`` are silent.
    """
    rng = np.random.default_rng(5)
    sound = 1e-4 * rng.normal(size=round(6.5 * RATE_HZ))
    times = 1.0 + 0.15 * np.arange(32)
    for number, time_s in enumerate(times.tolist()):
        if number not in missed:
            ring_s = np.arange(round(0.5 * RATE_HZ)) / RATE_HZ
            blow = 0.2 * rng.normal(size=len(ring_s)) * np.exp(-ring_s / 0.003)
            blow += np.sin(2 * np.pi * 310 * ring_s) * np.exp(-ring_s / 0.15)
            gain = 0.3 if number % 4 == 0 else 0.3 * 10 ** (-under_db / 20)
            first = round(time_s * RATE_HZ)
            sound[first : first + len(blow)] += gain * blow
    seen = matched([number for number in range(32) if number % 8 != 2], times[np.arange(32) % 8 != 2])
    nothing = np.zeros(len(seen))
    return sound.astype(np.float32), seen, TimedHits(seen.times_s, nothing, nothing + 9, nothing + 1e-5)


def test_skipped_taps_are_found_in_the_ring_of_accents() -> None:
    sound, seen, timed = accents_over_taps(24)
    again = look_again(seen, timed, SCORE, sound, RATE_HZ)
    assert again.matched.numbers.tolist() == list(range(32))
    np.testing.assert_allclose(again.timed.times_s, 1.0 + 0.15 * np.arange(32), atol=0.0005)
    assert len(again.hidden) == 0


def test_a_tap_that_was_not_played_is_not_found() -> None:
    sound, seen, timed = accents_over_taps(24, missed=(10, 26))
    again = look_again(seen, timed, SCORE, sound, RATE_HZ)
    assert sorted(set(range(32)) - set(again.matched.numbers.tolist())) == [10, 26]
    assert len(again.hidden) == 0


def test_a_tap_under_loud_noise_is_hidden_and_not_missed() -> None:
    """From 3.2 s on there is noise, 14 dB over the taps and 10 dB under the accents."""
    sound, seen, timed = accents_over_taps(24)
    late = np.arange(len(sound)) > 3.2 * RATE_HZ
    sound += np.float32(0.1) * np.random.default_rng(7).normal(size=len(sound)).astype(np.float32) * late
    heard = (seen.numbers % 4 == 0) | (seen.times_s < 3.1)
    again = look_again(seen.only(heard), timed.only(heard), SCORE, sound, RATE_HZ)
    unheard = set(range(28)) - set(again.matched.numbers.tolist())
    assert len(unheard) >= 8  # of 10 taps
    assert unheard == set(again.hidden.numbers.tolist())


def test_what_was_found_is_not_moved() -> None:
    sound, seen, timed = accents_over_taps(18)
    again = look_again(seen, timed, SCORE, sound, RATE_HZ)
    known = np.isin(again.matched.numbers, seen.numbers)
    np.testing.assert_array_equal(again.timed.times_s[known], seen.times_s)


def test_a_faint_grace_is_found_in_the_sound_where_the_plain_ones_stand() -> None:
    """Eight flams 30 ms apart; that of the third is 26 dB softer, and was not seen."""
    rng = np.random.default_rng(6)
    sound = 1e-4 * rng.normal(size=round(6 * RATE_HZ))
    for i in range(8):
        for ahead_s, gain in ((0.0, 0.3), (0.03, 0.015 if i == 2 else 0.1)):
            first = round((1.0 + 0.5 * i - ahead_s) * RATE_HZ)
            sound[first : first + 960] += gain * rng.normal(size=960) * np.exp(-np.arange(960) / 150)
    notes = matched(list(range(8)), apart_s=0.5)
    plain = [i for i in range(8) if i != 2]
    at = np.array(plain)
    flat = np.zeros(7, dtype=np.intp)
    graces = Matched(np.asarray(0.97 + 0.5 * at, dtype=np.float64), at, flat, flat + 1, np.full(7, 8.0))
    seen = notes.with_more(graces)
    nothing = np.zeros(len(seen))
    timed = TimedHits(seen.times_s, nothing, nothing + 9, nothing + 1e-5)
    again = look_again(seen, timed, FLAMS, sound.astype(np.float32), RATE_HZ)
    found = again.timed.times_s[(again.matched.numbers == 2) & (again.matched.graces == 1)]
    assert found == pytest.approx([1.97], abs=0.001)


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
