"""What stands out from what came just before."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.onsets.bands import (
    FRAME_HZ,
    SETTINGS,
    Novelty,
    band_energies,
    novelty,
    peak_frames,
    sharpened,
)
from tests.unit.hearing.sounds import RATE_HZ, Floats, bursts, evenly, floor_of_noise


def steps(*at: int, frames: int = 400, height: float = 100.0) -> Floats:
    """Give energies that jump at these frames and fall back a fifth each frame, in every band."""
    energies = np.ones((5, frames), dtype=np.float32)
    for frame in at:
        energies[:, frame:] += height * 0.8 ** np.arange(frames - frame, dtype=np.float32)
    return energies


def test_what_goes_on_unchanged_does_not_stand_out() -> None:
    heard = novelty(np.full((5, 300), 0.25, dtype=np.float32))
    assert np.abs(heard.strength).max() < 1e-3
    assert peak_frames(heard).size == 0


def test_silence_holds_no_candidate() -> None:
    assert peak_frames(novelty(np.zeros((5, 300), dtype=np.float32))).size == 0


def test_a_beginning_is_found_where_it_is() -> None:
    """To a frame: energies jump at 200; what sounds before keeps its peace."""
    heard = novelty(steps(200))
    found = peak_frames(heard)
    assert len(found) == 1
    assert abs(int(sharpened(heard, found)[0]) - 200) <= 1
    assert heard.strength[:150].max() < SETTINGS.weak


def test_of_two_within_eight_milliseconds_only_the_stronger_is_taken() -> None:
    apart = SETTINGS.apart // 2
    energies = steps(200, height=3.0) + steps(200 + apart, height=300.0) - 1
    heard = novelty(energies)
    found = sharpened(heard, peak_frames(heard))
    assert len(found) == 1
    assert abs(int(found[0]) - 200 - apart) <= 1


def test_candidates_rise_and_keep_their_distance() -> None:
    found = peak_frames(novelty(steps(50, 90, 130, 300)))
    assert len(found) == 4
    assert np.diff(found).min() > SETTINGS.apart


def test_a_louder_take_stands_out_no_more() -> None:
    once, louder = (novelty(gain * steps(200)) for gain in (1, 10_000))
    np.testing.assert_allclose(louder.strength, once.strength, atol=1e-3)


@pytest.mark.parametrize("seed", [1, 2])
def test_steady_noise_gives_about_a_spread_of_one(seed: int) -> None:
    """Strengths are in units of the spread that noise gives: 30 s of it hold hardly a clear candidate."""
    heard = novelty(band_energies(floor_of_noise(30, -40, seed=seed), RATE_HZ))
    assert 0.5 < heard.sharp[100:-100].std() < 1.2
    assert (heard.strength[peak_frames(heard)] > SETTINGS.strong).sum() <= 3


def test_bursts_are_all_found_loud_or_soft() -> None:
    """32 bursts, 0.15 s apart, 20 dB between loud and soft: each has a clear candidate within 3 ms."""
    at_s = evenly(0.5, 0.15, 32)
    heard = novelty(band_energies(bursts(at_s, np.where(np.arange(32) % 4 == 0, -12.0, -32.0)), RATE_HZ))
    frames = peak_frames(heard)
    clear = frames[heard.strength[frames] > SETTINGS.strong]
    found_s = sharpened(heard, clear) / FRAME_HZ
    assert np.abs(found_s[:, None] - at_s).min(axis=0).max() < 0.003


def test_sharpening_moves_to_the_shortest_windows_peak_and_not_beyond_its_reach() -> None:
    sharp = np.zeros(100, dtype=np.float32)
    sharp[[43, 48, 80]] = 3, 5, 9
    heard = Novelty(sharp, sharp)
    assert sharpened(heard, np.array([40])).tolist() == [48]
    assert sharpened(heard, np.array([0, 99])).tolist() == [0, 99]
