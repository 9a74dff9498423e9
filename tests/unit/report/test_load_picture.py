"""The picture of a load has a stick for each so many strokes, and says in words what it shows."""

from __future__ import annotations

from datetime import date
from xml.etree import ElementTree as ET

import pytest

from evenhand.planning.load import HandLoad, LoadKind, WeekLoad, WeeklyLoad, jumps_of
from evenhand.report.plots.week import HALF_X, WIDTH, load_picture, stick_unit
from evenhand.report.plots.week import LOAD_MOST_STICKS as MOST_STICKS

SVG = "{http://www.w3.org/2000/svg}"

FIGURES_PX = 206.0  # what a week's figures need at the right of the sticks


def course(*strokes: tuple[int, int], kind: LoadKind = "recorded", empty_before: int = 0) -> WeeklyLoad:
    weeks = tuple(
        WeekLoad(
            f"2026-W{i:02d}",
            date.fromisocalendar(2026, i, 1),
            2,
            3,
            20.0,
            {"R": HandLoad(right, 20.0), "L": HandLoad(left, 20.0)},
            empty_before=empty_before if i > 1 else 0,
        )
        for i, (right, left) in enumerate(strokes, start=1)
    )
    return WeeklyLoad(kind, weeks, jumps_of(weeks))


def sticks(svg: ET.Element, hand: str) -> list[int]:
    return [(path.get("d") or "").count("M") for path in svg.iter(f"{SVG}path") if path.get("class") == hand]


def said(svg: ET.Element) -> str:
    return " ".join("".join(text.itertext()) for text in svg.iter(f"{SVG}text"))


def test_a_stick_stands_for_a_round_number_of_strokes() -> None:
    """By hand: 200 a stick for at most 7,000; 2,400 are 12, 7,000 are 35, 2,500 are 12 and a half."""
    svg = ET.fromstring(load_picture([course((2400, 2500), (7000, 6800))]))
    assert (sticks(svg, "r"), sticks(svg, "l")) == ([12, 35], [13, 34])
    assert "one stick is 200 strokes" in said(svg)


def test_it_is_one_image_with_its_words() -> None:
    svg = ET.fromstring(load_picture([course((1000, 900), (1500, 910))]))
    assert svg.get("role") == "img"
    desc = svg.find(f"{SVG}desc")
    assert desc is not None
    assert "1 week jumps by more than a quarter." in (desc.text or "")
    assert "2026-W02 over 2026-W01: right hand strokes +50 %." in (desc.text or "")


def test_a_jump_is_said_beside_its_hand_alone() -> None:
    assert said(ET.fromstring(load_picture([course((1000, 900), (1500, 910))]))).count("+50 %") == 1


def test_weeks_with_nothing_are_said() -> None:
    assert "3 weeks with nothing recorded" in said(
        ET.fromstring(load_picture([course((1, 1), (1, 1), empty_before=3)]))
    )


def test_many_weeks_are_cut_and_said_so() -> None:
    svg = ET.fromstring(load_picture([course(*[(100, 100)] * 40)]))
    assert len(sticks(svg, "r")) == 26
    assert "the newest 26 of 40 weeks" in said(svg)


def test_two_loads_stand_one_under_the_other() -> None:
    words = said(ET.fromstring(load_picture([course((10, 10)), course((20, 20), kind="assigned")])))
    assert words.index("Recorded") < words.index("Assigned")


def test_nothing_counted_is_still_a_picture() -> None:
    assert "Nothing recorded" in said(ET.fromstring(load_picture([WeeklyLoad("recorded", (), ())])))


@pytest.mark.parametrize("most", [1, 36, 37, 38, 370, 371, 999_999])
def test_the_longest_line_has_room(most: int) -> None:
    assert most / stick_unit(most) <= MOST_STICKS
    svg = ET.fromstring(load_picture([course((most, 0))]))
    (path,) = [path.get("d") or "" for path in svg.iter(f"{SVG}path") if path.get("class") == "r"]
    last = float(path.split("M")[-1].split()[0]) + 2 * HALF_X
    assert last <= WIDTH - FIGURES_PX
