"""Level over height: the fit, and what a hit most likely was."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenhand.music.strokes.heights import CM_PER_INCH, COMMON_HEIGHTS, STROKE_CLASSES
from evenhand.progress.heights import (
    HandScale,
    HeightCalibration,
    SetUp,
    changed,
    fit_scale,
    say_stroke,
    steps_db,
)
from evenhand.report.words.remarks import remark_words

SOME = SetUp("sound", "wav/pcm_s16le", 48_000, 1, -70.0, -36.0, -22.0, ((3.0, 0.0, -3.0),))


def a_scale(
    slope: float = 10.0, spread_db: float = 1.0, n: int = 40, rng: np.random.Generator | None = None
) -> HandScale:
    """Fit hits whose levels rise by ``slope`` dB a decade, 0 dB at 10 cm and down by 30."""
    draw = rng or np.random.default_rng(3)
    levels = {
        stroke: -30
        + slope * math.log10(COMMON_HEIGHTS.of(stroke).aim_cm / 10)
        + spread_db * draw.standard_normal(n)
        for stroke in STROKE_CLASSES
    }
    return fit_scale(levels, COMMON_HEIGHTS)


def test_three_exact_classes_give_the_slope_of_physics() -> None:
    """Worked from 20 log10 v with v = sqrt(2 g h): 10 dB a decade, so 3.01 dB for twice the height."""
    scale = a_scale(spread_db=0.0)
    assert scale.slope_db_per_decade.value == pytest.approx(10.0, abs=1e-6)
    assert scale.at_10_cm_db == pytest.approx(-30.0, abs=1e-6)
    low, high = scale.slope_db_per_decade.ci95 or (0.0, 0.0)
    assert low < 10.0 < high


def test_levels_by_height_as_computed_from_free_fall() -> None:
    """3 to 12 in is 6.0206 dB, 3 to 15 in 6.9897 dB (computed from v = sqrt(2 g h), 20 log10 v)."""
    scale = a_scale(spread_db=0.0)
    slope = scale.slope_db_per_decade.value or 0.0
    at = [slope * math.log10(inches * CM_PER_INCH) for inches in (3, 12, 15)]
    assert at[1] - at[0] == pytest.approx(6.0206, abs=1e-3)
    assert at[2] - at[0] == pytest.approx(6.9897, abs=1e-3)


def test_the_slopes_interval_holds_the_truth(rng: np.random.Generator) -> None:
    """Of 150 calibrations at heights drawn within their classes' ranges, 93 % or more (95 % is said)."""
    held = 0
    for _ in range(150):
        slope = float(rng.uniform(8, 14))
        levels = {}
        for stroke in STROKE_CLASSES:
            each = COMMON_HEIGHTS.of(stroke)
            played_cm = float(rng.uniform(each.low_cm, each.high_cm))
            levels[stroke] = -30 + slope * math.log10(played_cm / 10) + 1.2 * rng.standard_normal(24)
        low, high = fit_scale(levels, COMMON_HEIGHTS).slope_db_per_decade.ci95 or (0.0, 0.0)
        held += low <= slope <= high
    assert held >= 0.93 * 150


def test_what_is_said_is_as_sure_as_it_says(rng: np.random.Generator) -> None:
    """Of hits said with 0.6 to 0.8, and with more, about that share are right (tolerance 0.08)."""
    scale = a_scale(slope=11.0, spread_db=1.2, rng=rng)
    said, right = [], []
    for stroke in STROKE_CLASSES:
        mean, doubt = scale.classes[stroke].mean_db, scale.classes[stroke].doubt_db
        for level in mean + math.hypot(1.2, doubt) * rng.standard_normal(1500):
            guess = say_stroke(float(level), scale)
            if guess.probability is not None:
                said.append(guess.probability)
                right.append(guess.stroke == stroke)
    chance, good = np.array(said), np.array(right)
    for low, high in ((0.45, 0.6), (0.6, 0.8), (0.8, 1.01)):
        some = (chance >= low) & (chance < high)
        assert good[some].mean() == pytest.approx(chance[some].mean(), abs=0.08)


def test_a_hit_far_outside_is_none_of_them() -> None:
    guess = say_stroke(-60.0, a_scale())
    assert (guess.stroke, guess.probability) == (None, None)


def test_a_height_is_read_off_the_line() -> None:
    guess = say_stroke(-27.0, a_scale(spread_db=0.5))
    low, high = guess.height_ci95_cm
    assert low < 10 * 10**0.3 < high


def test_a_stray_hit_does_not_move_a_class() -> None:
    levels = {s: np.full(20, level) for s, level in zip(STROKE_CLASSES, (-30.0, -27.0, -25.0), strict=True)}
    levels["tap"] = np.append(np.linspace(-30.5, -29.5, 20), -5.0)
    assert steps_db(fit_scale(levels, COMMON_HEIGHTS))[0] == pytest.approx(3.0, abs=0.05)


def a_calibration() -> HeightCalibration:
    return HeightCalibration(COMMON_HEIGHTS, {"both": a_scale()}, SOME, "0.1.0")


@pytest.mark.parametrize(
    ("now", "words"),
    [
        (SOME, None),
        (SetUp("midi", "midi", None, None, None, -36, -22), "The recording is midi"),
        (SetUp("sound", "mp4/aac", 48_000, 1, -70.0, -36, -22, SOME.colours), "The recording is mp4/aac"),
        (SetUp("sound", SOME.format, 44_100, 1, -70.0, -36, -22, SOME.colours), "44100 samples a second"),
        (SetUp("sound", SOME.format, 48_000, 2, -70.0, -36, -22, SOME.colours), "2 channels"),
        (SetUp("sound", SOME.format, 48_000, 1, -62.0, -36, -22, SOME.colours), "8 dB louder"),
        (SetUp("sound", SOME.format, 48_000, 1, -77.0, -36, -22, SOME.colours), "7 dB quieter"),
        (SetUp("sound", SOME.format, 48_000, 1, -70.0, -36, -22, ((8.0, -4.0, -4.0),)), "sound unlike"),
    ],
)
def test_a_changed_set_up_is_named(now: SetUp, words: str | None) -> None:
    said = changed(now, np.linspace(-31, -26, 20), a_calibration())
    text = "" if said is None else remark_words(said)
    assert said is None if words is None else words in text and "calibrate again" in text


@pytest.mark.parametrize(("shift_db", "words"), [(9.0, "louder than fulls"), (-9.0, "softer than taps")])
def test_levels_beyond_all_that_was_calibrated_are_a_change(shift_db: float, words: str) -> None:
    levels = np.linspace(-31, -26, 20) + shift_db
    said = changed(SOME, levels, a_calibration())
    assert said is not None
    assert words in remark_words(said)


def test_two_loud_hits_are_no_change() -> None:
    levels = np.append(np.full(30, -28.0), [-10.0, -10.0])
    assert changed(SOME, levels, a_calibration()) is None
