"""The folded picture: columns under their notes, rows, marks, and the scale that it states."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest

from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.text import parse_exercise
from evenhand.report.take.report import report_page
from tests.unit.measuring.takes import (
    FLAMS,
    FOUR,
    LATE,
    LONG,
    MANY,
    OFF_CLICK,
    STOPPED,
    TRIPLETS,
    Played,
    take_of,
)
from tests.unit.pages.reading import SVG, Page, blocks, column_xs, sticks

EMPTY_SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1040 90"></svg>'


def engraved(xs: list[float], first: int = 0) -> EngravedLine:
    """Return a line of music whose heads stand at these places."""
    notes = tuple(EngravedNote(first + i, x) for i, x in enumerate(xs))
    return EngravedLine(EMPTY_SVG, 1040.0, 90.0, notes, xs[-1] + 30)


def classes(block: ET.Element) -> Counter[str]:
    """Count the marks of each kind: the moves of the paths of each class."""
    out: Counter[str] = Counter()
    for path in block.iter(f"{SVG}path"):
        out[path.attrib.get("class", "")] += path.attrib["d"].count("M")
    return out


def words_in(block: ET.Element, kind: str) -> list[str]:
    """Return the texts of one class."""
    return [text.text or "" for text in block.iter(f"{SVG}text") if text.attrib.get("class") == kind]


def test_each_column_stands_under_its_note() -> None:
    """By construction: heads at places of our own, 60 apart from 80 on; the block starts no gutter."""
    xs = [80.0 + 60 * i for i in range(16)]
    page = report_page(LATE, EngravedExercise((engraved(xs),)), None)
    (block,) = blocks(page)
    music = next(svg for svg in block.iter(f"{SVG}svg") if svg.attrib.get("class") == "music")
    assert column_xs(block) == pytest.approx([x + float(music.attrib["x"]) for x in xs], abs=0.05)


def test_the_band_and_the_stated_factor_are_the_drawn_ones() -> None:
    """By hand: notes 60 px and 214.29 ms apart are 0.28 px a ms; the band is 6 ms to either side."""
    page = report_page(LATE, EngravedExercise((engraved([80.0 + 60 * i for i in range(16)]),)), None)
    found = re.search(r"drawn ([\d.]+) times wider", Page(page).text)
    assert found is not None
    px_per_ms = float(found[1]) * 60 / 214.2857
    (block,) = blocks(page)
    band = next(path for path in block.iter(f"{SVG}path") if path.attrib.get("class") == "band")
    width = re.search(r"h([\d.]+)v", band.attrib["d"])
    assert width is not None
    assert float(width[1]) == pytest.approx(2 * 6 * px_per_ms, abs=0.11)


def test_a_right_stick_leans_one_way_and_a_left_one_the_other() -> None:
    (block,) = blocks(report_page(LATE, None, None))
    drawn = sticks(block)
    assert {kind for kind, *_ in drawn} == {"r", "l"}
    assert all(rise < 0 for kind, _, _, _, rise in drawn if kind == "r")
    assert all(rise > 0 for kind, _, _, _, rise in drawn if kind == "l")


def test_every_hit_is_one_stick_and_every_missed_note_one_ring() -> None:
    (block,) = blocks(report_page(LATE, None, None))
    assert len(sticks(block)) == 12 * 16 - 3
    marks = classes(block)
    assert marks["ring"] == 3 + 1  # and one beside the count beneath
    assert marks["cross"] == 2 * 2  # two extra hits, two arms each


def test_an_accent_is_a_longer_stick() -> None:
    xs = [80.0 + 60 * i for i in range(16)]
    (block,) = blocks(report_page(LATE, EngravedExercise((engraved(xs),)), None))
    at = column_xs(block)
    length = {
        i: [w for _, x, _, w, _ in sticks(block) if abs(x + w / 2 - at[i]) < 30] for i in (0, 2)
    }  # both right, the first accented
    assert min(length[0]) > max(length[2])


def test_late_is_right_of_the_line_and_early_left() -> None:
    take = take_of(Played(text="1/8: RLRL", tempo="1/8 = 150", late_ms={"R": -8, "L": 8}, spread_ms=0.5))
    (block,) = blocks(report_page(take, None, None))
    xs = column_xs(block)
    for kind, x, _, width, _ in sticks(block):
        middle = x + width / 2
        nearest = min(xs, key=lambda column: abs(column - middle))
        assert (middle > nearest) == (kind == "l")


def test_rows_are_numbered_and_a_take_that_begins_in_the_middle_misses_nothing_before() -> None:
    (block,) = blocks(report_page(STOPPED, None, None))
    numbers = [text for text in words_in(block, "n") if text.isdigit()]
    assert numbers == [str(n) for n in range(1, 11)]
    first_row = min(y for _, _, y, _, _ in sticks(block))
    early = [x for _, x, y, _, _ in sticks(block) if y < first_row + 12]
    assert min(early) > column_xs(block)[5]  # begun at the seventh note


def test_stops_and_new_starts_are_said_between_the_rows() -> None:
    (block,) = blocks(report_page(STOPPED, None, None))
    first, second = words_in(block, "stop")
    assert first.startswith("stopped 3.")
    assert first.endswith("from the top")
    assert second.startswith("stopped 1.")


def test_rests_are_dots_without_a_column() -> None:
    (block,) = blocks(report_page(TRIPLETS, None, None))
    exercise = parse_exercise("1/12: R-L RLR -LR L-L")
    assert len(column_xs(block)) == len(exercise.struck)
    assert classes(block)["rest"] == 14 * 3


def test_graces_stand_before_their_main_stick() -> None:
    (block,) = blocks(report_page(FLAMS, None, None))
    drawn = sticks(block, graces=True)
    assert sum(kind.endswith("g") for kind, *_ in drawn) == 10 * 8
    assert "at a third of that scale" in Page(report_page(FLAMS, None, None)).text


def test_a_long_exercise_has_a_block_of_rows_for_each_line() -> None:
    page = report_page(LONG, None, None)
    assert len(blocks(page)) == 4
    assert len(blocks(page, "phone")) > 4
    assert sum(len(sticks(block)) for block in blocks(page)) == 4 * 64


def test_sixty_repetitions_are_sixty_thin_rows() -> None:
    (block,) = blocks(report_page(FOUR, None, None))
    assert len(sticks(block)) == 240
    assert words_in(block, "n")[:3] == ["1", "5", "10"]


def test_two_hundred_repetitions_fold_into_humps_with_their_means() -> None:
    page = report_page(MANY, None, None)
    (block,) = blocks(page)
    marks = classes(block)
    assert marks["hump r"] + marks["hump l"] == 12 * 16
    assert len(sticks(block)) == 12 * 16
    assert words_in(block, "n")[0] == "1–17"
    assert "folded" in Page(page).text


def test_a_take_that_lies_off_the_click_is_drawn_around_its_own_middle_and_says_so() -> None:
    page = report_page(OFF_CLICK, None, None)
    assert re.search(r"The whole take comes (29|30|31) ms early against the click", Page(page).text)
    (block,) = blocks(page)
    assert classes(block)["tick r"] + classes(block)["tick l"] < 10


def test_a_hit_far_out_is_drawn_at_the_edge_with_a_tick() -> None:
    hits = list(LATE.heard.hits)
    hits[5] = replace(hits[5], asynchrony_ms=200.0)
    hits[6] = replace(hits[6], asynchrony_ms=-200.0)
    page = report_page(replace(LATE, heard=replace(LATE.heard, hits=tuple(hits))), None, None)
    marks = classes(blocks(page)[0])
    assert (marks["tick r"], marks["tick l"]) == (1, 1)  # by construction, notes 6 (R) and 7 (L)
    assert "came further out than drawn" in page


def test_the_figures_beneath_are_the_measured_ones() -> None:
    (block,) = blocks(report_page(LATE, None, None))
    assert LATE.measures is not None
    written = [float(t.replace("−", "-")) for t in words_in(block, "f") + words_in(block, "f b")]
    for each in LATE.measures.positions:
        assert each.timing_ms.value is not None
        assert round(each.timing_ms.value) in written


def test_words_tell_what_the_picture_shows() -> None:
    text = Page(report_page(LATE, None, None)).text
    assert "12 repetitions of 16 notes, 189 hits." in text
    assert "3 notes not heard: note 12 in repetition 8, note 12 in repetition 9" in text
    assert "2 extra hits: in repetition 4 after note 7, in repetition 10 after note 16." in text
    assert re.search(r"On average late \(\d notes, the furthest\): note \d+ \(L\) by", text)
