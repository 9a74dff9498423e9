"""A stick is followed through clutter and gaps; of two bands the livelier is the front."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.arrays import Floats
from evenhand.film import Blobs, SeenFilm
from evenhand.watching.tracks import follow

N = 240
TIMES = np.arange(N) / 60
Y = 200 - 80 * np.abs(np.sin(2 * np.pi * TIMES))


def film(*patches: tuple[int, Floats, Floats, float, Floats | None]) -> SeenFilm:
    """Give a film: colour, x and y over the frames, mass, and in which frames it is seen."""
    rows = [
        (frame, colour, x[frame], y[frame], mass)
        for colour, x, y, mass, seen in patches
        for frame in range(N)
        if seen is None or seen[frame]
    ]
    table = np.array(sorted(rows), dtype=np.float64).T
    return SeenFilm(TIMES, Blobs(table[0].astype(np.int64), table[1].astype(np.int64), *table[2:]))


def at(x: float) -> Floats:
    return np.full(N, x)


def test_one_band_is_followed_past_clutter_that_is_as_large() -> None:
    clutter = np.random.default_rng(1).uniform(0, 600, (2, N))
    some = np.random.default_rng(2).uniform(size=N) // 0.6
    (track,) = follow(film((0, at(300), Y, 100.0, None), (0, clutter[0], clutter[1], 100.0, some)), 1)
    assert track.bands == 1
    assert float(np.mean(np.abs(track.y - Y) < 1)) > 0.97


def test_gaps_stay_gaps() -> None:
    seen = np.ones(N)
    seen[100:110] = 0
    (track,) = follow(film((0, at(300), Y, 100.0, seen)), 1)
    assert np.isnan(track.y[100:110]).all()
    assert track.seen == pytest.approx(230 / 240)


@pytest.mark.parametrize("front_x", [400.0, 200.0])
def test_two_bands_are_a_pair_with_the_livelier_in_front(front_x: float) -> None:
    back = 200 - 50 * np.abs(np.sin(2 * np.pi * TIMES))
    (track,) = follow(film((0, at(front_x), Y, 100.0, None), (0, at(300), back, 120.0, None)), 1)
    assert track.bands == 2
    np.testing.assert_allclose(track.x, front_x)
    np.testing.assert_allclose(track.back_y, back)


def test_a_stick_that_hardly_moves_points_as_the_other_does() -> None:
    back = 200 - 50 * np.abs(np.sin(2 * np.pi * TIMES))
    jitter = np.random.default_rng(3).normal(0, 0.3, (2, N))
    lively = ((0, at(400), Y, 100.0, None), (0, at(300), back, 100.0, None))
    resting = ((1, at(405), 200 + jitter[0], 100.0, None), (1, at(305), 205 + 2 * jitter[1], 100.0, None))
    _, other = follow(film(*lively, *resting), 2)
    np.testing.assert_allclose(other.x, 405)


def test_a_colour_that_was_not_seen_is_a_track_of_nothing() -> None:
    first, second = follow(film((0, at(300), Y, 100.0, None)), 2)
    assert first.seen == 1.0
    assert second.seen == 0.0
