"""Doubles, flams and drags, by hand-made hits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from evenhand.measuring.measure import measure
from evenhand.measuring.pairs import double_starts
from evenhand.music.exercise import Tempo
from evenhand.take import Heard, Hit
from tests.players import FAST, heard_of, written

TEMPO = Tempo.parse(FAST)


@pytest.mark.parametrize(
    ("text", "starts"),
    [
        ("RRLL", {"R": (0,), "L": (2,)}),
        ("RLRR LRLL", {"R": (2,), "L": (6,)}),
        ("LRRL", {"R": (1,), "L": (3,)}),
        ("RRRL", {}),
        ("RL", {}),
        ("RR-L", {}),
        ("RR--", {}),
        ("1/16: R 1/8: R 1/16: L", {}),
    ],
)
def test_a_double_is_a_run_of_exactly_two_even_notes_into_the_other_hand(
    text: str, starts: dict[str, tuple[int, ...]]
) -> None:
    assert double_starts(written(text)) == starts


def _doubles(times_ms: Sequence[float], levels_db: Sequence[float]) -> Heard:
    hands = ("R", "R", "L", "L")
    hits = [
        Hit(
            time_s=t / 1000,
            level_db=level,
            confidence=1.0,
            hand=hands[k % 4],  # type: ignore[arg-type]  # R and L as written above
            repetition=k // 4 + 1,
            position=k % 4,
            deviation_ms=0.0,
            written=k / 16,
        )
        for k, (t, level) in enumerate(zip(times_ms, levels_db, strict=True))
    ]
    return Heard(tuple(hits), clock="smooth")


def test_doubles_by_hand() -> None:
    """Three rounds: right doubles 50 of 100 ms, then 40, then 45; second notes 1, 2 and 3 dB weaker."""
    times = [0, 50, 100, 150, 200, 240, 300, 350, 400, 445, 500, 550]
    levels = [-10, -11, -10, -10, -10, -12, -10, -10, -10, -13, -10, -10]
    found = measure(_doubles(times, levels), written("RRLL"), TEMPO).doubles
    assert found["R"].short_share.value == pytest.approx(0.45)
    assert found["R"].second_minus_first_db.value == pytest.approx(-2.0)
    assert found["R"].short_share.n == 3
    assert found["L"].short_share.value is None  # the third has no next right hand: two are too few
    assert found["L"].short_share.n == 2


def test_a_double_with_a_missed_third_hit_or_a_stop_does_not_count() -> None:
    heard = heard_of("RRLL", repetitions=10, missed=frozenset({(3, 2), (5, 1)}))
    stopped = tuple(replace(hit, stretch=int((hit.written or 0) > 7.4 / 4)) for hit in heard.hits)
    found = measure(replace(heard, hits=stopped), written("RRLL"), TEMPO).doubles
    assert found["R"].short_share.n == 8 - sum(29 <= 4 * r + 1 < 31 for r in range(10))


def test_exercises_without_doubles_or_graces_have_none() -> None:
    found = measure(heard_of("RLRL"), written("RLRL"), TEMPO)
    assert found.doubles == {}
    assert found.graces == {}


def test_a_flam_is_measured_by_its_main_hand() -> None:
    """Construction: 30 ms ahead, 14 dB weaker; three standard errors of 40 are 2 ms and 0.7 dB."""
    found = measure(heard_of("lR rL", repetitions=40), written("lR rL"), TEMPO).graces
    assert found["R"].gap_ms.value == pytest.approx(30, abs=2)
    assert found["L"].level_db.value == pytest.approx(-14, abs=0.8)
    assert found["L"].gap_ms.n == 40


def test_a_drag_goes_by_its_first_grace() -> None:
    exercise = written("llR L")
    found = measure(heard_of(exercise, grace_gap_sd_ms=0.0), exercise, TEMPO).graces
    assert set(found) == {"R"}
    assert found["R"].gap_ms.value == pytest.approx(30)


def test_an_ornament_that_was_not_heard_whole_or_not_surely_does_not_count() -> None:
    exercise = written("llR L")
    heard = heard_of(exercise, repetitions=10)
    graces = [k for k, hit in enumerate(heard.hits) if hit.grace]
    hits = list(heard.hits)
    hits[graces[2]] = replace(hits[graces[2]], confidence=0.1)
    del hits[graces[0]]
    found = measure(replace(heard, hits=tuple(hits)), exercise, TEMPO).graces
    assert found["R"].gap_ms.n == 8
