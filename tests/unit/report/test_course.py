"""The take from start to end: windows, their figures, the charts' ranges."""

from __future__ import annotations

import re
import statistics
from dataclasses import replace

import pytest

from evenhand.report.plots.markup import axis_over
from evenhand.report.take.report import report_page
from evenhand.report.take.start_to_end import trajectory_of
from tests.unit.measuring.takes import FEW, LATE, STOPPED, TIRED, Played, take_of
from tests.unit.pages.reading import SVG, Page, drawings


def test_the_tempo_of_exact_playing_is_the_written_tempo() -> None:
    """By construction: every note in its place at 1/8 = 140."""
    trajectory = trajectory_of(take_of(Played(spread_ms=0.0)))
    assert [window.tempo_bpm for window in trajectory.windows] == pytest.approx(
        [140.0] * len(trajectory.windows)
    )


def test_a_take_that_drags_falls_in_tempo() -> None:
    tempi = [window.tempo_bpm or 0 for window in trajectory_of(TIRED).windows]
    assert tempi[0] > 138
    assert tempi[-1] < 135  # 5 % lost by the end: 140 / 1.05 = 133.3


def test_spread_is_the_standard_deviation_of_the_windows_hits() -> None:
    """The library's own ``statistics.stdev`` over the first window's right hand."""
    first = trajectory_of(LATE).windows[0]
    hits = [hit for hit in LATE.heard.hits if not hit.grace][: first.n]
    right = [hit.asynchrony_ms for hit in hits if hit.hand == "R" and hit.asynchrony_ms is not None]
    assert first.spread_ms["R"] == pytest.approx(statistics.stdev(right))


def test_no_window_reaches_across_a_stop() -> None:
    trajectory = trajectory_of(STOPPED)
    assert len(trajectory.stops_s) == 2
    for window in trajectory.windows:
        assert not any(last < window.time_s < first for last, first in trajectory.stops_s)
    assert {window.stretch for window in trajectory.windows} == {0, 1, 2}


def test_windows_hold_every_hit_once() -> None:
    assert sum(window.n for window in trajectory_of(TIRED).windows) == 24 * 16


def test_levels_are_of_unaccented_notes_where_there_are_accents() -> None:
    trajectory = trajectory_of(LATE)
    assert trajectory.takes_accents
    assert all(abs(window.level_db["R"] or 0) < 4 for window in trajectory.windows)  # accents lie 8 dB up


def test_a_take_whose_unaccented_notes_were_all_lost_still_has_a_page() -> None:
    lost = frozenset((repetition, position) for repetition in range(1, 13) for position in (1, 3))
    take = replace(take_of(Played(text="1/8: >R L >L R", missed=lost)), measures=None)
    assert all(level is None for window in trajectory_of(take).windows for level in window.level_db.values())
    assert "From start to end" in Page(report_page(take, None, None)).text


def test_stops_are_marked_in_each_chart() -> None:
    charts = [d for d in drawings(report_page(STOPPED, None, None)) if d.attrib.get("class") == "chart"]
    assert len(charts) == 3
    for chart in charts:
        stops = [t for t in chart.iter(f"{SVG}text") if t.text == "stop"]
        assert len(stops) == 2


def test_each_charts_words_tell_start_and_end() -> None:
    charts = [d for d in drawings(report_page(TIRED, None, None)) if d.attrib.get("class") == "chart"]
    words = [chart.findtext(f"{SVG}desc") or "" for chart in charts]
    assert re.match(r"1(39|40)\.\d bpm at the start, 13\d\.\d at the end", words[0])
    assert words[1].startswith("Right hand")


def test_too_short_a_take_has_no_course() -> None:
    short = take_of(Played(text="1/8: RLRL", tempo="1/8 = 100", repetitions=3))
    assert "From start to end" not in Page(report_page(short, None, None)).text


def test_a_take_without_measures_still_has_its_course() -> None:
    page = report_page(replace(FEW, measures=None), None, None)
    assert "From start to end" in Page(page).text


@pytest.mark.parametrize("values", [[140.0], [1.0, 100.0], [-3.2, 4.9], [0.001, 0.002], [7.0, 7.0]])
def test_an_axis_holds_its_values_and_its_least_range(values: list[float]) -> None:
    axis = axis_over(values, least_range=6.0)
    assert axis.low <= min(values)
    assert axis.high >= max(values)
    assert axis.high - axis.low >= 6.0
    assert 2 <= len(axis.steps) <= 7
