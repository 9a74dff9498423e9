"""The pad under the sticks: its width, whether it is level and whole, and how far it is seen from above."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from benchmarks.filming.camera import Camera
from benchmarks.filming.case import View
from evenhand.watching.pad import Pad, find_pad

GRID = 2.0
ROWS, COLUMNS = 180, 320
PX_PER_CM = 10.0
MIDDLE = (310.0, 220.0)
Picture = NDArray[np.uint8]


def drawn(
    tilt_deg: float = 0.0, wide_px: float = 300.0, open_share: float = 0.15, middle_x: float = MIDDLE[0]
) -> Picture:
    """Draw a pad's luma on the grid: a round top, and its side under it."""
    y = np.full((ROWS, COLUMNS), 180, np.uint8)
    rows, columns = np.mgrid[:ROWS, :COLUMNS] * GRID + GRID / 2
    cos, sin = np.cos(np.radians(tilt_deg)), np.sin(np.radians(tilt_deg))
    across = cos * (columns - middle_x) + sin * (rows - MIDDLE[1])
    down = cos * (rows - MIDDLE[1]) - sin * (columns - middle_x)
    deep = wide_px * open_share / 2
    y[(abs(across) < wide_px / 2) & (down > 0) & (down < 34)] = 40
    y[(across / (wide_px / 2)) ** 2 + (down / deep) ** 2 < 1] = 75
    return y


def found(y: Picture, lands_px: tuple[float, float] = (300.0, 222.0)) -> Pad | None:
    grey = np.full(y.shape, 128, np.uint8)
    return find_pad(y, grey, grey, lands_px, PX_PER_CM, GRID)


@pytest.mark.parametrize("open_share", [0.06, 0.15, 0.3])
def test_the_pad_is_as_wide_as_it_was_drawn(open_share: float) -> None:
    pad = found(drawn(open_share=open_share))
    assert pad is not None
    assert pad.width_px == pytest.approx(300, abs=5)
    assert not pad.cut_off
    assert pad.tilt_deg == pytest.approx(0, abs=0.4)


def test_how_far_a_pad_is_seen_from_above() -> None:
    pad = found(drawn(open_share=0.2))
    assert pad is not None
    assert pad.open_share == pytest.approx(0.2, abs=0.04)


@pytest.mark.parametrize("tilt_deg", [-4.0, 3.0])
def test_a_tilted_camera_is_told_by_the_pad(tilt_deg: float) -> None:
    pad = found(drawn(tilt_deg))
    assert pad is not None
    assert pad.tilt_deg == pytest.approx(tilt_deg, abs=0.8)


def test_a_pad_that_reaches_over_the_picture_s_edge_is_cut_off() -> None:
    pad = found(drawn(middle_x=100.0), (150.0, 222.0))
    assert pad is not None
    assert pad.cut_off


def test_what_looks_like_the_pad_behind_it_does_not_widen_it() -> None:
    y = drawn()
    y[70:104, 60:110] = 72
    pad = found(y)
    assert pad is not None
    assert pad.width_px == pytest.approx(300, abs=8)


def test_where_there_is_none_none_is_found() -> None:
    assert found(np.full((ROWS, COLUMNS), 180, np.uint8)) is None
    assert found(drawn(), (300.0, 355.0)) is None


def seen_by(view: View) -> Pad:
    """Give a round pad of 30 cm as a camera that stands elsewhere sees it, by the pinhole's own rule."""
    camera, around = Camera.of(view, (1280, 720)), np.radians(np.arange(0, 360, 0.5))
    ring = np.column_stack([15 * np.cos(around), 15 * np.sin(around), 0 * around])
    x, y = camera.picture(ring)[0].T
    slope = (y[x.argmax()] - y[x.argmin()]) / np.ptp(x)
    level = y - slope * x
    box = float(x.min()), float(x.max()), float(y.min()), float(y.max())
    tilt_deg, open_share = float(np.degrees(np.arctan(slope))), float(np.ptp(level) / np.ptp(x))
    return Pad(*box, tilt_deg, cut_off=False, open_share=open_share)


@pytest.mark.parametrize("distance_m", [0.5, 0.6, 0.8])
def test_a_near_camera_is_told_by_a_level_pad_that_slopes(distance_m: float) -> None:
    pad = seen_by(View(distance_m=distance_m, pitch_deg=7.0))
    assert pad.near_cm(1280, pad.width_px / 30) == pytest.approx(100 * distance_m, rel=0.1)


@pytest.mark.parametrize(
    "view", [View(distance_m=1.8), View(distance_m=1.2), View(distance_m=1.8, roll_deg=8.0)]
)
def test_a_far_camera_is_not_called_near(view: View) -> None:
    pad = seen_by(view)
    assert pad.near_cm(1280, pad.width_px / 30) is None


@pytest.mark.parametrize(("pitch_deg", "distance_m"), [(3.0, 2.0), (18.0, 1.8), (25.0, 1.5)])
def test_heights_are_seen_as_high_as_the_pad_s_ellipse_says(pitch_deg: float, distance_m: float) -> None:
    view = View(pitch_deg=pitch_deg, distance_m=distance_m)
    pad, camera = seen_by(view), Camera.of(view, (1280, 720))
    low, high = camera.picture(np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 20.0]]))[0]
    seen_share = float(low[1] - high[1]) / 20 / (pad.width_px / 30)
    assert pad.upright_share == pytest.approx(seen_share, abs=0.025)
