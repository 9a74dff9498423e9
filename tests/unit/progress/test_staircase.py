"""The walk at the pad settles where the papers say."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.progress.ceiling.estimate import Walk, settles_at


@pytest.mark.parametrize(("in_a_row", "share"), [(1, 0.5), (2, 0.707107), (3, 0.793701), (4, 0.840896)])
def test_equal_steps_settle_where_levitt_says(in_a_row: int, share: float) -> None:
    # Levitt 1971, J. Acoust. Soc. Am. 49:467-477.
    assert settles_at(up=1, down=1, in_a_row=in_a_row) == pytest.approx(share, abs=1e-6)


def test_one_up_and_three_down_settles_at_three_in_four() -> None:
    # Kaernbach 1991, Percept. Psychophys. 49:227-229: steps as p / (1 - p), so 3 for 0.75.
    assert settles_at(up=1, down=3) == 0.75


def test_a_faster_tempo_is_the_harder_one() -> None:
    walk = Walk(100.0, 2.0)
    assert walk.after(controlled=True).tempo_bpm == 102.0
    assert walk.after(controlled=False).tempo_bpm == 94.0


def test_a_step_up_may_need_several_in_a_row() -> None:
    walk = Walk(100.0, 2.0, in_a_row=2)
    once = walk.after(controlled=True)
    assert once.tempo_bpm == 100.0
    assert once.after(controlled=True).tempo_bpm == 102.0
    assert once.after(controlled=False).so_far == 0


@pytest.mark.parametrize(("down", "in_a_row"), [(3, 1), (1, 2), (1, 3)])
def test_a_known_player_is_led_to_the_share_named(down: int, in_a_row: int) -> None:
    rng = np.random.default_rng(5)
    walk, controlled = Walk(80.0, 1.0, down=down, in_a_row=in_a_row), []
    for _ in range(6000):
        chance = 1 / (1 + np.exp((walk.tempo_bpm - 120) / 8))
        controlled.append(chance)
        walk = walk.after(controlled=bool(rng.random() < chance))
    settled = float(np.mean(controlled[500:]))
    assert settled == pytest.approx(settles_at(down=down, in_a_row=in_a_row), abs=0.05)
