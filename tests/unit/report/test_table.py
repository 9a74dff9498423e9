"""Every figure carries its unit, its interval, its count and the side of audible it lies on."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from evenhand.measuring.values import HeardTake, Measure, audible_ms
from evenhand.report.take.report import report_page
from evenhand.report.take.table import figures_table, side_words, value_words
from evenhand.report.words.figures import interval_words, plain, side_of_audible, signed
from evenhand.report.words.measures import Figure, measure_words
from tests.unit.measuring.takes import FLAMS, LATE, TAKES
from tests.unit.pages.reading import Page

SIDES = {"can be heard", "can't be heard", "can't tell yet", "–", "rising", "falling"}
MEASURED = [take for take in TAKES.values() if take.measures is not None]


def rows_of_table(take: HeardTake) -> list[list[str]]:
    """Return the cells of every figure's row."""
    assert take.measures is not None
    table = ET.fromstring(figures_table(take.measures))
    rows = [["".join(cell.itertext()) for cell in row] for row in table.iter("tr")]
    return [row for row in rows[1:] if len(row) == 5]


@pytest.mark.parametrize("take", MEASURED)
def test_no_figure_stands_without_unit_interval_count_and_side(take: HeardTake) -> None:
    rows = rows_of_table(take)
    assert len(rows) >= 14
    for name, value, interval, n, side in rows:
        assert re.fullmatch(r"from \d+", n), name
        assert side in SIDES
        if value.startswith("too few to judge"):
            assert re.search(r"\d+ would do", value)
        else:
            assert " to " in interval
            assert re.search(r"\d (ms|dB|bpm|ms a min|bpm a min)$", value) or "share" in name


def test_flams_have_their_gap_and_grace_level() -> None:
    names = [row[0] for row in rows_of_table(FLAMS)]
    assert "graces, ahead by" in names
    assert "graces, level" in names


@pytest.mark.parametrize(
    ("ci95", "side"),
    [
        ((6.1, 9.0), "can be heard"),
        ((-9.0, -6.1), "can be heard"),
        ((-5.9, 5.9), "can't be heard"),
        ((5.0, 7.0), "can't tell yet"),
        ((-7.0, 7.0), "can't tell yet"),
    ],
)
def test_the_side_of_audible_needs_the_whole_interval(ci95: tuple[float, float], side: str) -> None:
    assert side_of_audible(Measure(sum(ci95) / 2, 40, "ms", ci95), 6.0) == side


def test_too_few_are_on_no_side() -> None:
    few = Measure(None, 2, "ms", None, 8)
    assert side_of_audible(few, 6.0) is None
    assert side_words(Figure("timing", few, 6.0)) == "can't tell yet"
    assert value_words(few) == "too few to judge, 8 would do"


@pytest.mark.parametrize(
    ("interval_ms", "heard_from_ms"), [(100, 6.0), (240, 6.0), (400, 10.0), (1000, 25.0)]
)
def test_what_is_audible_follows_the_published_threshold(interval_ms: float, heard_from_ms: float) -> None:
    """Friberg & Sundberg 1995: 6 ms below about 240 ms between notes, 2.5 % of the interval above."""
    assert audible_ms(interval_ms) == pytest.approx(heard_from_ms)


@pytest.mark.parametrize(
    ("value", "as_plain", "as_signed"),
    [(0.04, "0.0", "0.0"), (-0.04, "0.0", "0.0"), (-2.26, "−2.3", "−2.3"), (7.0, "7.0", "+7.0")],
)
def test_figures_have_true_signs_and_no_minus_zero(value: float, as_plain: str, as_signed: str) -> None:
    assert (plain(value), signed(value)) == (as_plain, as_signed)


def test_no_interval_is_a_dash() -> None:
    assert interval_words(None) == "–"


def test_a_finding_shows_figure_interval_count_threshold_places_and_remedy() -> None:
    heard = Page(report_page(LATE, None, None)).section("heard").replace("\N{NO-BREAK SPACE}", " ")
    for piece in (
        "−9.1",
        "−10.2 to −8.0",
        "from 192 hits",
        "audible from 6.0 ms",
        "notes 2, 5, 7, 8",
        "To practise:",
    ):
        assert piece in heard


def test_the_table_of_notes_has_a_row_for_each_struck_note() -> None:
    page = report_page(LATE, None, None)
    found = re.search(
        r'<table class="notes">.*?</table>|<table[^>]*class="notes".*?</table>', page, re.DOTALL
    )
    assert found is not None
    table = ET.fromstring(found[0])
    rows = [["".join(cell.itertext()) for cell in row] for row in table.iter("tr")]
    assert len(rows) == 1 + 16
    assert rows[1][1] == "right accent"
    assert rows[12][-1] == "3"  # missed


def test_a_findings_measure_is_called_as_in_the_table_of_figures() -> None:
    """One figure has one name on a page: beside its finding and among all figures."""
    assert LATE.measures is not None
    table = " ".join(re.sub(r"<[^>]+>", " ", figures_table(LATE.measures)).split())
    for measure in ("timing_mean_ms", "timing_sd_ms", "interval_sd_ms", "level_sd_db"):
        assert measure_words(f"hands.L.{measure}").removeprefix("left hand, ") in table
