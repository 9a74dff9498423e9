"""Loudness and true peaks of signals whose answer is known on paper; pieces measure like the whole."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.media import loudness as module
from evenhand.media.loudness import Frames, loudness, true_peak_dbtp
from tests.media_files import Plain

RATE_HZ = 48_000


def sine(hz: float, peak: float, seconds: float, rate_hz: int = RATE_HZ, phase: float = 0.0) -> Frames:
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    return (peak * np.sin(2 * np.pi * hz * t + phase)).astype(np.float32)[:, None]


def test_both_channels_are_three_decibels_over_one() -> None:
    one = loudness(Plain(sine(997, 0.1, 2), RATE_HZ)).integrated_lufs
    both = loudness(Plain(np.repeat(sine(997, 0.1, 2), 2, axis=1), RATE_HZ)).integrated_lufs
    assert one is not None
    assert both is not None
    assert both - one == pytest.approx(3.0103, abs=1e-3)


def test_what_lies_ten_decibels_under_the_rest_is_left_out() -> None:
    """8 s of tone, then 8 s 30 dB down: the gate leaves the tone, and blocks that hold part of both."""
    loud, soft = sine(997, 0.1, 8), sine(997, 0.1 * 10**-1.5, 8)
    alone = loudness(Plain(loud, RATE_HZ)).integrated_lufs
    with_soft = loudness(Plain(np.concatenate([loud, soft]), RATE_HZ)).integrated_lufs
    assert alone is not None
    assert with_soft == pytest.approx(alone, abs=0.15)


def test_silence_and_moments_have_no_loudness() -> None:
    assert loudness(Plain(np.zeros((RATE_HZ, 1), np.float32), RATE_HZ)).integrated_lufs is None
    assert loudness(Plain(sine(997, 0.5, 0.39), RATE_HZ)).integrated_lufs is None
    assert loudness(Plain(np.zeros((0, 1), np.float32), RATE_HZ)).true_peak_dbtp < -150


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_a_track_walked_in_pieces_is_as_loud_as_in_one(monkeypatch: pytest.MonkeyPatch, rate_hz: int) -> None:
    rng = np.random.default_rng(5)
    swelling = np.abs(np.sin(np.linspace(0, 9, 8 * rate_hz)))[:, None]
    track = Plain((0.2 * swelling * rng.standard_normal((8 * rate_hz, 2))).astype(np.float32), rate_hz)
    whole = loudness(track).integrated_lufs
    monkeypatch.setattr(module, "PIECE_HOPS", 13)
    assert loudness(track).integrated_lufs == pytest.approx(whole, abs=1e-6)


def test_a_peak_between_the_samples_is_seen() -> None:
    """A sine at a quarter of the rate, 45 degrees on: its samples stand at 0.7071 of its peak (-3.01 dB)."""
    frames = sine(RATE_HZ / 4, 0.5, 1, phase=np.pi / 4) * np.hanning(RATE_HZ)[:, None].astype(np.float32)
    assert 20 * np.log10(float(np.abs(frames).max())) == pytest.approx(-9.03, abs=0.01)
    assert true_peak_dbtp(Plain(frames, RATE_HZ)) == pytest.approx(-6.02, abs=0.01)


@pytest.mark.parametrize("at", [0, 1, 3967, 3968, 4095, 4096, 60_000, 95_999])
def test_a_peak_is_seen_wherever_it_lies(at: int) -> None:
    frames = np.zeros((96_000, 1), np.float32)
    frames[at] = 0.5
    assert true_peak_dbtp(Plain(frames, RATE_HZ)) == pytest.approx(-6.02, abs=0.1)
