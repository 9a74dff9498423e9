"""Figures of whole takes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from itertools import pairwise
from typing import Any

import pytest

from evenhand.measuring.measure import measure
from evenhand.measuring.values import Measure, Measures
from evenhand.music.exercise import Tempo
from evenhand.take import Heard
from tests.players import FAST, heard_of, written

TEMPO = Tempo.parse(FAST)


def measured(text: str, **changes: Any) -> Measures:
    return measure(heard_of(text, **changes), written(text), TEMPO)


def every(value: object) -> Iterator[Measure]:
    """Yield every measure inside."""
    if isinstance(value, Measure):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from every(part)
    elif isinstance(value, tuple):
        for part in value:
            yield from every(part)
    elif is_dataclass(value):
        for field in fields(value):
            yield from every(getattr(value, field.name))


def test_a_hand_is_only_against_the_other_without_a_click() -> None:
    """Left 8 ms late reads -4 and +4 in RLRL, and the balance -8; one standard error is about 0.5 ms."""
    found = measured("RLRL", repetitions=60, late_ms={"L": 8.0})
    assert found.hands["R"].timing_mean_ms.value == pytest.approx(-4, abs=0.8)
    assert found.hands["L"].timing_mean_ms.value == pytest.approx(4, abs=0.8)
    assert found.balance_timing_ms.value == pytest.approx(-8, abs=1.6)


def test_accented_exercises_have_levels_of_the_unaccented_and_accents_apart() -> None:
    found = measured(">RLRR >LRLL", repetitions=40, accent_db=8.0, level_sd_db={"R": 0.5, "L": 0.5})
    assert found.hands["R"].level_mean_db.value == pytest.approx(-12, abs=0.2)
    assert found.hands["R"].level_sd_db.value == pytest.approx(0.5, abs=0.1)
    assert found.accents_over_taps_db["L"].value == pytest.approx(8, abs=0.3)
    assert found.accents_over_taps_db["L"].n == 160


def test_only_hands_with_written_accents_have_them() -> None:
    assert set(measured(">RLRL").accents_over_taps_db) == {"R"}


def test_own_intervals_written_alike_are_the_plain_ones() -> None:
    """Plain arithmetic on one hand's times: the drift stays in, as in the plain definition."""
    heard = heard_of("RLRL", hurry=0.05)
    found = measure(heard, written("RLRL"), TEMPO).hands["R"].interval_sd_ms
    times = [1000 * hit.time_s for hit in heard.hits if hit.hand == "R"]
    intervals = [b - a for a, b in pairwise(times)]
    mean = sum(intervals) / len(intervals)
    assert found.value == pytest.approx(
        math.sqrt(sum((i - mean) ** 2 for i in intervals) / (len(intervals) - 1))
    )
    assert found.n == len(intervals)


def test_own_intervals_written_unalike_do_not_count_what_is_written_as_spread() -> None:
    """Two independent hits of 4 ms: 4 times the root of 2, less the smooth tempo's share."""
    found = measured("RLRR LRLL", repetitions=60, hand_ms={"R": 4.0, "L": 4.0}).hands["R"].interval_sd_ms
    assert found.value == pytest.approx(4 * math.sqrt(2), abs=0.6)


def test_no_own_interval_reaches_over_a_missed_note_or_a_stop() -> None:
    whole = heard_of("RL", repetitions=20, missed=frozenset({(5, 0)}))
    assert measure(whole, written("RL"), TEMPO).hands["R"].interval_sd_ms.n == 17
    stopped = Heard(
        tuple(replace(hit, stretch=int((hit.repetition or 1) > 10)) for hit in whole.hits), clock="smooth"
    )
    assert measure(stopped, written("RL"), TEMPO).hands["R"].interval_sd_ms.n == 16


def test_a_few_wrong_hits_that_the_hearing_doubts_leave_the_figures_alone() -> None:
    """Three hits 40 ms and 20 dB off, at confidence 0.2: the spread is that of the others."""
    heard = heard_of("RLRL", repetitions=30, clock="click")
    wrong = {20, 51, 90}
    hits = tuple(
        replace(h, asynchrony_ms=(h.asynchrony_ms or 0) + 40, level_db=h.level_db - 20, confidence=0.2)
        if k in wrong
        else h
        for k, h in enumerate(heard.hits)
    )
    others = Heard(tuple(h for k, h in enumerate(heard.hits) if k not in wrong), clock="click")
    spoilt = measure(replace(heard, hits=hits), written("RLRL"), TEMPO)
    clean = measure(others, written("RLRL"), TEMPO)
    for hand in ("R", "L"):
        assert spoilt.hands[hand].timing_sd_ms.value == clean.hands[hand].timing_sd_ms.value
        assert spoilt.hands[hand].level_sd_db.value == clean.hands[hand].level_sd_db.value


def test_sure_hits_far_off_stay_in() -> None:
    """A sure hit 30 ms late with a spread of 4 is what the player did."""
    heard = heard_of("RLRL", repetitions=10, clock="click")
    hits = list(heard.hits)
    hits[8] = replace(hits[8], asynchrony_ms=30.0)
    found = measure(replace(heard, hits=tuple(hits)), written("RLRL"), TEMPO)
    assert found.hands["R"].timing_sd_ms.n == 20
    assert (found.hands["R"].timing_sd_ms.value or 0) > 6


