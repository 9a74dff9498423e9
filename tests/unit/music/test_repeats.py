"""Repeat signs and how often an exercise is played. What the signs look like: common practice."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from evenhand.errors import CannotEngrave
from evenhand.music.engraving.engrave import SCALE_NARROW, SCALE_WIDE, engrave
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine
from evenhand.music.engraving.extents import BAR_DOT_UNITS, THICK_UNITS
from evenhand.music.engraving.mei import to_mei
from evenhand.music.engraving.stems import number
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise

NS = {"m": "http://www.music-encoding.org/ns/mei"}
BARS = "4/4 1/16: " + "RLRR LRLL " * 4


def engraved(text: str, repeat: int | None, width: float = 700.0) -> EngravedExercise:
    return engrave(parse_exercise(text), width=width, repeat=repeat)


def dots_of(line: EngravedLine, scale: float = SCALE_WIDE) -> list[float]:
    """Return the left edges of the repeat dots, from left to right."""
    radius = number(BAR_DOT_UNITS * scale)
    found = re.findall(rf"M(-?[\d.]+) -?[\d.]+a{radius} {radius} 0 1 0", line.svg)
    return sorted(float(x) for x in found)


def thick_bars_of(line: EngravedLine, scale: float = SCALE_WIDE) -> list[float]:
    """Return the right edges of the thick bar lines."""
    pairs = [(float(x), float(to)) for x, to in re.findall(r"M([\d.]+) -[\d.]+H([\d.]+)V[\d.]+H", line.svg)]
    return sorted(to for x, to in pairs if to - x == pytest.approx(THICK_UNITS * scale, abs=0.02))


@pytest.mark.parametrize(("repeat", "dots"), [(None, 2), (1, 0), (2, 4), (8, 4)])
def test_a_sign_has_two_dots_on_the_side_that_is_repeated(repeat: int | None, dots: int) -> None:
    (line,) = engraved("4/4 1/8: RLRR LRLL", repeat).lines
    places = dots_of(line)
    assert len(places) == dots
    if dots == 4:
        opening, closing = thick_bars_of(line)[0], thick_bars_of(line)[-1]
        assert opening < places[0] < line.notes[0].x
        assert line.notes[-1].x < places[2] < closing


def test_played_once_ends_with_a_final_bar_line_and_says_no_number() -> None:
    (line,) = engraved("4/4 1/8: RLRR LRLL", 1).lines
    assert len(thick_bars_of(line)) == 1
    assert "×" not in line.svg


@pytest.mark.parametrize("width", [336.0, 700.0])
def test_the_number_of_times_stands_behind_the_last_bar_line_and_fits(width: float) -> None:
    exercise = engraved(BARS, 128, width)
    assert ["× 128" in line.svg for line in exercise.lines] == [False] * (len(exercise.lines) - 1) + [True]
    last = exercise.lines[-1]
    text = next(element for element in ET.fromstring(last.svg).iter() if element.get("class") == "times")
    x, size = float(text.attrib["x"]), float(text.attrib["font-size"])
    assert last.end_x < x
    assert (
        x + size * (0.6 * 4 + 0.25) < last.width <= width
    )  # digits and the sign at most 0.6 em, the space 0.25


@pytest.mark.parametrize(
    "text", ["4/4 1/16: RLRR LRLL RLRR LRLL", "1/8: lRL", "1/4: R", "12/8 1/8: llR" + "L" * 11]
)
@pytest.mark.parametrize("width", [336.0, 700.0])
def test_signs_stand_clear_of_the_notes(text: str, width: float) -> None:
    """Half a black head is 0.59 staff spaces (the font's metadata), 106 units; a grace's 80."""
    scale = SCALE_NARROW if width < 600 else SCALE_WIDE
    lines = engraved(text, 8, width).lines
    first, last = lines[0].notes[0], lines[-1].notes[-1]
    opening, closing = dots_of(lines[0], scale)[:2], dots_of(lines[-1], scale)[-2:]
    left_edge = min(first.x - 106 * scale, *(x - 80 * scale for x in first.grace_x), first.x)
    assert opening[1] + 2 * BAR_DOT_UNITS * scale < left_edge - 30 * scale
    assert closing[0] > last.x + (106 + 30) * scale


@pytest.mark.parametrize("repeat", [0, -3])
def test_less_than_once_is_refused(repeat: int) -> None:
    with pytest.raises(CannotEngrave, match=rf"to play {repeat} times; must be 1 or more"):
        engraved("1/8: RL", repeat)


def test_only_the_first_line_opens_and_only_the_last_closes() -> None:
    lines = engraved(BARS, 8).lines
    assert [len(dots_of(line)) for line in lines] == [2, 2]


@pytest.mark.parametrize(
    ("repeat", "left", "right", "said"),
    [
        (None, "rptstart", "rptend", []),
        (1, None, "end", []),
        (8, "rptstart", "rptend", ["× 8"]),
    ],
)
def test_the_file_says_it_too(repeat: int | None, left: str | None, right: str, said: list[str]) -> None:
    mei = ET.fromstring(to_mei(parse_exercise("2/4 1/8: RLRR | LRLL"), repeat=repeat).encode())
    measures = mei.findall(".//m:measure", NS)
    assert (measures[0].get("left"), measures[-1].get("right")) == (left, right)
    assert [element.text for element in mei.iterfind(".//m:dir", NS)] == said


@pytest.mark.parametrize(
    ("tempo", "attributes"),
    [
        ("1/4=80", {"mm": "80", "mm.unit": "4"}),
        ("3/8=60", {"mm": "60", "mm.unit": "4", "mm.dots": "1"}),
        ("1/12=120", {"midi.bpm": "40"}),  # 120 triplet eighths are 40 quarters, by hand
    ],
)
def test_the_file_says_the_tempo(tempo: str, attributes: dict[str, str]) -> None:
    mei = ET.fromstring(to_mei(parse_exercise("1/8: RL"), tempo=Tempo.parse(tempo)).encode())
    (mark,) = mei.findall(".//m:tempo", NS)
    assert attributes.items() <= mark.attrib.items()
