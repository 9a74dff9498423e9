"""An address as a QR code."""

from __future__ import annotations

import re

import pytest

from evenhand.errors import UnprintableText
from evenhand.report.print.lesson_sheet import qr_picture


def modules(svg: str) -> list[str]:
    """Read the picture's dark modules back, a text of # and . for each row."""
    side = int(re.search(r'viewBox="0 0 (\d+) \1"', svg)[1])  # type: ignore[index] # it has one
    rows = [["."] * side for _ in range(side)]
    x, y = 0.0, 0.0
    for letter, right, down, run in re.findall(r"([Mm])(-?\d+) ([\d.]+)h(\d+)", svg):
        x, y = (float(right), float(down)) if letter == "M" else (x + float(right), y + float(down))
        rows[int(y)][int(x) : int(x) + int(run)] = ["#"] * int(run)
        x += int(run)
    return ["".join(row) for row in rows]


FINDER = ["#######", "#.....#", "#.###.#", "#.###.#", "#.###.#", "#.....#", "#######"]


def test_the_three_finder_patterns_stand_in_their_corners() -> None:
    """ISO/IEC 18004, 6.3.3: a dark square of 7, a light one of 5, a dark one of 3."""
    rows = modules(qr_picture("https://studio.example/p/9f3kd2"))
    assert [row[:7] for row in rows[:7]] == FINDER
    assert [row[-7:] for row in rows[:7]] == FINDER
    assert [row[:7] for row in rows[-7:]] == FINDER


def test_it_is_as_large_as_its_version_says() -> None:
    """Version v has 17 + 4 v modules a side; 3-M holds 42 bytes (ISO/IEC 18004, from memory)."""
    assert len(modules(qr_picture("https://studio.example/" + "a" * 19))) == 29
    assert len(modules(qr_picture("https://studio.example/" + "a" * 20))) == 33


def test_the_timing_patterns_alternate() -> None:
    """ISO/IEC 18004, 6.3.5: row and column 6 alternate between the finders, dark at even places."""
    rows = modules(qr_picture("https://studio.example/p/9f3kd2"))
    inner = range(8, len(rows) - 8)
    assert [rows[6][x] == "#" for x in inner] == [x % 2 == 0 for x in inner]
    assert [rows[y][6] == "#" for y in inner] == [y % 2 == 0 for y in inner]


def test_an_address_without_end_is_refused() -> None:
    with pytest.raises(UnprintableText, match=r"an address of 5,023 characters is too long for a QR code"):
        qr_picture("https://studio.example/" + "a" * 5000)
