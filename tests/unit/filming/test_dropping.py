"""A dropped stick bounces as formulas say: h_n = e^2n h_0, flights shrink by e near the horizontal."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from benchmarks.filming import FilmCase, film
from benchmarks.filming.playing import play

DROPS = FilmCase(drops=(18.0, 10.0), restitution=0.8, seed=1)


def test_heights_shrink_by_the_square_of_the_restitution() -> None:
    """Hill, Learning Scientific Programming with Python; steps of half a millisecond leave 0.5 %."""
    strokes = play(DROPS).strokes
    second = next(i for i, s in enumerate(strokes) if s.preparation_cm == pytest.approx(10.0))
    for first, h0 in ((0, 18.0), (second, 10.0)):
        heights = [stroke.preparation_cm for stroke in strokes[first : first + 5]]
        assert heights == pytest.approx([h0 * 0.8 ** (2 * n) for n in range(5)], rel=0.005)


def test_late_flights_shrink_by_the_restitution() -> None:
    times = np.array([stroke.time_s for stroke in play(DROPS).strokes])
    flights = np.diff(times)[4:8]
    assert flights[1:] / flights[:-1] == pytest.approx(0.8, abs=0.015)


def test_the_curve_is_at_the_pad_at_each_impact_and_at_its_height_between() -> None:
    played = play(DROPS)
    motion = played.motions["R"]
    for stroke in played.strokes[:6]:
        assert np.interp(stroke.time_s, motion.times_s, motion.tip_cm) == pytest.approx(0, abs=0.15)
    assert motion.tip_cm.min() > -0.01
    assert motion.tip_cm.max() == pytest.approx(18.0, abs=0.01)


def test_drops_can_be_filmed(tmp_path: Path) -> None:
    truth = film(FilmCase(drops=(12.0,), size=(160, 90), fps=15), tmp_path / "drop.mp4")
    assert truth.strokes[0].preparation_cm == pytest.approx(12.0)
