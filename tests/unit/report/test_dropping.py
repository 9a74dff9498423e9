"""How to hold and drop is drawn for either hand, with words beside; what was dropped is drawn as it was."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from evenhand.music.exercise import Hand
from evenhand.progress.bounce.judge import judge_drop
from evenhand.progress.bounce.restitution import HeardDrop
from evenhand.report.plots.dropping import STEPS, WIDTH, drop_guide
from evenhand.report.take.drops import drops_picture, hand_of, stand_drops
from tests.unit.progress.drops import blows_of, falling

NUMBERS = re.compile(r"(-?[\d.]+) (-?[\d.]+)")
SVG = "{http://www.w3.org/2000/svg}"


def pictures(hands: str) -> list[ET.Element]:
    guide = ET.fromstring(drop_guide(hands).replace(' open=""', ""))
    return guide.findall(f".//{SVG}svg")


def places(picture: ET.Element, class_: str) -> list[tuple[float, float]]:
    """List the points of the paths of a class."""
    paths = [each for each in picture.iter(f"{SVG}path") if class_ in (each.get("class") or "").split()]
    return [(float(x), float(y)) for each in paths for x, y in NUMBERS.findall(each.get("d") or "")]


def test_the_left_hand_is_the_mirror_of_the_right() -> None:
    right, left = (pictures(hand)[1:] for hand in "RL")
    for one, other in zip(right, left, strict=True):
        for class_ in ("skin", "wood", "flesh"):
            mirrored = [(WIDTH - x, y) for x, y in places(other, class_)]
            for drawn, back in zip(places(one, class_), mirrored, strict=True):
                assert drawn == pytest.approx(back, abs=0.11)  # a length is written to a tenth


def test_the_tip_hangs_a_hand_s_breadth_over_the_pad_and_ends_on_it() -> None:
    """By the drawing's scale, 6 px a cm: 8 to 11 cm, as an adult's hand is broad (from memory)."""
    fall = pictures("R")[2]
    tip = min(places(fall, "wood"))
    pad = min(y for _, y in places(fall, "pad"))
    assert 8.0 < (pad - tip[1]) / 6.0 < 11.0


def test_each_picture_has_a_name_of_its_own_and_the_steps_stand_beside_them() -> None:
    both = pictures("RL")
    ids = [each.get("id") for picture in both for each in picture.iter() if each.get("id")]
    assert len(both) == 5
    assert len(set(ids)) == len(ids) == 10
    assert all(f"<li>{step.replace(chr(39), '&#x27;')}</li>" in drop_guide("L") for step in STEPS)


def drop(label: str | None, **changes: object) -> HeardDrop:
    return replace(judge_drop(blows_of(falling(12, 0.8, 9)), None, label), **changes)  # type: ignore[arg-type]


def test_drops_are_drawn_with_hand_grip_and_what_became_of_each() -> None:
    rows = [drop("whole hand, R"), drop("L", kind="damped", damped_from_s=1.2), drop(None)]
    picture = ET.fromstring(drops_picture(rows))
    words = picture.findtext(f"{SVG}desc")
    assert words == (
        "1  right hand, whole hand: 9 bounces, free. 2  left hand: 9 bounces, damped. 3: 9 bounces, free."
    )
    ticks = [each for each in picture.iter(f"{SVG}path") if (each.get("class") or "").startswith("at ")]
    assert [each.get("class") for each in ticks] == ["at r", "at l", "at both"]
    assert [(each.get("d") or "").count("M") for each in ticks] == [9, 9, 9]


def test_without_a_drop_it_says_what_to_do() -> None:
    said = stand_drops([], [])
    assert "No drop was heard. Let the stick fall on the pad" in said
    assert "<svg" not in said


@pytest.mark.parametrize(("label", "hand"), [("R", "R"), ("tips, L", "L"), ("tips", None), (None, None)])
def test_a_drops_hand_is_the_last_part_of_its_label(label: str | None, hand: Hand | None) -> None:
    assert hand_of(drop(label)) == hand
