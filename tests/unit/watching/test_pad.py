"""The pad under the sticks: its width, whether it is level and whole, and how far it is seen from above."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

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
