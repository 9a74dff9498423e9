"""Calibrating loudness as height, saying what hits were, and refusing where the set-up has changed."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from evenhand.acts.takes.heights import (
    calibrate_heights,
    calibration_json,
    calibration_text,
    read_calibration,
    said_json,
    say_heights,
)
from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import WrongOptions
from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import COMMON_HEIGHTS, STROKE_CLASSES, StrokeClass
from evenhand.progress.heights import HeightCalibration
from evenhand.report.words.remarks import remark_words
from evenhand.synthesis.drops import record_blows
from evenhand.synthesis.instruments import Instrument, Room, Scene
from evenhand.take import SoundTake
from evenhand.testing import FakeTakes, midi_take, sound_take

ASKED = TakeRequest.read("1/16: RLRL", "1/4=75", "none")
AIMS: Mapping[StrokeClass, float] = {s: COMMON_HEIGHTS.of(s).aim_cm for s in STROKE_CLASSES}
SLOPE, AT_10_CM = 11.0, {"R": -32.0, "L": -35.0}
FILES: dict[StrokeClass, Path] = {stroke: Path(f"{stroke}.wav") for stroke in STROKE_CLASSES}


def struck(
    heights_cm: Sequence[float], seed: int, *, gain_db: float = 0.0, drum: Instrument = "pad"
) -> SoundTake:
    """Record strokes of given heights, hands in turn, 0.2 s apart give or take 5 ms, gain as it is."""
    rng = np.random.default_rng([seed, 1])
    n = len(heights_cm)
    times = np.sort(0.6 + 0.2 * np.arange(n) + 0.005 * rng.standard_normal(n))
    hands: list[Hand] = ["R" if k % 2 == 0 else "L" for k in range(n)]
    levels = [
        AT_10_CM[hand] + SLOPE * math.log10(cm / 10) + 0.8 * float(rng.standard_normal()) + gain_db
        for hand, cm in zip(hands, heights_cm, strict=True)
    ]
    scene = Scene(room=Room(0.25, -15), instrument=drum)
    sound, _, _ = record_blows(times.tolist(), levels, scene, np.random.default_rng(9), hands)
    noise = 10 ** ((-75 + gain_db) / 20) * rng.standard_normal(len(sound))
    return sound_take((sound + noise).astype(np.float32))


@lru_cache(maxsize=1)
def calibrated() -> HeightCalibration:
    takes: dict[str, SoundTake] = {
        f"{stroke}.wav": struck([cm] * 24, k) for k, (stroke, cm) in enumerate(AIMS.items())
    }
    return calibrate_heights(FILES, ASKED, COMMON_HEIGHTS, opens=FakeTakes(takes))


def say(take: Any, **how: Any) -> Any:
    return say_heights(Path("t.wav"), ASKED, calibrated(), opens=FakeTakes({"t.wav": take}), **how)


MIXED = [AIMS["full"], AIMS["half"], AIMS["tap"], AIMS["tap"]] * 7


def test_each_hand_has_a_scale_of_its_own() -> None:
    """By construction: 11 dB a decade, the left hand 3 dB under the right."""
    scales = calibrated().scales
    assert set(scales) == {"R", "L", "both"}
    for hand in ("R", "L"):
        low, high = scales[hand].slope_db_per_decade.ci95 or (0.0, 0.0)
        assert low < SLOPE < high
        assert scales[hand].spread_db == pytest.approx(0.8, abs=0.35)
    assert scales["R"].at_10_cm_db - scales["L"].at_10_cm_db == pytest.approx(3.0, abs=0.6)


def test_most_hits_are_said_for_what_they_were() -> None:
    """Halves and fulls lie under 2 dB apart, so only most: 75 % or more, none taken for the far class."""
    said = say(struck(MIXED, 7))
    assert said.refused is None
    asked = ["full", "half", "tap", "tap"] * 7
    got = [stroke.stroke for stroke in said.strokes]
    assert np.mean([a == b for a, b in zip(asked, got, strict=True)]) >= 0.75
    assert not any({a, b} == {"tap", "full"} for a, b in zip(asked, got, strict=True))


@pytest.mark.parametrize(
    ("take", "words"),
    [
        (struck(MIXED, 8, gain_db=8.0), "dB louder than it was"),
        (struck(MIXED, 8, gain_db=-8.0), "dB quieter than it was"),
        (struck(MIXED, 8, drum="snare"), "sound unlike those calibrated"),
        (midi_take((0.5 + 0.2 * np.arange(28)).tolist(), [-12.0] * 28), "the recording is midi"),
    ],
    ids=["gain up", "gain down", "another drum", "a pad's MIDI"],
)
def test_a_changed_set_up_is_refused(take: Any, words: str) -> None:
    said = say(take)
    assert said.refused is not None
    assert words in remark_words(said.refused).replace("The rec", "the rec")
    assert remark_words(said.refused).endswith("calibrate again.")
    assert said.strokes == ()


def test_even_so_it_can_be_said_with_a_warning() -> None:
    said = say(struck(MIXED, 8, gain_db=8.0), even_so=True)
    assert said.refused is None
    assert len(said.strokes) == 28
    assert any("calibrate again" in warning for warning in said.warnings)


def test_classes_that_do_not_rise_are_refused() -> None:
    takes = {
        "tap.wav": struck([19] * 24, 0),
        "half.wav": struck([10] * 24, 1),
        "full.wav": struck([28] * 24, 2),
    }
    with pytest.raises(WrongOptions, match=r"got halves of the right hand -\d\.\d dB louder than taps"):
        calibrate_heights(FILES, ASKED, COMMON_HEIGHTS, opens=FakeTakes(takes))


def test_too_few_strokes_are_refused() -> None:
    takes = {f"{stroke}.wav": struck([cm] * 10, 3) for stroke, cm in AIMS.items()}
    with pytest.raises(WrongOptions, match="5 tap strokes of the right hand; must be 8 or more"):
        calibrate_heights(FILES, ASKED, COMMON_HEIGHTS, opens=FakeTakes(takes))


def test_blind_there_is_one_scale_and_a_word_about_it() -> None:
    takes = {f"{stroke}.wav": struck([cm] * 24, k) for k, (stroke, cm) in enumerate(AIMS.items())}
    calibration = calibrate_heights(FILES, TakeRequest(click="none"), COMMON_HEIGHTS, opens=FakeTakes(takes))
    assert set(calibration.scales) == {"both"}
    assert "The hands are not told apart" in calibration.warnings[-1]


def test_a_calibration_is_read_as_it_was_written() -> None:
    again = read_calibration(calibration_text(calibrated()), "heights.json")
    assert calibration_json(again) == calibration_json(calibrated())


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", "null", '{"what": "evenhand heights"}', "[" * 100_000, '{"what": 1e999}']
)
def test_what_is_no_calibration_is_refused(text: str) -> None:
    with pytest.raises(WrongOptions, match=r"heights\.json with .*; must be a file that evenhand heights"):
        read_calibration(text, "heights.json")


@pytest.mark.parametrize(
    ("where", "value"),
    [
        (("scales", "both", "spread_db"), 0),
        (("scales", "both", "spread_db"), "wide"),
        (("scales", "both", "slope_db_per_decade"), None),
        (("heights_cm", "tap"), [5, 4, 3]),
        (("set_up", "kind"), "video"),
        (("set_up", "colours"), [[None]]),
        (("scales",), {}),
    ],
)
def test_a_calibration_with_a_value_that_cannot_be_is_refused(where: tuple[str, ...], value: object) -> None:
    written = json.loads(calibration_text(calibrated()))
    inside = written
    for key in where[:-1]:
        inside = inside[key]
    inside[where[-1]] = value
    with pytest.raises(WrongOptions, match="must be a file that"):
        read_calibration(json.dumps(written), "heights.json")


def test_what_was_said_as_json() -> None:
    said = say(struck(MIXED, 7))
    written = said_json(said)
    assert {"time_s", "level_db", "hand", "stroke", "probability", "height_cm"} <= set(written["hits"][0])
    assert written["refused"] is None
    assert json.dumps(said_json(replace(said, strokes=())), allow_nan=False)
