"""Open rolls in short. Which number and how many slashes: common practice, worked out by hand here."""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest

from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.mei import to_mei
from evenhand.music.engraving.rolls import Roll
from evenhand.music.engraving.score import score_of
from evenhand.music.text import parse_exercise

NS = {"m": "http://www.music-encoding.org/ns/mei"}
TIE = re.compile(
    r"M([\d.]+) [\d.]+c[\d.]+ [\d.]+ [\d.]+ [\d.]+ ([\d.]+) 0c-[\d.]+ [\d.]+ -[\d.]+ [\d.]+ -[\d.]+ 0z"
)
ROLLS = "4/4 1/32: RRLL RRLL 1/4: >R 1/8: LR 1/32: LLRR 1/8: >L"


@pytest.mark.parametrize(
    ("text", "rolls", "values"),
    [
        # four thirty-seconds: an eighth (one flag) with two slashes makes three beams
        ("1/32: RRLL 1/8: R", {0: Roll(5, 2)}, ["1/8", "1/8"]),
        ("1/32: RRLL RR 1/16: L", {0: Roll(7, 2)}, ["3/16", "1/16"]),
        # eight: a quarter has no flag, so three slashes
        ("1/32: RRLL RRLL 1/4: R", {0: Roll(9, 3)}, ["1/4", "1/4"]),
        ("6/8 1/32: RRLL RRLL RRLL 3/8: R", {0: Roll(13, 3)}, ["3/8", "3/8"]),
        ("4/4 1/32: RRLL RRLL RRLL RRLL 1/2: R", {0: Roll(17, 3)}, ["1/2", "1/2"]),
        # six in sextuplets: sixteenths have two beams, thirty-seconds three
        ("1/24: RRLLRR 1/4: L", {0: Roll(7, 2)}, ["1/4", "1/4"]),
        ("1/48: RRLLRR 1/8: L", {0: Roll(7, 2)}, ["1/8", "1/8"]),
        ("2/4 1/8: R 1/32: LLRR 1/4: L", {1: Roll(5, 2)}, ["1/8", "1/8", "1/4"]),
        ("2/4 1/4: R 1/32: LLRR LLRR | 1/4: >L -", {1: Roll(9, 3)}, ["1/4", "1/4", "1/4", "1/4"]),
        ("1/32: >RRLL 1/8: >R", {0: Roll(5, 2)}, ["1/8", "1/8"]),
        # two rolls one after the other, each with its last note
        ("1/32: RRLL 1/8: R 1/32: LLRR 1/8: L", {0: Roll(5, 2), 2: Roll(5, 2)}, ["1/8"] * 4),
    ],
)
def test_what_is_drawn_short(text: str, rolls: dict[int, Roll], values: list[str]) -> None:
    score = score_of(parse_exercise(text), "short")
    assert score.rolls == rolls
    assert [note.value for note in score.exercise.notes] == [Fraction(value) for value in values]
    assert score.exercise.length == parse_exercise(text).length


@pytest.mark.parametrize(
    "text",
    [
        "1/32: RRLL",  # leads nowhere
        "1/32: RRLL 1/8: -",
        "1/32: RRLL 1/8: L",  # the last stroke is the other hand's
        "1/32: RRLL 1/8: lR",
        "1/32: RLRL 1/8: R",  # singles
        "1/32: RRRR 1/8: L",
        "1/32: RRL>L 1/8: R",  # an accent inside
        "1/32: RR>LL 1/8: R",
        "1/32: RRLL~ 1/8: R",
        "1/32: RRlLL 1/8: R",
        "1/16: RRLL 1/8: R",  # doubles that are written out anyway
        "1/48: RRLL 1/8: R",  # a twelfth of a whole note is no plain value
        "1/32: RRLL RRLL RR 1/16: L",  # five sixteenths neither
        "1/32: L RRLL RLR",  # off the grid: begins on the second thirty-second
        "4/4 1/8: R 1/32: LLRR LLRR 1/8: L 1/2: R",  # a quarter across the beat
        "1/32: " + "RRLL" * 5 + " 1/4: R",  # more than seventeen
        "1/32: RR 1/16: L",
        "1/32: BBLL 1/8: R",  # what one slashed note cannot say of its strokes
        "1/32: RRxLL 1/8: R",
        "1/32: RkRkLL 1/8: R",
        "1/32: R(R)LL 1/8: R",
        "1/32: RR f LL 1/8: R",
        "1/32: RR+LL 1/8: R",
        "1/32: RRLL 1/8: B",  # the last stroke is no hand's alone
        "1/32: RRLL 1/8: Rk",
        "4/4 1/16: {6:4 RRLLRR} {6:4 LLRRLL} 1/4: R",  # tuplets stand as they were typed
    ],
)
def test_what_stays_written_out(text: str) -> None:
    exercise = parse_exercise(text)
    assert score_of(exercise, "short").exercise == exercise


