"""Players whose ceiling is known by construction: the estimate's bias, and how often its interval holds.

The truth is the logistic function itself, drawn with its own random numbers; nothing of the estimate's code
is used to make it.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from evenhand.hearing.listen import listen_to_blows
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.progress.ceiling.control import tried_repetitions
from evenhand.progress.ceiling.estimate import posterior_of, tempo_ceiling

PLAYERS = [(width, lapse) for width in (0.02, 0.04, 0.07) for lapse in (0.0, 0.02, 0.05)]
TAKES_EACH = 60


def test_the_ceiling_is_found_without_bias_and_its_interval_holds_it() -> None:
    rng = np.random.default_rng(7)
    tempos = np.repeat([75.0, 85, 95, 100, 105, 115, 125], 8)
    held, off = [], []
    for width, lapse in PLAYERS:
        for _ in range(TAKES_EACH):
            true = 100 * np.exp(rng.uniform(-0.08, 0.08))
            chance = (1 - lapse) / (1 + np.exp(np.log(tempos / true) / width - np.log(3)))
            posterior = posterior_of(tempos, rng.random(len(tempos)) < chance)
            low, middle, high = (posterior.quantile(share) for share in (0.025, 0.5, 0.975))
            held.append(low <= true <= high)
            off.append(middle / true - 1)
    # 540 takes: a coverage of .95 has a standard error of .0094, so .93 to .97 is about two of them.
    assert 0.93 <= np.mean(held) <= 0.97, f"coverage {np.mean(held):.3f}, n {len(held)}"
    assert abs(np.mean(off)) < 0.02, f"bias {np.mean(off):.4f}, n {len(off)}"


@pytest.mark.parametrize(("step", "every"), [(5, 2), (8, 4)])
def test_one_take_whose_tempo_steps_up_is_followed(step: int, every: int) -> None:
    """Each repetition's own tempo is read off it; a player who falls apart at a known place is found out."""
    rng = np.random.default_rng(step)
    exercise = parse_exercise("1/16: RLRR LRLL")
    times, bpms, at = [], [], 1.0
    for bpm in range(80, 161, step):
        for _ in range(every):
            spread_s = 0.0025 if bpm <= 120 else 0.015
            for _ in range(8):
                times.append(at + rng.normal(0, spread_s))
                at += 15 / bpm
            bpms.append(bpm)
    tempo = Tempo.parse("1/4=80")
    heard = listen_to_blows(np.array(times), rng.normal(-20, 1, len(times)), exercise=exercise, tempo=tempo)
    tried = tried_repetitions(heard, exercise, tempo, take="steps")
    assert len(tried) >= len(bpms) - 1
    steady = [each for each in tried if each.repetition <= len(bpms) and bpms[each.repetition - 1] <= 120]
    assert [each.tempo_bpm - bpms[each.repetition - 1] for each in steady] == pytest.approx(
        [0] * len(steady), abs=2.5
    )
    found = tempo_ceiling(tried, Fraction(1, 4))
    assert found.ceiling.value is not None
    assert 112 < found.ceiling.value < 132
