"""Stems and beams at one height, nothing in another's way, nothing cut off.

Outlines are measured by an independent reader of SVG paths (fontTools), line by line.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.etree import ElementTree as ET

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.svgLib.path import parse_path
from hypothesis import given
from hypothesis import strategies as st

from evenhand.music.engraving.columns import Spacing
from evenhand.music.engraving.engrave import SCALE_WIDE, engrave
from evenhand.music.engraving.engraved import EngravedLine
from evenhand.music.engraving.rolls import Rolls
from evenhand.music.engraving.stems import (
    ACCENT,
    BEAM_PITCH_UNITS,
    BEAM_UNITS,
    GRACE_BEAMS_TOP_UNITS,
    GRACE_STEM_UNITS,
    MUSIC_SIZE,
    Stems,
    placed,
)
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.text import parse_exercise
from tests.depth import share
from tests.strategies import exercises

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Box:
    """What one outline covers, px from the line's left edge and from the staff line."""

    left: float
    top: float
    right: float
    bottom: float


def stems_of(text: str) -> Stems:
    exercise = parse_exercise(text)
    return Stems(exercise)


def boxes_of(line: EngravedLine) -> list[Box]:
    """Measure every outline of a line's music, one box each (the tempo mark stands outside)."""
    boxes: list[Box] = []
    music = next(ET.fromstring(line.svg).iter(f"{SVG}g"))
    for path in music.iter(f"{SVG}path"):
        for outline in re.findall(r"M[^M]*", path.attrib["d"]):
            pen = BoundsPen(None)
            parse_path(outline, pen)
            if pen.bounds:
                boxes.append(Box(*pen.bounds))
    return boxes


def staff_y_of(line: EngravedLine) -> float:
    group = next(ET.fromstring(line.svg).iter(f"{SVG}g"))
    return float(group.attrib["transform"].removesuffix(")").split()[1])


@pytest.mark.parametrize(
    "text",
    [
        "4/4 1/8: RL 1/16: RLRL 1/8: RL 3/16: R 1/16: L",
        "1/8: R lL R L | R L R L",  # a grace inside one beam only
        "1/8: R 1/32: LRLR 1/8: RL",
        "1/16: RLRL 1/12: RLR 1/24: RLRLRL",
    ],
)
def test_all_beams_lie_level(text: str) -> None:
    stems = stems_of(text)
    assert len({end for at, end in stems.ends.items() if stems.is_beamed(at)}) == 1


def test_a_stem_without_a_beam_joins_them() -> None:
    stems = stems_of("4/4 1/8: R 1/4: L 1/8: R 1/16: RLRL 1/4: R")
    assert [at for at in stems.ends if not stems.is_beamed(at)] == [0, 1, 2, 7]
    assert len(set(stems.ends.values())) == 1


def test_a_single_stem_is_not_drawn_out_to_the_height_of_four_beams() -> None:
    stems = stems_of("1/4: R 1/64: RLRL")
    assert stems.ends[0] > stems.ends[1]


def test_accents_stand_in_a_row() -> None:
    exercise = parse_exercise("4/4 1/8: >lR L >rL R 1/16: >RL>RL 1/4: >R")
    (line,) = engrave(exercise, width=1000).lines
    accent = placed(ACCENT, 0, 0, MUSIC_SIZE * SCALE_WIDE).removeprefix("M0 0")
    heights = re.findall(r"M[\d.]+ (-[\d.]+)" + re.escape(accent), line.svg)
    assert (len(heights), len(set(heights))) == (5, 1)


@pytest.mark.parametrize("text", ["1/16: lR rL lR rL", "1/32: RlLRrL", "1/12: R llR L", "1/16: R lllR"])
def test_beams_are_raised_off_the_graces_beneath_them(text: str) -> None:
    stems = stems_of(text)
    many = any(len(note.graces) > 1 for note in stems.exercise.notes)
    grace_top = -(GRACE_BEAMS_TOP_UNITS if many else GRACE_STEM_UNITS)
    lowest = max(stems.ends[beam.first] + BEAM_PITCH_UNITS * beam.level + BEAM_UNITS for beam in stems.beams)
    assert lowest < grace_top - 40


