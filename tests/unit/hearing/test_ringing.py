"""What still rings is taken off the next hit's level. Oracle: each hit's sound alone."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.onsets.attack import time_hits
from evenhand.hearing.onsets.ringing import ringing
from tests.unit.hearing.sounds import RATE_HZ, Array, evenly, floor_of_noise

MODES_HZ, DECAYS_S = (331.0, 547.0, 822.0, 1290.0, 2210.0), (0.09, 0.07, 0.05, 0.04, 0.02)


def drum(rng: np.random.Generator, level_db: float) -> Array:
    """Give a blow on a drum that rings: modes of random phase, and a short rattle."""
    t = np.arange(round(0.4 * RATE_HZ)) / RATE_HZ
    sound = 0.5 * rng.standard_normal(t.size) * np.exp(-t / 0.004)
    for hz, decay_s in zip(MODES_HZ, DECAYS_S, strict=True):
        sound += np.sin(2 * np.pi * hz * t + rng.uniform(0, 2 * np.pi)) * np.exp(-t / decay_s)
    return np.asarray(10 ** (level_db / 20) * sound * np.minimum(t / 0.0005, 1))


def test_soft_taps_in_the_ring_of_accents_have_their_own_level(rng: np.random.Generator) -> None:
    """Twelve pairs, the tap 16 dB softer and 160 ms behind: the ring is about as loud as the tap."""
    accents = evenly(0.3, 0.5, 12)
    at_s = np.sort(np.concatenate([accents, accents + 0.16]))
    take = floor_of_noise(7.0, -90.0)
    alone = []
    for i, time_s in enumerate(at_s.tolist()):
        sound, first = drum(rng, -6.0 - 16.0 * (i % 2)), round(time_s * RATE_HZ)
        take[first : first + len(sound)] += sound
        cut = floor_of_noise(1.0, -90.0)
        cut[9600 : 9600 + len(sound)] += sound
        alone.append(float(time_hits(cut.astype(np.float32), RATE_HZ, np.array([0.2])).levels_db[0]))
    found = time_hits(take.astype(np.float32), RATE_HZ, at_s).levels_db
    off = np.abs(found - np.array(alone))[1::2]
    assert off.mean() < 0.5
    assert off.max() < 1.5


def test_a_steady_tone_explains_itself_and_noise_hardly_does(rng: np.random.Generator) -> None:
    t = np.arange(2688) / RATE_HZ
    tone = np.array([0.1 * np.sin(2 * np.pi * 440 * t), 0.1 * rng.standard_normal(t.size)], dtype=np.float32)
    found = ringing(tone, 1248, RATE_HZ, np.zeros(2), 0.010)
    assert found.explained[0] == pytest.approx(0.005, rel=0.05)
    assert abs(found.explained[1]) < 0.2 * 0.01


def test_silence_rings_not() -> None:
    found = ringing(np.zeros((2, 2688), dtype=np.float32), 1248, RATE_HZ, np.zeros(2), 0.010)
    np.testing.assert_array_equal(found.explained, 0.0)
