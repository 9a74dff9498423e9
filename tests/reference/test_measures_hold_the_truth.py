"""Count, as ``benchmarks/coverage.py`` does at length, whether 95 % ranges hold what a player is made of.

Construction, with takes of a player whose settings are known. Of 120 takes a right 95 % range holds the
truth 105 times or more (binomial; the chance of fewer is 1 in 3000, at a true 93 % 1 in 100): each must.
"""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.measuring.measure import measure
from evenhand.music.exercise import Tempo
from tests.players import FAST, Player, play, written

TAKES, FEWEST_HELD = 120, 105


@pytest.mark.parametrize(
    ("text", "repetitions", "player"),
    [
        ("RLRL", 8, Player(clock="click", late_ms={"L": 6.0})),
        ("RLRL", 60, Player(clock="click", late_ms={"L": 6.0}, timekeeper_ms=3.0, correction=0.4)),
        ("RRLL", 10, Player(late_ms={"L": 6.0}, timekeeper_ms=4.0)),
    ],
)
def test_intervals_hold_the_players_settings(text: str, repetitions: int, player: Player) -> None:
    exercise, tempo = written(text), Tempo.parse(FAST)
    held: dict[str, int] = {}
    for seed in range(TAKES):
        found = measure(
            play(exercise, tempo, repetitions, player, np.random.default_rng(seed)), exercise, tempo
        )
        figures = {
            "tempo": (found.tempo_bpm, 480.0),
            "drift": (found.drift_bpm_per_min, 0.0),
            "balance timing": (found.balance_timing_ms, -6.0),
            "balance level": (found.balance_level_db, 0.0),
            "level": (found.hands["L"].level_mean_db, -12.0),
            "level spread": (found.hands["L"].level_sd_db, 1.6),
        }
        if player.clock == "click":
            wander = player.timekeeper_ms**2 / (1 - (1 - player.correction) ** 2)
            figures |= {
                "mean": (found.hands["L"].timing_mean_ms, 6.0),
                "spread": (found.hands["L"].timing_sd_ms, float(np.sqrt(25.0 + wander))),
            }
        for name, (figure, truth) in figures.items():
            assert figure.ci95 is not None
            held[name] = held.get(name, 0) + (figure.ci95[0] <= truth <= figure.ci95[1])
    assert {name: n for name, n in held.items() if n < FEWEST_HELD} == {}
