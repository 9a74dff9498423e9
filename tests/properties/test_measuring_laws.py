"""Laws that hold for every take."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.measuring.measure import measure
from evenhand.measuring.rules.findings import find
from evenhand.measuring.values import Measure, Measures
from evenhand.music.exercise import Exercise, Tempo, other_hand
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.take import said_to_student
from evenhand.take import Heard
from tests.depth import share
from tests.players import FAST, heard_of, written

TEMPO = Tempo.parse(FAST)
takes = st.fixed_dictionaries(
    {
        "text": st.sampled_from(["RL", "RLRL", "RRLL", "RLRR LRLL", ">RLRR >LRLL", "lR rL", "R-RL"]),
        "repetitions": st.integers(1, 12),
        "clock": st.sampled_from(["click", "smooth"]),
        "seed": st.integers(0, 1000),
        "timekeeper_ms": st.sampled_from([0.0, 4.0]),
        "late_ms": st.fixed_dictionaries({"L": st.integers(-12, 12)}),
    }
)


def _take(drawn: dict[str, Any]) -> tuple[Heard, Exercise]:
    changes = dict(drawn)
    exercise = written(changes.pop("text"))
    return heard_of(exercise, **changes), exercise


def _same(one: Measure, other: Measure, sign: float = 1.0) -> None:
    assert (one.value is None) == (other.value is None)
    if one.value is not None and other.value is not None and one.ci95 is not None and other.ci95 is not None:
        ends = sorted(sign * end for end in other.ci95)
        assert one.value == pytest.approx(sign * other.value, rel=1e-5, abs=1e-6)
        assert one.ci95 == pytest.approx(tuple(ends), rel=1e-4, abs=1e-4)


def _timing(found: Measures) -> list[Measure]:
    hands = found.hands.values()
    return [m for h in hands for m in (h.timing_mean_ms, h.timing_sd_ms, h.interval_sd_ms)]


@share(0.25)
@given(takes, st.floats(-30, 30))
def test_gain_leaves_timing_and_balance_alone(drawn: dict[str, Any], gain_db: float) -> None:
    heard, exercise = _take(drawn)
    louder = replace(heard, hits=tuple(replace(h, level_db=h.level_db + gain_db) for h in heard.hits))
    before, after = measure(heard, exercise, TEMPO), measure(louder, exercise, TEMPO)
    for one, other in zip(_timing(before), _timing(after), strict=True):
        _same(one, other)
    _same(before.balance_level_db, after.balance_level_db)


@share(0.25)
@given(takes, st.floats(-0.5, 500))
def test_a_shift_of_the_whole_recording_changes_nothing(drawn: dict[str, Any], shift_s: float) -> None:
    heard, exercise = _take(drawn)
    later = replace(heard, hits=tuple(replace(h, time_s=h.time_s + shift_s) for h in heard.hits))
    before, after = measure(heard, exercise, TEMPO), measure(later, exercise, TEMPO)
    for one, other in zip(_timing(before), _timing(after), strict=True):
        _same(one, other)
    _same(before.tempo_bpm, after.tempo_bpm)


@share(0.25)
@given(takes)
def test_mirrored_hands_swap_their_figures(drawn: dict[str, Any]) -> None:
    heard, exercise = _take(drawn)
    notes = tuple(replace(n, hand=n.hand and other_hand(n.hand)) for n in exercise.notes)
    mirrored = replace(exercise, notes=notes)
    swapped = replace(heard, hits=tuple(replace(h, hand=h.hand and other_hand(h.hand)) for h in heard.hits))
    before, after = measure(heard, exercise, TEMPO), measure(swapped, mirrored, TEMPO)
    _same(before.hands["R"].timing_sd_ms, after.hands["L"].timing_sd_ms)
    _same(before.hands["L"].level_mean_db, after.hands["R"].level_mean_db)
    _same(before.balance_timing_ms, after.balance_timing_ms, -1.0)
    _same(before.balance_level_db, after.balance_level_db, -1.0)


@share(0.4)
@given(takes)
def test_every_take_has_something_said_of_it_in_whole_sentences(drawn: dict[str, Any]) -> None:
    heard, exercise = _take(drawn)
    found = find(heard, measure(heard, exercise, TEMPO), exercise, TEMPO)
    assert found
    for finding in found:
        text, remedy = finding_words(finding, exercise), remedy_words(finding, exercise)
        assert text[0].isupper()
        assert text.endswith(".")
        assert remedy.endswith(".") or (finding.kind == "even" and not remedy)
        assert not {"nan", "None", "inf", "{", "}"} & set(text.replace("(", " ").split())
        assert said_to_student(finding, exercise).endswith(".")


def test_more_scatter_reads_as_less_even() -> None:
    """On average over 20 takes each, growing with every step."""
    means = []
    for spread in (1.0, 2.0, 4.0, 8.0):
        takes = [heard_of("RLRL", seed=seed, hand_ms={"R": spread, "L": spread}) for seed in range(20)]
        values = [
            measure(take, written("RLRL"), TEMPO).hands["R"].timing_sd_ms.value or 0.0 for take in takes
        ]
        means.append(sum(values) / len(values))
    assert means == sorted(means)
