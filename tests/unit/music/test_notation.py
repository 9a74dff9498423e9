"""How exercises are written down. Beams and tuplets: common practice of notation."""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.music.engraving.notation import (
    NoteShape,
    Ratio,
    bars_of,
    beams_of,
    falls_on,
    groups_of,
    parted_of,
    ratio_of,
    shapes_of,
)
from evenhand.music.text import parse_exercise


def beamed(text: str, cuts: tuple[int, ...] = ()) -> str:
    """Say how many notes each beam joins, a word a group; notes without a beam are dots."""
    exercise = parse_exercise(text)
    words: list[str] = []
    for group in groups_of(exercise, cuts):
        joined = {
            at: (first, last) for first, last in beams_of(exercise, group) for at in range(first, last + 1)
        }
        said: list[str] = []
        for at in range(group.start, group.stop):
            if at not in joined:
                said.append(".")
            elif at == joined[at][0]:
                said.append(str(joined[at][1] - joined[at][0] + 1))
        word = "".join(said)
        words.append(word if group.ratio == Ratio() else f"{word}[{group.ratio.num}:{group.ratio.base}]")
    return " ".join(words)


@pytest.mark.parametrize(
    ("value", "ratio", "shapes"),
    [
        (Fraction(1, 8), Ratio(), (NoteShape(8),)),
        (Fraction(3, 16), Ratio(), (NoteShape(8, 1),)),
        (Fraction(7, 16), Ratio(), (NoteShape(4, 2),)),
        (Fraction(2), Ratio(), (NoteShape(0),)),
        (Fraction(1, 12), Ratio(3, 2), (NoteShape(8),)),
        (Fraction(1, 6), Ratio(3, 2), (NoteShape(4),)),
        (Fraction(1, 24), Ratio(3, 2), (NoteShape(16),)),
        (Fraction(1, 20), Ratio(5, 4), (NoteShape(16),)),
        (Fraction(1, 28), Ratio(7, 4), (NoteShape(16),)),
        (Fraction(1, 9), Ratio(9, 8), (NoteShape(8),)),
        (Fraction(5, 16), Ratio(), (NoteShape(4), NoteShape(16))),  # no single note holds five sixteenths
        (Fraction(1, 192), Ratio(3, 2), (NoteShape(128),)),
        (Fraction(1, 4096), Ratio(), (NoteShape(128),)),  # shorter than can be drawn: the shortest there is
    ],
)
def test_what_a_value_is_drawn_as(value: Fraction, ratio: Ratio, shapes: tuple[NoteShape, ...]) -> None:
    assert ratio_of(value) == ratio
    assert shapes_of(value) == shapes


@pytest.mark.parametrize(
    ("text", "beams"),
    [
        ("4/4 1/16: RLRR LRLL RLRL RRLL", "4 4 4 4"),  # by the quarter
        ("4/4 1/8: RLRR LRLL", "4 4"),  # eighths alone by the half bar
        ("3/4 1/8: RLRLRL", "2 2 2"),
        ("6/8 1/8: RLRLRL", "3 3"),  # by the dotted quarter
        ("12/8 1/8: RLRLRLRLRLRL", "3 3 3 3"),
        ("5/8 1/8: RLRLR", "2 3"),
        ("7/8 1/8: RLRLRLR", "2 2 3"),
        ("1/8: RLRR LRLL", "4 4"),
        ("1/8: RLRRL", "5"),
        ("1/16: RLRRL", "5"),
        ("1/4: RLRR", ".. .."),  # quarters have no beams
        ("4/4 1/8: RL 1/16: RRLL", "2 4"),
        ("4/4 3/16: R 1/16: L", "2"),
        ("4/4 1/16: R--L", "4"),  # a beam passes over rests inside it
        ("4/4 1/16: -RL-", ".2."),  # and does not begin or end on one
        ("4/4 1/8: R 1/4: L 1/8: R", "..."),
        ("4/4 1/12: RLR LRL", "3[3:2] 3[3:2]"),
        ("4/4 1/24: RLRLRL", "6[6:4]"),
        ("2/4 1/48: RLRLRL RLRLRL", "6[6:4] 6[6:4]"),  # the shortest are counted by the eighth
        ("4/4 1/8: R 1/24: RLR", ". 3[3:2]"),
        ("1/6: RLR", "...[3:2]"),
        ("1/20: RLRLR LRLRL", "5[5:4] 5[5:4]"),
        ("1/12: RL", "2[3:2]"),  # not filled
        ("1/12: R-R 1/8: RL", "3[3:2] 2"),
        ("1/12: RL 1/20: RL", "2[3:2] 2[5:4]"),
    ],
)
def test_what_is_beamed_together(text: str, beams: str) -> None:
    assert beamed(text) == beams


def test_a_new_line_parts_a_beam() -> None:
    assert beamed("1/16: RLRR LRLL", cuts=(0, 2)) == "2 2 4"


def test_thirty_seconds_part_at_each_eighth() -> None:
    exercise = parse_exercise("1/32: RLRL RLRL")
    assert parted_of(exercise, ((0, 7),)) == {3}


def test_bars_come_from_the_meter_and_from_what_was_written() -> None:
    assert bars_of(parse_exercise("2/4 1/8: RLRR LRLL")) == (0, 4)
    assert bars_of(parse_exercise("1/8: RLR | LRL |")) == (0, 3)
    assert bars_of(parse_exercise("1/8: RLR")) == (0,)


def test_falling_on_a_grid() -> None:
    assert falls_on(Fraction(0), Fraction(1, 4))
    assert falls_on(Fraction(3, 2), Fraction(3, 8))
    assert not falls_on(Fraction(1, 3), Fraction(1, 4))
