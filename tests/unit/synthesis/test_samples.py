"""Strokes from recorded samples."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray

from evenhand.errors import WrongUse
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player
from evenhand.synthesis.voice import SampleBank


def tone(hz: float, rate_hz: int = 44100) -> NDArray[np.float64]:
    t = np.arange(round(0.2 * rate_hz)) / rate_hz
    return np.sin(2 * np.pi * hz * t) * np.exp(-t / 0.03) * np.minimum(t / 0.0005, 1)


def pitch_hz(row: NDArray[np.float64], rate_hz: int) -> float:
    size = np.abs(np.fft.rfft(row, 1 << 16))
    return float(np.argmax(size)) * rate_hz / (1 << 16)


BANK = SampleBank(tuple((tone(hz), 44100) for hz in (400, 800, 1200, 1600, 2000)))


def test_velocity_chooses_the_layer_and_rates_are_met() -> None:
    """Soft is the first layer, loud the last; the pitch is kept at another rate, within 2 %."""
    rows = BANK.strike(np.array([0.0] * 40 + [1.0] * 40), 32000, np.random.default_rng(1)).head
    pitches = np.array([pitch_hz(row, 32000) for row in rows])
    assert np.median(pitches[:40]) == pytest.approx(400, rel=0.02)
    assert np.median(pitches[40:]) == pytest.approx(2000, rel=0.02)
    assert len(set(np.round(pitches / 400))) >= 4  # neighbours are taken, too


def test_a_player_plays_on_samples() -> None:
    exercise = parse_exercise("1/8: >RL>RL")
    player = Player(level_sd_db=0, hand_sd_ms={"R": 0, "L": 0}, timekeeper_sd_ms=0)
    take = simulate(exercise, Tempo(Fraction(1, 8), 120), 2, player=player, scene=Scene(), samples=BANK)
    levels = np.array([hit.level_db for hit in take.truth.hits])
    assert len(levels) == 8
    np.testing.assert_allclose(levels[0::2] - levels[1::2], 9, atol=1e-6)
    np.testing.assert_allclose(np.diff([hit.time_s for hit in take.truth.hits]), 0.5, atol=1e-5)


def test_long_samples_keep_their_tails() -> None:
    long = SampleBank(((np.exp(-np.arange(48000) / 24000) * np.sin(0.1 * np.arange(48000)), 48000),))
    rows = long.strike(np.ones(2), 48000, np.random.default_rng(0))
    assert rows.tail.shape[1] > 30000
    assert np.std(rows.tail[:, 10000:12000]) > 0.1


@pytest.mark.parametrize(
    ("layers", "says"),
    [
        ((), "got none"),
        (((np.zeros(10), 48000),), "must be one channel that sounds"),
        (((np.ones((2, 10)), 48000),), r"got shape \(2, 10\)"),
    ],
)
def test_what_cannot_sound_is_refused(layers: tuple[tuple[NDArray[np.float64], int], ...], says: str) -> None:
    with pytest.raises(WrongUse, match=says):
        SampleBank(layers)