def test_figures_of_exact_playing_are_zero_with_intervals_of_no_width() -> None:
    none = {"R": 0.0, "L": 0.0}
    found = measured("RLRL", clock="click", hand_ms=none, level_sd_db=none)
    assert found.hands["R"].timing_sd_ms.value == pytest.approx(0, abs=1e-9)
    assert found.hands["R"].timing_sd_ms.ci95 == pytest.approx((0, 0), abs=1e-9)
    assert found.balance_level_db.ci95 == pytest.approx((0, 0), abs=1e-9)
    assert found.tempo_bpm.value == pytest.approx(480)


@pytest.mark.parametrize("repetitions", [1, 2, 3, 4])
@pytest.mark.parametrize("text", ["R", "RL", "RRLL", ">RLRR >LRLL", "lR rL", "llR rrL --RL", "R - R -"])
@pytest.mark.parametrize("clock", ["click", "smooth"])
def test_every_figure_is_a_number_or_says_how_many_would_do(text: str, repetitions: int, clock: str) -> None:
    """No NaN, no infinity; a value from three on; an interval around where it belongs."""
    for figure in every(measured(text, repetitions=repetitions, clock=clock)):
        if figure.value is None:
            assert figure.ci95 is None
            assert figure.needs is not None
            assert figure.needs > figure.n
        else:
            assert figure.ci95 is not None
            assert all(math.isfinite(x) for x in (figure.value, *figure.ci95))
            assert figure.ci95[0] <= figure.ci95[1]


def test_a_take_without_hits_has_no_figures() -> None:
    found = measure(Heard(()), written("RLRL"), TEMPO)
    assert {figure.value for figure in every(found)} == {None}
    assert found.interval_ms is None


def test_hits_without_timing_or_written_time_leave_only_levels() -> None:
    heard = heard_of("RLRL")
    bare = tuple(replace(h, deviation_ms=None, written=None) for h in heard.hits)
    found = measure(replace(heard, hits=bare), written("RLRL"), TEMPO)
    assert found.hands["R"].timing_sd_ms.value is None
    assert found.tempo_bpm.value is None
    assert found.drift_bpm_per_min.value is None
    assert found.hands["R"].level_mean_db.n == 32


def test_drift_is_what_the_player_hurried_by() -> None:
    """Construction: from 460 to 500 in 20 s of playing, 120 a minute; within 5 %."""
    found = measured("RLRL", repetitions=40, hurry=40 / 480, hand_ms={"R": 1.0, "L": 1.0})
    assert found.drift_bpm_per_min.value == pytest.approx(40 / (160 * 0.125 / 60), rel=0.05)
    assert found.tempo_bpm.value == pytest.approx(480, rel=0.01)


def test_tempo_is_in_the_beat_given() -> None:
    quarter = measure(heard_of("RLRL"), written("RLRL"), Tempo.parse("1/4=115"))
    assert quarter.tempo_bpm.value == pytest.approx(120, rel=0.01)
    assert quarter.interval_ms == pytest.approx(125, rel=0.01)


def test_a_tempo_over_a_stop_is_that_of_the_playing() -> None:
    heard = heard_of("RLRL", repetitions=16)
    late = tuple(
        replace(h, time_s=h.time_s + 3, stretch=1) if (h.repetition or 1) > 8 else h for h in heard.hits
    )
    found = measure(replace(heard, hits=late), written("RLRL"), TEMPO)
    assert found.tempo_bpm.value == pytest.approx(480, rel=0.01)


def test_times_that_do_not_move_on_have_no_tempo() -> None:
    heard = heard_of("RLRL")
    still = tuple(replace(h, time_s=1.0) for h in heard.hits)
    assert measure(replace(heard, hits=still), written("RLRL"), TEMPO).tempo_bpm.value is None
    once = tuple(replace(h, stretch=k) for k, h in enumerate(heard.hits))
    assert measure(replace(heard, hits=once), written("RLRL"), TEMPO).tempo_bpm.value is None


def test_positions_hold_every_struck_note_and_its_misses() -> None:
    rows = measured("R-LL", repetitions=6, missed=frozenset({(2, 3), (4, 3)})).positions
    assert [(row.position, row.hand, row.level_db.n, row.missed) for row in rows] == [
        (0, "R", 6, 0),
        (2, "L", 6, 0),
        (3, "L", 4, 2),
    ]


def test_trends_show_what_fades_and_comes_apart() -> None:
    """Construction: 3 dB softer and 8 ms wider by the end of 30 s; three standard errors."""
    found = measured("RLRL", repetitions=60, fading_db=-3.0, tiring_ms=8.0)
    assert found.level_trend_db_per_min is not None
    assert found.level_trend_db_per_min.value == pytest.approx(-6, abs=1.5)
    assert found.spread_trend_ms_per_min is not None
    assert found.spread_trend_ms_per_min.value == pytest.approx(16, abs=6)


def test_a_trend_of_a_long_exercise_played_once_goes_by_hand() -> None:
    found = measured("RLRR LRLL " * 8, repetitions=1)
    assert found.level_trend_db_per_min is not None
    assert found.level_trend_db_per_min.value is not None


def test_the_two_level_split_needs_free_even_and_long_playing() -> None:
    long = {"repetitions": 60, "timekeeper_ms": 4.0}
    assert measured("RLRL", **long).timekeeper_sd_ms is not None
    assert measured("RLRL", **long, clock="click").timekeeper_sd_ms is None
    assert measured("RLRL", repetitions=5, timekeeper_ms=4.0).timekeeper_sd_ms is None
    assert measured("1/16: RL 1/8: R", **long).timekeeper_sd_ms is None
    assert measured("RLRL", repetitions=60, timekeeper_ms=5.0, hand_ms={}).hands["R"].hand_sd_ms is None