def test_written_is_what_is_written() -> None:
    exercise = parse_exercise(ROLLS)
    assert score_of(exercise).exercise == exercise


def test_bar_lines_stay_before_their_notes() -> None:
    score = score_of(parse_exercise("2/4 1/4: R 1/32: LLRR LLRR | 1/4: >L - |"), "short")
    assert score.exercise.bar_lines == (2,)
    assert score.positions == (0, 1, 9, 10)


def test_every_position_keeps_a_place_in_rising_order() -> None:
    """A run of four in an eighth's column: its notes stand a quarter of the column apart."""
    exercise = parse_exercise(ROLLS)
    (line,) = engrave(exercise, width=700, rolls="short").lines
    assert [note.position for note in line.notes] == list(range(len(exercise.notes)))
    assert all(before.x < after.x for before, after in pairwise(line.notes))
    steps = [after.x - before.x for before, after in pairwise(line.notes[:9])]
    assert steps == pytest.approx([steps[0]] * 8)


def test_the_number_of_strokes_stands_over_the_slashed_note_with_its_first_hand() -> None:
    (line,) = engrave(parse_exercise(ROLLS), width=700, rolls="short").lines
    svg = ET.fromstring(line.svg)
    texts = list(svg.iter("{http://www.w3.org/2000/svg}text"))
    numbers = {float(t.attrib["x"]): t.text for t in texts if t.get("class") == "roll"}
    assert numbers == {round(line.notes[0].x, 2): "9", round(line.notes[11].x, 2): "5"}
    assert "".join(t.text or "" for t in texts if t.get("class") is None) == "RRRLLL"
    assert 'aria-label="Sticking: roll of 9 from R R L R roll of 5 from L L"' in line.svg


def test_a_letter_inside_a_roll_is_left_out() -> None:
    exercise = parse_exercise("1/32: RRLL 1/8: R")
    short = engrave(exercise, width=700, rolls="short", stroke_letters=list("FTFTD"))
    assert short == engrave(exercise, width=700, rolls="short", stroke_letters={0: "F", 4: "D"})


def test_slashes_are_written_for_the_engraver() -> None:
    mei = ET.fromstring(to_mei(parse_exercise("1/8: RL"), slashes={0: 2}).encode())
    assert [note.get("stem.mod") for note in mei.iterfind(".//m:note", NS)] == ["2slash", None]


def test_a_roll_over_the_end_of_a_line_is_tied_on_both() -> None:
    """A tie is two curves, there and back: half of it ends at the bar line, half before the next note."""
    text = "4/4 1/8: RLRL RL 1/32: RRLL RRLL | 1/4: >R - R L"
    first, second = engrave(parse_exercise(text), width=336, rolls="short").lines
    (leaving,), (arriving,) = (TIE.findall(line.svg) for line in (first, second))
    roll = next(note for note in first.notes if note.position == 6)
    assert (
        roll.x
        < float(leaving[0])
        < float(leaving[0]) + float(leaving[1])
        == pytest.approx(first.end_x, abs=0.02)
    )
    assert float(arriving[0]) + float(arriving[1]) < second.notes[0].x
