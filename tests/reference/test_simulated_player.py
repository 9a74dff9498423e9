"""The simulated player against the outside: its truth by scipy, its timing by the published model.

The truth's definitions are worked again on the finished samples with scipy.signal's own
filter. The timing is checked with worked values of the two-level model (Wing &
Kristofferson 1973; the two-hand form's covariances after Wing, Church & Gentner 1989, from
memory): var(I) = clock + 2 motor, lag-1 covariance = -motor.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import scipy  # its parts are loaded where they are first used
from numpy.typing import NDArray

from evenhand.music.exercise import Hand, Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player, perform

Floats = NDArray[np.float64]


def start_and_level(samples: Floats, rate_hz: int) -> tuple[float, float]:
    """Work the definitions out on one stroke alone: place in samples, level in dB."""
    sos = scipy.signal.butter(2, 200, "highpass", fs=rate_hz, output="sos")
    y = np.abs(scipy.signal.sosfilt(sos, samples))
    threshold = 0.01 * y.max()
    i = int(np.nonzero(y >= threshold)[0][0])
    start = i - 1 + (threshold - y[i - 1]) / (y[i] - y[i - 1])
    ten_ms = y[i : i + round(0.010 * rate_hz)]
    return start, 20 * np.log10(np.sqrt(np.mean(ten_ms**2)))


@pytest.mark.parametrize("rate_hz", [22050, 48000])
def test_the_truth_is_what_scipy_finds_in_the_samples(rate_hz: int) -> None:
    """Strokes 300 ms apart on a dry pad that sounds for 160 ms: each stands alone in the take.

    Only the rounding to float32 is left: error found 1e-5 us and 1e-7 dB over 240 strokes.
    """
    take = simulate(
        parse_exercise("1/8: >R L R R >L R L L"),
        Tempo(Fraction(1, 8), 200),
        6,
        player=Player(accent_db=18),
        scene=Scene(rate_hz=rate_hz),
        seed=21,
    )
    samples = take.samples.astype(np.float64)
    for hit in take.truth.hits:
        begin = round((hit.time_s - 0.06) * rate_hz)
        start, level_db = start_and_level(samples[begin : begin + round(0.24 * rate_hz)], rate_hz)
        assert (begin + start) / rate_hz == pytest.approx(hit.time_s, abs=0.001 / rate_hz)
        assert level_db == pytest.approx(hit.level_db, abs=1e-4)


def blow_times_ms(text: str, player: Player, repetitions: int, seed: int) -> Floats:
    rng = np.random.default_rng(seed)
    tempo = Tempo(Fraction(1, 8), 120)
    performance = perform(
        parse_exercise(text), tempo, repetitions, player, first_s=0.0, follows=False, rng=rng
    )
    return np.array([blow.time_s for blow in performance.blows]) * 1000


def covariance(a: Floats, b: Floats) -> float:
    return float(np.mean((a - a.mean()) * (b - b.mean())))


def test_one_hand_has_the_two_levels_of_the_model() -> None:
    """Clock SD 10, motor SD 5, 20,000 strokes: variance 150, rho -1/6, motor 25, clock 100."""
    player = Player(timekeeper_sd_ms=10, hand_sd_ms={"R": 5, "L": 5})
    gaps = np.diff(blow_times_ms("1/8: RRRR", player, 5000, 8))
    gamma0, gamma1 = covariance(gaps, gaps), covariance(gaps[:-1], gaps[1:])
    assert gamma0 == pytest.approx(150, abs=5)
    assert gamma1 / gamma0 == pytest.approx(-1 / 6, abs=0.02)
    assert -gamma1 == pytest.approx(25, abs=2)
    assert gamma0 + 2 * gamma1 == pytest.approx(100, abs=4)


def test_two_hands_have_their_own_variances_and_offset() -> None:
    """Motor SD R 3, L 7, clock SD 6, left 8 ms late, 40,000 strokes: 8 +- 0.3; L 49 +- 3; R 9 +- 2."""
    hand_sd_ms: dict[Hand, float] = {"R": 3.0, "L": 7.0}
    player = Player(timekeeper_sd_ms=6, hand_sd_ms=hand_sd_ms, late_ms={"R": 0, "L": 8})
    gaps = np.diff(blow_times_ms("1/8: RLRL", player, 10000, 9))[:39998]
    to_left, to_right = gaps[0::2], gaps[1::2]
    assert (to_left.mean() - to_right.mean()) / 2 == pytest.approx(8, abs=0.3)
    assert -covariance(to_left, to_right) == pytest.approx(49, abs=3)
    assert -covariance(to_right[:-1], to_left[1:]) == pytest.approx(9, abs=2)


def test_the_truth_keeps_the_model_through_the_sound() -> None:
    """What the truth of a finished take says is what the hands did: spread and offset survive the sound."""
    player = Player(
        timekeeper_sd_ms=0, hand_sd_ms={"R": 3, "L": 6}, late_ms={"R": 0, "L": 8}, follow_click=False
    )
    take = simulate(parse_exercise("1/16: RLRL"), Tempo(Fraction(1, 4), 110), 100, player=player, seed=3)
    hits = take.truth.hits
    off_ms = np.array([hit.time_s for hit in hits]) * 1000 - np.arange(len(hits)) * 15000 / 110
    left = np.array([hit.hand == "L" for hit in hits])
    # 200 strokes a hand: three standard errors of a mean are 0.2 times the SD, of an SD 0.15 times.
    assert off_ms[left].mean() - off_ms[~left].mean() == pytest.approx(8, abs=3 * np.sqrt(9 / 200 + 36 / 200))
    assert off_ms[~left].std(ddof=1) == pytest.approx(3, rel=0.15)
    assert off_ms[left].std(ddof=1) == pytest.approx(6, rel=0.15)
