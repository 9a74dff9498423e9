"""A drop is judged: free, damped, or unsure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenhand.arrays import Floats
from evenhand.progress.bounce.judge import STEP_S, LoudnessCurve, PadFloor, judge_drop
from evenhand.report.words.remarks import remark_words
from tests.unit.progress.drops import blows_of, falling


def loudness_of(times: Floats, kept: float, *, floor_db: float = -90.0, end_s: float = 6.0) -> LoudnessCurve:
    """Give a pad's curve: each blow is loud at its moment and 60 dB lower 30 ms later."""
    at = np.arange(round(end_s / STEP_S)) * STEP_S
    curve = np.full(len(at), floor_db)
    for k, blow in enumerate(times.tolist()):
        since = at - blow
        level = -20 + 20 * np.log10(kept) * k - 2000 * since
        curve = np.where((since > -0.004) & (since < 0.1), np.maximum(curve, level), curve)
    return LoudnessCurve(curve)


def test_a_drop_that_dies_away_is_free() -> None:
    times = falling(20, 0.75, 12)
    drop = judge_drop(blows_of(times), loudness_of(times, 0.75))
    assert (drop.kind, drop.bounces) == ("free", 12)
    assert drop.restitution.value == pytest.approx(0.75, abs=1e-3)
    assert drop.restitution.n == 11


@pytest.mark.parametrize("kept", [0.98, 1.0])
def test_strokes_that_were_played_evenly_are_no_free_drop(kept: float) -> None:
    """No stick keeps nearly all of its speed; an ordinary take of even strokes looks as if one did."""
    times = falling(20, kept, 12)
    for loudness in (None, loudness_of(times, kept)):
        drop = judge_drop(blows_of(times), loudness)
        assert drop.kind == "unsure"
        assert "these were strokes" in remark_words(drop.why)


def test_a_very_lively_stick_is_still_free() -> None:
    assert judge_drop(blows_of(falling(20, 0.93, 25)), None).kind == "free"


def test_a_stick_that_is_held_is_damped() -> None:
    """After five blows there is silence where the sixth, far above the background, was due."""
    times = falling(20, 0.8, 5)
    drop = judge_drop(blows_of(times), loudness_of(times, 0.8))
    assert drop.kind == "damped"
    assert drop.damped_from_s == pytest.approx(times[-1])
    assert "hit 5" in remark_words(drop.why)


def test_where_the_next_blow_would_drown_nothing_is_said_of_a_finger() -> None:
    times = falling(20, 0.8, 5)
    assert judge_drop(blows_of(times), loudness_of(times, 0.8, floor_db=-24.0)).kind == "free"


def test_where_the_recording_ends_first_nothing_is_said_of_a_finger() -> None:
    times = falling(20, 0.8, 5)
    assert judge_drop(blows_of(times), loudness_of(times, 0.8, end_s=times[-1] + 0.05)).kind == "free"


def test_a_flight_cut_short_is_a_finger_and_does_not_spoil_the_figure() -> None:
    times = falling(20, 0.8, 7)
    late = times[-1] + (times[-1] - times[-2]) * np.array([0.4, 0.56])
    drop = judge_drop(blows_of(np.concatenate([times, late])), None)
    assert drop.kind == "damped"
    assert drop.restitution.value == pytest.approx(0.8, abs=2e-3)
    assert drop.restitution.n == 6


def test_hits_behind_the_law_are_a_finger() -> None:
    times = falling(20, 0.8, 6)
    drop = judge_drop(blows_of(times, (float(times[-1]) + 0.03,)), None)
    assert (drop.kind, drop.bounces) == ("damped", 7)


@pytest.mark.parametrize(("floor_db", "kind"), [(-60.0, "damped"), (-22.0, "free")])
def test_of_a_pad_that_tells_no_softer_blow_nothing_is_said_of_a_finger(floor_db: float, kind: str) -> None:
    times = falling(20, 0.8, 5)
    blows = replace(blows_of(times), levels_db=np.linspace(-10, -18, 5))
    assert judge_drop(blows, PadFloor(floor_db)).kind == kind


@pytest.mark.parametrize("blows", [1, 2])
def test_one_or_two_blows_say_nothing(blows: int) -> None:
    drop = judge_drop(blows_of(falling(20, 0.8, blows)), None)
    assert (drop.kind, drop.restitution.value) == ("unsure", None)
    assert drop.restitution.needs == 2


def test_three_blows_give_a_wide_interval_and_no_verdict() -> None:
    times = falling(8, 0.3, 3)
    drop = judge_drop(blows_of(times), loudness_of(times, 0.3, floor_db=-30.0))
    assert drop.kind == "unsure"
    assert drop.restitution.ci95 is not None
