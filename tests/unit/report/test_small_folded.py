"""A take in small: columns and rows as in the large picture, drawn to one scale."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from evenhand.music.exercise import Hand
from evenhand.report.take.small import (
    HEIGHT_PX,
    WIDTH_PX,
    SmallHit,
    SmallRow,
    SmallTake,
    px_per_ms,
    small_folded,
)

COLUMN = WIDTH_PX / 4


def take(*lates: tuple[float, float, float, float], strength: float = 1.0) -> SmallTake:
    rows = tuple(SmallRow(tuple(SmallHit(i, late, strength) for i, late in enumerate(row))) for row in lates)
    return SmallTake(("R", "L", "R", "L"), rows, 8.0)


def middles(svg: str, hand: str) -> list[float]:
    """Read where one hand's sticks have their middle."""
    found = re.findall(rf'<path class="{hand}"[^>]*d="([^"]+)"', svg)
    sticks = [s for d in found for s in re.findall(r"M([-\d.]+) [-\d.]+l([-\d.]+) ", d)]
    return sorted(float(x) + float(dx) / 2 for x, dx in sticks)


def test_what_is_on_time_stands_in_the_middle_of_its_column() -> None:
    drawn = small_folded(take((0, 0, 0, 0)))
    assert middles(drawn, "r") == pytest.approx([COLUMN * 0.5, COLUMN * 2.5], abs=0.15)
    assert middles(drawn, "l") == pytest.approx([COLUMN * 1.5, COLUMN * 3.5], abs=0.15)


def test_late_is_right_and_early_is_left_by_the_same_scale() -> None:
    found = take((0, 6, 0, -6))
    scale = px_per_ms(found, COLUMN / 2)
    drawn = middles(small_folded(found), "l")
    assert drawn == pytest.approx([COLUMN * 1.5 + 6 * scale, COLUMN * 3.5 - 6 * scale], abs=0.15)


def test_the_band_is_what_an_ear_cannot_tell() -> None:
    """By hand: 8 ms either side of the middle of the first column, at the take's own scale."""
    found = take((0, 0, 0, 0))
    half = 8.0 * px_per_ms(found, COLUMN / 2)
    band = re.search(r'class="band" d="M([\d.]+) 0h([\d.]+)', small_folded(found))
    assert band is not None
    assert float(band[1]) == pytest.approx(COLUMN / 2 - half, abs=0.1)
    assert float(band[2]) == pytest.approx(2 * half, abs=0.1)


def test_hits_far_out_stay_in_the_picture() -> None:
    drawn = small_folded(take((0, 500, 0, -500), (0, 400, 0, -400)))
    xs = [float(x) for x in re.findall(r"M([-\d.]+) ", drawn)]
    assert min(xs) >= -6
    assert max(xs) <= WIDTH_PX + 6


def test_louder_is_longer_and_heavier() -> None:
    def look(strength: float) -> tuple[float, float]:
        drawn = small_folded(take((0, 0, 0, 0), strength=strength))
        length = re.search(r'class="r"[^>]*d="M[\d.]+ [\d.]+l([\d.]+) ', drawn)
        weight = re.search(r'class="r" stroke-width="([\d.]+)"', drawn)
        assert length is not None
        assert weight is not None
        return float(length[1]), float(weight[1])

    soft, loud = look(0.0), look(1.0)
    assert loud[0] > soft[0]
    assert loud[1] > soft[1]


def test_a_note_that_was_not_heard_is_a_ring() -> None:
    missing = SmallTake(("R", "L"), (SmallRow((SmallHit(0, 0.0, 1.0),), missed=(1,)),), 8.0)
    drawn = ET.fromstring(small_folded(missing))
    rings = [each for each in drawn.iter("{http://www.w3.org/2000/svg}path") if each.get("class") == "ring"]
    assert len(rings) == 1
    assert f"{0.75 * WIDTH_PX - 2.2:.1f} {HEIGHT_PX / 2:.0f}" in (rings[0].get("d") or "")


@pytest.mark.parametrize("rows", [1, 6])
@pytest.mark.parametrize("columns", [1, 4, 16])
def test_any_number_of_notes_and_rows_is_sound_markup(rows: int, columns: int) -> None:
    hands: tuple[Hand, ...] = tuple("R" if i % 2 == 0 else "L" for i in range(columns))
    row = SmallRow(tuple(SmallHit(i, 3.0, 0.5) for i in range(columns)))
    drawn = small_folded(SmallTake(hands, (row,) * rows, 8.0))
    assert ET.fromstring(drawn).get("aria-hidden") == "true"
    assert len(middles(drawn, "r")) + len(middles(drawn, "l")) == rows * columns


def test_an_empty_take_draws_nothing_and_does_not_break() -> None:
    assert "<svg" in small_folded(SmallTake((), (), 8.0))
