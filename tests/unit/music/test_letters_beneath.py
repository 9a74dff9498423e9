"""The letters beneath the heads stand on baselines of their own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from xml.etree import ElementTree as ET

import pytest

from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.engraved import EngravedLine
from evenhand.music.text import parse_exercise

SVG = "{http://www.w3.org/2000/svg}"
EXERCISE = parse_exercise("4/4 1/8: >lRLRR -RLL")


def line_of(letters: Mapping[int, str] | Sequence[str] | None, *, show_sticking: bool = True) -> EngravedLine:
    (line,) = engrave(EXERCISE, width=700, stroke_letters=letters, show_sticking=show_sticking).lines
    return line


def group_of(line: EngravedLine, kind: str) -> ET.Element:
    svg = ET.fromstring(line.svg)
    return next(group for group in svg.iter(f"{SVG}g") if kind in group.get("class", "").split())


def baseline_of(group: ET.Element) -> float:
    """Read the y that a group of letters is moved to."""
    return float(group.attrib["transform"].removesuffix(")").split()[1])


def test_each_stroke_letter_stands_under_its_note() -> None:
    line = line_of({0: "D", 1: "T", 3: "U"})
    letters = {float(text.attrib["x"]): text.text for text in group_of(line, "strokes")}
    assert letters == {round(line.notes[at].x, 2): said for at, said in {0: "D", 1: "T", 3: "U"}.items()}


def test_a_sequence_gives_each_position_its_letter() -> None:
    assert line_of(["D", "", "T"]) == line_of({0: "D", 2: "T"})


def test_stroke_letters_have_a_line_of_their_own_below_the_sticking_and_are_quiet() -> None:
    """By hand: a letter of the smaller size must fit between the two baselines."""
    line = line_of(["D"] * 8)
    strokes, sticking = group_of(line, "strokes"), group_of(line, "right")
    size = float(strokes.attrib["font-size"])
    assert baseline_of(strokes) > baseline_of(sticking) + size
    assert size < float(sticking.attrib["font-size"])
    assert float(strokes.attrib["opacity"]) < 0.8
    assert line.height == pytest.approx(
        line_of(None).height + baseline_of(strokes) - baseline_of(sticking), abs=0.02
    )


def test_without_sticking_they_stand_where_it_would() -> None:
    alone = group_of(line_of(["D"] * 8, show_sticking=False), "strokes")
    assert baseline_of(alone) == baseline_of(group_of(line_of(None), "right"))


def test_a_rest_has_no_stroke() -> None:
    assert len(group_of(line_of(["D"] * 8), "strokes")) == 7


@pytest.mark.parametrize("letters", [None, {}, [], {0: ""}])
def test_without_letters_nothing_changes(letters: Mapping[int, str] | Sequence[str] | None) -> None:
    assert line_of(letters) == line_of(None)


def test_what_looks_like_markup_is_only_text() -> None:
    line = line_of({0: "<b>&"})
    assert [text.text for text in group_of(line, "strokes")] == ["<b>&"]