def test_short_beams_are_hooks_to_the_side_of_their_neighbour() -> None:
    """By hand: the second beam of a dotted pair points at the longer note; of three, each inwards."""
    hooks = {text: [(beam.first, beam.hook) for beam in stems_of(text).beams if beam.hook] for text in (
        "3/16: R 1/16: L", "1/16: R 3/16: L", "1/16: R 1/8: L 1/16: R", "1/16: RLRL",
    )}  # fmt: skip
    assert list(hooks.values()) == [[(1, -1)], [(0, 1)], [(0, 1), (2, -1)], []]


def test_thirty_seconds_share_one_beam_over_each_eighth() -> None:
    """By hand: one beam over all eight, and two more over each four."""
    beams = [(beam.level, beam.first, beam.last) for beam in stems_of("1/32: RLRL RLRL").beams]
    assert beams == [(0, 0, 7), (1, 0, 3), (1, 4, 7), (2, 0, 3), (2, 4, 7)]


def test_a_short_beam_goes_on_over_a_rest() -> None:
    beams = [(beam.level, beam.first, beam.last) for beam in stems_of("1/16: R-RL").beams]
    assert beams == [(0, 0, 3), (1, 0, 3)]


def number_and_accents(text: str, width: float) -> tuple[Box, list[Box]]:
    """Return the tuplet number's box and the accents': both are known by their place over the beams."""
    (line,) = engrave(parse_exercise(text), width=width).lines
    beam = min(box.top for box in boxes_of(line) if box.right - box.left > 60 and box.bottom < -5)
    over = [box for box in boxes_of(line) if box.bottom < beam]
    accents = [box for box in over if box.right - box.left > 1.3 * (box.bottom - box.top)]
    (number,) = [box for box in over if box not in accents and box.right - box.left > 3]
    return number, accents


@pytest.mark.parametrize("text", ["1/12: R>LR", "1/20: RL>RLR", "1/12: R>L llR", "1/24: RL>R>LRL"])
@pytest.mark.parametrize("width", [336.0, 700.0])
def test_a_tuplets_number_makes_way_for_an_accent(text: str, width: float) -> None:
    number, accents = number_and_accents(text, width)
    assert accents
    for accent in accents:
        assert number.bottom < accent.top or number.right < accent.left or accent.right < number.left


@pytest.mark.parametrize(
    ("text", "show_sticking"), [("1/64: R-", True), ("1/16: R-", False), ("4/4 1/4: R", False)]
)
@pytest.mark.parametrize("width", [336.0, 700.0])
def test_long_rests_and_meters_have_room_at_the_foot(text: str, width: float, *, show_sticking: bool) -> None:
    (line,) = engrave(parse_exercise(text), width=width, show_sticking=show_sticking).lines
    assert max(box.bottom for box in boxes_of(line)) + staff_y_of(line) < line.height - 1


@dataclass(frozen=True)
class TakeRequest:
    """What a page may ask for."""

    width: float
    spacing: Spacing
    repeat: int | None
    rolls: Rolls
    show_sticking: bool


asked_for = st.builds(
    TakeRequest,
    width=st.sampled_from((336.0, 700.0)),
    spacing=st.sampled_from(("time", "note")),
    repeat=st.sampled_from((None, 1, 8)),
    rolls=st.sampled_from(("written", "short")),
    show_sticking=st.booleans(),
)


@share(0.3)
@given(exercise=exercises(), asked=asked_for, strokes=st.booleans())
def test_nothing_is_cut_off(exercise: Exercise, asked: TakeRequest, *, strokes: bool) -> None:
    drawn = engrave(
        exercise,
        width=asked.width,
        spacing=asked.spacing,
        repeat=asked.repeat,
        rolls=asked.rolls,
        show_sticking=asked.show_sticking,
        tempo=Tempo.parse("1/4=80"),
        stroke_letters=["F"] * len(exercise.notes) if strokes else None,
    )
    for line in drawn.lines:
        staff_y = staff_y_of(line)
        for box in boxes_of(line):
            assert box.left >= -0.05
            assert box.right <= line.width + 0.05
            assert box.bottom + staff_y <= line.height
            assert box.top + staff_y >= 0


def test_the_dot_of_a_flagged_note_at_a_lines_end_stands_ahead_of_the_bar_line() -> None:
    drawn = engrave(
        parse_exercise("1/4 3/16: R R R R R lR lR llR R"),
        width=336.0,
        spacing="note",
        tempo=Tempo.parse("1/4=80"),
    )
    for line in drawn.lines:
        dots = [
            box for box in boxes_of(line) if 3.0 < box.right - box.left < 6.0 and box.bottom - box.top < 6.0
        ]
        assert dots
        assert all(box.right < line.end_x for box in dots)
