"""The JSON says what was heard in the contract's words, in plain numbers."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from evenhand.acts.takes.document import as_json, json_text
from evenhand.measuring.values import Measure
from evenhand.take import ExtraHit, Heard, Hit
from tests.builders import a_blind_take, a_heard_take


def test_a_hit_is_written_under_the_contracts_names() -> None:
    hit = Hit(
        1.23456789,
        -12.34567,
        0.98765,
        "L",
        2,
        3,
        grace=True,
        asynchrony_ms=-4.123456,
        deviation_ms=5.5,
        stretch=1,
        written=0.25,
    )
    (written,) = as_json(a_heard_take(heard=Heard((hit,), clock="click")))["hits"]
    assert written == {
        "time_s": 1.2345679,
        "level_db": -12.346,
        "hand": "L",
        "repetition": 2,
        "position": 3,
        "grace": True,
        "asynchrony_ms": -4.1235,
        "deviation_ms": 5.5,
        "confidence": 0.988,
        "time_se_ms": None,
        "stretch": 1,
        "written": 0.25,
    }


def test_a_measure_has_value_interval_and_count_or_says_what_it_needs() -> None:
    written = as_json(a_heard_take())
    assert written["balance"]["level_db"] == {
        "value": 3.5,
        "unit": "dB",
        "ci95": [3.0, 4.0],
        "n": 64,
        "needs": None,
    }
    assert written["accents"]["R"]["over_taps_db"] == {
        "value": None,
        "unit": "dB",
        "ci95": None,
        "n": 1,
        "needs": 8,
    }
    assert written["doubles"]["L"]["short_share"]["value"] == 0.472
    assert written["hands"]["L"].keys() == {
        "timing_mean_ms",
        "timing_sd_ms",
        "interval_sd_ms",
        "level_mean_db",
        "level_sd_db",
    }


def test_missed_extra_and_clicks_stand_apart_from_hits() -> None:
    written = as_json(a_heard_take())
    assert written["missed"][0] == {"repetition": 16, "position": 6, "grace": False}
    assert written["extra"] == [{"time_s": 7.25, "level_db": -30.0, "reason": "between"}]
    assert written["clicks"] == [{"time_s": 0.1}, {"time_s": 0.3142857}]
    assert 7.25 not in [hit["time_s"] for hit in written["hits"]]


def test_a_finding_carries_its_evidence_and_its_remedy() -> None:
    finding = as_json(a_heard_take())["findings"][1]
    assert finding["kind"] == "weak_second"
    assert finding["evidence"]["ci95"] == [-3.1, -2.1]
    assert finding["evidence"]["positions"] == [7]
    assert finding["remedy"].startswith("Doubles")


def test_the_evidence_names_its_figure_by_its_place_in_the_json() -> None:
    first, second, _ = as_json(a_heard_take())["findings"]
    assert first["evidence"]["measure"] == "balance.level_db"
    assert second["evidence"]["measure"] == "doubles.L.second_minus_first_db"


def test_blind_the_same_keys_are_there_with_no_hands() -> None:
    blind, guided = as_json(a_blind_take()), as_json(a_heard_take())
    assert blind.keys() == guided.keys()
    assert [hit["hand"] for hit in blind["hits"]] == [None, None]
    assert [hit["level_db"] for hit in blind["hits"]] == [-12.25, -15.5]
    assert blind["hands"] == {}
    assert blind["tempo_bpm"] is None


def test_array_scalars_become_plain_numbers() -> None:
    hit = Hit(np.float64(0.5), np.float32(-3.0), np.float64(1.0), "R", np.int64(1), np.int64(0))  # type: ignore[arg-type] # as listening might let through
    text = json_text(a_heard_take(heard=Heard((hit,), extra=(ExtraHit(np.float32(1.5), np.float32(-9)),))))  # type: ignore[arg-type] # the same
    assert json.loads(text)["hits"][0]["repetition"] == 1


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_is_none_raises_and_is_never_written(value: float) -> None:
    take = a_heard_take()
    assert take.measures is not None
    measures = replace(take.measures, balance_level_db=Measure(value, 9, "dB", (0.0, 1.0)))
    with pytest.raises(ValueError, match="not JSON compliant"):
        json_text(replace(take, measures=measures))


def test_no_minus_zero_is_written() -> None:
    hit = Hit(0.5, -0.0001, 1.0, "R", 1, 0, deviation_ms=-0.00001)
    assert "-0.0," not in json_text(a_heard_take(heard=Heard((hit,))))
