"""Measures on real people tapping to a click.

Data: R. Bååth and G. Madison, The subjective difficulty of tapping to a slow beat, ICMPC 2012 (MIT licence).
Known from the literature: people tap ahead of the click (Dunlap 1910, in Ding, Chen & Kelso 2002), and their
scatter grows with the interval.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from statistics import median

import pytest

from evenhand.measuring.measure import measure
from evenhand.measuring.values import Measures
from evenhand.music.exercise import Tempo
from evenhand.take import Heard, Hit
from tests.outside import TAPPING
from tests.players import written

pytestmark = pytest.mark.skipif(not TAPPING.exists(), reason="the tapping data is not here (EVENHAND_DATA)")


def _series() -> dict[tuple[str, str, int], list[float]]:
    """Read asynchronies (ms) by subject, trial and interval (ms)."""
    series: dict[tuple[str, str, int], list[float]] = defaultdict(list)
    with TAPPING.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["asynch"] not in {"", "NA"}:
                series[row["subject"], row["trial"], int(float(row["isi"]))].append(float(row["asynch"]))
    return series


def _measured(asynchronies: list[float], interval_ms: int) -> Measures:
    """Measure a series of taps as a take of one hand, a quarter note to each click."""
    hits = tuple(
        Hit(
            time_s=(k * interval_ms + ms) / 1000 + 10,
            level_db=-20.0,
            confidence=1.0,
            hand="R",
            repetition=k + 1,
            position=0,
            asynchrony_ms=ms,
            written=k / 4,
        )
        for k, ms in enumerate(asynchronies)
    )
    return measure(
        Heard(hits, clock="click"), written("R", "1/4"), Tempo.parse(f"1/4={60_000 / interval_ms:.3f}")
    )


def test_people_tap_ahead_of_the_click_and_scatter_more_at_longer_intervals() -> None:
    means: dict[int, list[float]] = defaultdict(list)
    spreads: dict[int, list[float]] = defaultdict(list)
    for (subject, _, interval), asynchronies in _series().items():
        if len(asynchronies) >= 10 and int(subject) % 3 == 0:  # a third of the people is plenty, and quick
            hand = _measured(asynchronies, interval).hands["R"]
            assert hand.timing_mean_ms.value is not None
            assert hand.timing_sd_ms.value is not None
            means[interval].append(hand.timing_mean_ms.value)
            spreads[interval].append(hand.timing_sd_ms.value)
    intervals = sorted(means)
    assert len(intervals) >= 3
    assert median(means[intervals[0]]) < 0
    typical = [median(spreads[interval]) for interval in intervals]
    assert typical[0] < typical[len(typical) // 2] < typical[-1]
