"""The picture of where a student is on the path is whole, and says in words what it shows."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from evenhand.acts.weeks.stages import StudentAdvice, advise_student
from evenhand.progress.history import History
from evenhand.progress.stages.path import PracticePath
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.report.plots.advice import LETTER_PX, LINE_PX, WIDTH, advice_picture
from evenhand.report.plots.markup import room_px
from tests.histories import a_take, day, drops

SVG = "{http://www.w3.org/2000/svg}"


def pictured(found: StudentAdvice) -> ET.Element:
    return ET.fromstring(advice_picture(found.path, found.advice))


def drawn(history: History, stage: str) -> ET.Element:
    return pictured(advise_student(history, COMMON_PATH, stage))


def takes(louder_db: float) -> History:
    rng = np.random.default_rng(1)
    return History(
        tuple(
            a_take(day(x), rng, louder_db=louder_db, tempo="1/8=140", ceiling_bpm=180)
            for x in range(0, 12, 2)
        )
    )


def paths(svg: ET.Element, class_: str) -> list[str]:
    return [path.get("d") or "" for path in svg.iter(f"{SVG}path") if path.get("class") == class_]


def said(svg: ET.Element) -> str:
    return " ".join(text.text or "" for text in svg.iter(f"{SVG}text"))


def test_it_is_one_image_with_its_words() -> None:
    svg = drawn(takes(3.0), "half")
    assert svg.get("role") == "img"
    desc = svg.find(f"{SVG}desc")
    assert desc is not None
    assert desc.text is not None
    assert desc.text.startswith("Stay with half.")
    assert "The teacher decides." in desc.text


def test_every_stage_and_every_condition_is_there_and_each_hand_has_its_stick() -> None:
    svg = drawn(takes(3.0), "half")
    assert len([d for name in ("dot stage", "dot both") for d in paths(svg, name)]) >= len(COMMON_PATH.stages)
    assert all(name in said(svg) for name in ("rebound", "half", "full", "soft playing"))
    assert "the crossing" not in said(svg)  # far from here
    assert "dB louder" in said(svg)
    assert (len(paths(svg, "stick r")), len(paths(svg, "stick l"))) == (1, 1)


def test_an_arrow_leads_on_only_where_that_is_proposed() -> None:
    assert len(paths(drawn(takes(0.0), "half"), "to")) == 1
    assert not [d for d in paths(drawn(takes(3.0), "half"), "to") if "Q" in d]


@pytest.mark.parametrize("stage", [stage.name for stage in COMMON_PATH.stages])
def test_nothing_heard_is_still_a_picture(stage: str) -> None:
    assert "can't tell yet" in said(drawn(History(), stage))


def test_drops_are_drawn_too() -> None:
    history = History((), (drops(day(0), "free", "free", "free", "damped"),))
    assert "3 of 4" in said(drawn(history, "rebound"))


LONG = ("rebound doubles with accents", "unaccompanied", "half")


@pytest.mark.parametrize("many", [6, 9])
def test_no_stage_s_name_lies_on_another_in_any_usual_face(many: int) -> None:
    first = replace(COMMON_PATH.stages[1], conditions=())
    stages = tuple(replace(first, name=f"{LONG[i % len(LONG)]} {i}") for i in range(many))
    svg = pictured(advise_student(takes(0.0), PracticePath(stages), stages[0].name))
    names = [text for text in svg.iter(f"{SVG}text") if (text.get("class") or "").split()[-1:] == ["m"]]
    boxes = [
        (float(text.get("x") or 0), float(text.get("y") or 0), room_px(text.text or "", LETTER_PX) / 2)
        for text in names
    ]
    assert all(half <= x <= WIDTH - half for x, _, half in boxes)
    for (x, y, half), (other_x, other_y, other_half) in combinations(boxes, 2):
        assert abs(y - other_y) >= LINE_PX - 1 or abs(x - other_x) >= half + other_half
