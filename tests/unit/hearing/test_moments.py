"""Moments at which something begins to sound, whatever the length of the take."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.clicks.find import find_click, only_click
from evenhand.hearing.clicks.sound import without_click
from evenhand.hearing.onsets import candidates as room
from evenhand.hearing.onsets.candidates import find_onsets
from tests.unit.hearing.sounds import RATE_HZ, bursts, clicks, evenly, played


def test_beginnings_are_found_within_two_milliseconds() -> None:
    at_s = evenly(0.5, 0.2, 20)
    _, found = find_onsets(bursts(at_s).astype(np.float32), RATE_HZ)
    clear = found.times_s[found.strength > 4.2]
    assert np.abs(clear[:, None] - at_s).min(axis=0).max() < 0.002
    assert (np.diff(found.times_s) > 0).all()


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 48_000])
def test_a_long_take_in_pieces_has_the_moments_of_the_whole(
    rate_hz: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Eight seconds in pieces of two: the same clear candidates, to a frame's rounding."""
    take = played(repetitions=4, rate_hz=rate_hz)
    whole, at_once = find_onsets(take.samples, rate_hz)
    monkeypatch.setattr(room, "_PIECE_S", 2)
    pieces, found = find_onsets(take.samples, rate_hz)
    assert len(pieces.strength) == len(whole.strength) == len(pieces.sharp)
    clear, also = (each.only(each.strength > 4.2) for each in (at_once, found))
    np.testing.assert_allclose(also.times_s, clear.times_s, atol=1e-3)
    np.testing.assert_allclose(also.level_db, clear.level_db, atol=0.1)


def test_the_share_done_is_told_and_ends_at_one(monkeypatch: pytest.MonkeyPatch) -> None:
    take = played(repetitions=4)
    for piece_s in (2, 120):
        monkeypatch.setattr(room, "_PIECE_S", piece_s)
        told: list[float] = []
        find_onsets(take.samples, take.rate_hz, told.append)
        assert told == sorted(told)
        assert told[-1] == 1


def test_what_is_left_of_a_click_is_no_stroke_and_a_stroke_beside_it_is_one() -> None:
    """Four clicks, the last with a stroke on top."""
    at_s = evenly(0.5, 0.5, 4)
    strokes = bursts(np.array([2.0, 2.25, 2.5, 2.75, 3.0]))
    take = (clicks(at_s, len(strokes) / RATE_HZ) + strokes).astype(np.float32)
    _, found = find_onsets(take, RATE_HZ)
    click = find_click(take, RATE_HZ, found, 0.5)
    assert click is not None
    clear = found.only(found.strength > 4.2)
    rest = only_click(take, without_click(take, RATE_HZ, click), RATE_HZ, clear, click)
    nearest = np.abs(clear.times_s[:, None] - np.concatenate([at_s, [2.25, 2.5, 2.75, 3.0]])).argmin(axis=0)
    assert rest[nearest].tolist() == [True] * 3 + [False] * 5
