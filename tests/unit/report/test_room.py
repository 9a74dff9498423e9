"""Words in a picture get room enough in any usual face, before they are drawn."""

from __future__ import annotations

from itertools import pairwise

import pytest

from evenhand.report.plots.markup import in_rows, lines_in, room_px

# How long DejaVu Serif 2.37, the widest usual serif, makes these, in its own units of 1/2048 of a letter's
# size: sums of the advance widths in the font file's hmtx table (OpenType specification).
DEJAVU = {
    "both": 4686,
    "10.0": 4560,
    "RLRR": 5986,
    "rebound doubles": 17427,
    "what an ear can't tell": 22090,
}


@pytest.mark.parametrize("words", DEJAVU)
def test_the_room_holds_the_widest_usual_face(words: str) -> None:
    wide = DEJAVU[words] / 2048
    assert wide <= room_px(words, 1.0) <= 1.25 * wide


def test_lines_hold_all_words_and_fit_or_are_one_word() -> None:
    words = "0 whole repetitions so far, 8 are needed"
    lines = lines_in(words, 120.0, 13.0)
    assert " ".join(lines) == words
    assert all(room_px(line, 13.0) <= 120.0 or " " not in line for line in lines)
    assert len(lines) > 1


def test_things_in_rows_do_not_lie_on_each_other() -> None:
    widths = [50.0, 60.0, 40.0, 119.0, 10.0]
    places = list(in_rows(widths, 120.0, 10.0))
    for ((x, row), width), ((next_x, next_row), _) in pairwise(zip(places, widths, strict=True)):
        assert next_row > row or next_x >= x + width + 10.0
    assert all(x + width <= 120.0 for (x, _), width in zip(places, widths, strict=True))
