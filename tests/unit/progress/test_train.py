"""A train of strokes is followed through extras, gaps and stops, exact to the stroke."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.arrays import Floats
from evenhand.progress.minute.rates import Counted, count_strokes
from evenhand.progress.minute.train import FRAME_HZ, Curve, follow_train, local_beat

SHORT_S = 0.060


def played(
    n: int, beat_s: float, rng: np.random.Generator, *, late_s: float = 0.0, sd_s: float = 0.003
) -> Floats:
    """Play strokes in turn, odd ones late, each off by itself."""
    at = np.arange(n)
    return np.asarray(0.5 + at * beat_s + late_s * (at % 2) + sd_s * rng.standard_normal(n))


def counted(times: Floats, strength: Floats | None = None, curve: Curve | None = None) -> Counted:
    given = np.full(len(times), 9.0) if strength is None else strength
    return count_strokes(times, follow_train(times, given, curve), curve)


@pytest.mark.parametrize("beat_s", [0.3, 0.1, 1 / 22])
@pytest.mark.parametrize("late", [0.0, 0.2])
def test_every_stroke_is_counted(beat_s: float, late: float, rng: np.random.Generator) -> None:
    times = played(200, beat_s, rng, late_s=late * beat_s, sd_s=0.05 * beat_s)
    out = counted(times)
    assert (len(out.times_s), int(out.heard.sum()), len(out.due_s)) == (200, 200, 0)


def test_echoes_and_faint_extras_are_not_strokes(rng: np.random.Generator) -> None:
    times = played(150, SHORT_S, rng)
    extra = times[::7] + 0.4 * SHORT_S
    order = np.argsort(np.concatenate([times, extra]))
    strength = np.concatenate([np.full(150, 9.0), np.full(len(extra), 3.0)])[order]
    assert len(counted(np.concatenate([times, extra])[order], strength).times_s) == 150


def test_a_stroke_left_out_is_not_counted_and_its_moment_is_told(rng: np.random.Generator) -> None:
    times = played(100, SHORT_S, rng)
    quiet = np.full(round(8 * FRAME_HZ), 0.0, dtype=np.float32)
    out = counted(np.delete(times, 41), None, quiet)
    assert len(out.times_s) == 99
    assert out.due_s == pytest.approx([0.5 + 41 * SHORT_S], abs=0.012)


def test_a_faint_stroke_is_found_where_it_was_due(rng: np.random.Generator) -> None:
    times = played(100, SHORT_S, rng)
    curve = np.zeros(round(8 * FRAME_HZ), dtype=np.float32)
    curve[round(times[41] * FRAME_HZ)] = 2.0
    out = counted(np.delete(times, 41), None, curve)
    assert (len(out.times_s), int((~out.heard).sum())) == (100, 1)


def test_a_hit_far_off_its_beat_still_counts(rng: np.random.Generator) -> None:
    times = played(100, 0.12, rng, sd_s=0.002)
    times[50] += 0.045
    assert len(counted(times).times_s) == 100


def test_a_stop_is_no_row_of_strokes(rng: np.random.Generator) -> None:
    one = played(60, SHORT_S, rng)
    two = one[-1] + 2.0 + played(60, SHORT_S, rng)
    train = follow_train(np.concatenate([one, two]), np.full(120, 9.0))
    assert len(count_strokes(np.concatenate([one, two]), train, None).times_s) == 120
    assert train.stops.tolist() == [60]


def test_a_noise_before_the_train_is_none_of_it(rng: np.random.Generator) -> None:
    times = np.concatenate([[0.02], played(60, SHORT_S, rng)])
    strength = np.concatenate([[4.1], np.full(60, 9.0)])
    assert len(counted(times, strength).times_s) == 60


def test_a_train_that_slows_is_followed(rng: np.random.Generator) -> None:
    """From 16 to 10 strokes a second within a minute."""
    rates = np.linspace(16, 10, 780)
    times = 0.5 + np.cumsum(1 / rates) + 0.002 * rng.standard_normal(780)
    assert len(counted(times).times_s) == 780


def test_uneven_hands_are_not_taken_for_half_the_strokes(rng: np.random.Generator) -> None:
    times = played(200, SHORT_S, rng, late_s=0.014)
    beat = local_beat(times, np.full(200, 9.0), None)
    assert float(np.median(beat)) == pytest.approx(SHORT_S, rel=0.02)


@pytest.mark.parametrize("n", [0, 1, 2])
def test_too_few_hits_are_no_train(n: int) -> None:
    assert len(follow_train(np.arange(float(n)), np.full(n, 9.0)).hits) == n


def test_shifted_in_time_it_is_the_same_train(rng: np.random.Generator) -> None:
    times = played(80, SHORT_S, rng)
    one, two = follow_train(times, np.full(80, 9.0)), follow_train(times + 2.0, np.full(80, 9.0))
    assert np.diff(one.numbers).tolist() == np.diff(two.numbers).tolist()
