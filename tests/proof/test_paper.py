"""The model on paper: its arithmetic by hand, and its tables as docs/many.md has them."""

from __future__ import annotations

import pytest

from proof.paper import Assumed, Measured, breaks, evening_table, evenings, lines, peak, tables
from tests.architecture.house import ROOT

ROUND = Measured(
    hearing_s=0.5,
    queue_ms=4.0,
    database_ms=5.0,
    arrival_ms=20.0,
    page_ms=10.0,
    state_ms=5.0,
    sent_mb=2.0,
    kept_mb=1.0,
    row_kb=100.0,
)
EASY = Assumed(takes=900_000, evening=1.0, hours=5.0, sync_ms=1.0)  # 50 a second in the mean, 100 at the peak


def test_the_arithmetic_by_hand() -> None:
    assert {line.what: (round(line.value, 9), line.unit) for line in lines(ROUND, EASY)} == {
        "takes at the peak": (100.0, "a second"),
        "cores that hear, all busy": (50.0, "cores"),
        "cores for the queue's own part": (0.4, "cores"),
        "web: CPU a take": (20.0 + 4 * 5 + 2 * 10, "ms"),
        "web: cores": (12.0, "cores"),
        "Postgres: cores for the queue": (1.0, "cores"),
        "machines of 8 cores that hear": (7, "machines"),  # 50 / 0.9 / 8 = 6.9
        "machines of 8 cores that serve": (2, "machines"),
        "coming in at the peak": (200.0, "MB/s"),
        "recordings a day": (0.9, "TB"),
        "recordings a year": (328.5, "TB"),
        "what was heard, a day, before it is packed": (90.0, "GB"),
    }


def test_what_is_at_its_end_first_by_hand() -> None:
    """At 9,000 takes a day for each take a second at the peak."""
    assert [(line.what, round(line.value / 9000, 6)) for line in breaks(ROUND, EASY)] == [
        ("two cores that hear and serve", round(2 / 0.56, 6)),
        ("one web process: Python computes on one core", round(1 / 0.06, 6)),
        ("a line of 1 Gbit/s", 50.0),
        ("one studio's takes, written one after the other", round(1e3 / 11.0, 6)),
        ("one Postgres with 8 cores, half busy", 800.0),
    ]


def test_the_rest_of_a_day_is_there_at_the_peak_too() -> None:
    """Of 86,400 takes half come in 6 hours, half in 18: 4 a second at the peak and two thirds of one."""
    assert peak(86_400, Assumed(evening=0.5, hours=6.0)) == pytest.approx(4.0 + 43_200 / 64_800)


def test_the_page_has_the_tables_as_they_are_worked_out() -> None:
    text = (ROOT / "docs/many.md").read_text("utf-8")
    assert [name for name, table in tables(Measured.read(), Assumed()).items() if table not in text] == []


@pytest.mark.deep
def test_the_page_has_the_evenings_as_they_are_simulated() -> None:
    found = evening_table(evenings(Measured.read(), Assumed()))
    assert found in (ROOT / "docs/many.md").read_text("utf-8")
