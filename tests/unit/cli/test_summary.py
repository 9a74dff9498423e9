"""The summary says one sentence, the evidence, the remedy and the figures, on any terminal."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from evenhand.cli.tables.take import summary
from evenhand.measuring.values import Evidence, HeardTake
from evenhand.report.take.report import report_page
from tests.builders import a_blind_take, a_heard_take, a_remark, in_words
from tests.unit.measuring.takes import LATE


def shown(take: HeardTake, *, width: int = 100, colour: bool = False) -> str:
    out = StringIO()
    console = Console(
        file=out,
        width=width,
        force_terminal=colour,
        color_system="truecolor" if colour else None,
        highlight=False,
    )
    console.print(summary(take, width=width))
    return out.getvalue()


def test_the_first_finding_is_on_top_with_its_evidence_and_its_remedy() -> None:
    lines = [line.strip() for line in shown(a_heard_take()).splitlines()]
    assert lines[1] == "The left hand is 3.5 dB weaker than the right."
    assert lines[2] == "+3.5 dB (3.0 to 4.0); from 126 hits; audible from 1 dB"
    assert lines[3].startswith("To practise: Sixteen slow bars")
    assert shown(a_heard_take()).count("The left hand is 3.5 dB weaker") == 1


def test_hands_are_told_apart_without_colour() -> None:
    text = shown(a_heard_take())
    assert "\x1b" not in text
    assert "/ right" in text
    assert "\\ left" in text
    assert "/     \\     /     /     \\     /     \\     \\" in text


def test_there_is_no_red_and_no_green() -> None:
    """Two inks only: each colour that is set is one of theirs."""
    text = shown(a_heard_take(), colour=True)
    colours = {part.split("m")[0] for part in text.split("38;2;")[1:]}
    assert colours == {"79;134;198", "194;98;44"}


def test_figures_carry_interval_and_count_and_too_few_is_said() -> None:
    text = shown(a_heard_take())
    assert re.search(r"\+5\.1 ms +4\.3 to 5\.9 +64", text)
    assert re.search(r"accents over unaccented +too few +1 of 8", text)
    assert re.search(r"0\.472 +0\.466 to 0\.478 +16", text)


@pytest.mark.parametrize("width", [68, 72, 80, 84, 90, 96, 98, 100])
def test_nothing_is_cut_off(width: int) -> None:
    text = shown(a_heard_take(), width=width)
    assert "…" not in text
    assert max(len(line.rstrip()) for line in text.splitlines()) <= width


def test_a_small_figure_is_not_rounded_away() -> None:
    drift = Evidence("drift_bpm_per_min", 0.071, "bpm/min", 900, (0.052, 0.09), 0.04)
    finding = in_words("hurrying", "The tempo hurries.", drift, "Play with the click.")
    text = shown(a_heard_take(findings=(finding,)))
    assert "0.07 bpm/min (0.05 to 0.09); from 900 hits; audible from 0.04 bpm/min" in text


def test_doubts_come_before_figures_and_cautions_last() -> None:
    text = shown(a_heard_take(heard=replace(a_heard_take().heard, ambiguity=a_remark("It fits two ways."))))
    assert text.index("! It fits two ways.") < text.index("timing, mean")
    assert text.index("drift") < text.index("see a clinician")


def test_an_unlike_take_is_said_on_top() -> None:
    heard = replace(a_heard_take().heard, unlike=a_remark("This does not sound like the exercise."))
    lines = shown(a_heard_take(heard=heard)).splitlines()
    assert lines[1].strip() == "This does not sound like the exercise."


def test_blind_it_says_what_would_tell_more() -> None:
    text = shown(a_blind_take())
    assert "2 hits" in text
    assert "--exercise" in text


def test_levels_are_told_against_the_same_middle_as_in_the_report() -> None:
    """The level row of the terminal is the level column of the page, for the same take."""
    row = re.findall(r"level dB +(.*)", shown(LATE, width=100))
    table = re.search(r'<table[^>]*class="notes".*?</table>', report_page(LATE, None, None), re.DOTALL)
    assert table is not None
    rows = [["".join(cell.itertext()) for cell in row] for row in ET.fromstring(table[0]).iter("tr")]
    assert rows[0][5] == "level, dB"
    assert " ".join(row).split() == [cells[5] for cells in rows[1:]]
