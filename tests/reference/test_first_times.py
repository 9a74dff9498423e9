"""No time through is lost or made up, and no hit is gone, in takes of every level, noise and tempo.

The truth is the simulated player's (docs/simulated-player.md). ``python -m benchmarks.first_times`` runs a
thousand and says what each one lacks; the seeds of its first three are those that the ear was set on.
"""

from __future__ import annotations

import pytest

from benchmarks.first_times import Judged, draw, line, run_one, summed

FEW = range(5_000_000, 5_000_030)
MANY = range(7_000_000, 7_001_000)


def wrong(one: Judged) -> bool:
    return one.lost > 0 or one.made_up > 0


@pytest.mark.parametrize("seed", [seed for seed in FEW if not draw(seed).broken_off])
def test_no_time_through_is_lost_or_made_up(seed: int) -> None:
    """Where nobody could tell a count-in from as many notes, they are notes, and the doubt is said."""
    one = run_one(seed)
    assert one.doubt_said if one.untold else not wrong(one), line(one)


@pytest.mark.deep
def test_of_a_thousand_takes_no_first_time_through_is_lost_in_silence() -> None:
    """None where nothing was counted in on the drum; elsewhere none without the doubt being said."""
    every = [run_one(seed) for seed in MANY]
    lacking = [one for one in every if wrong(one)]
    silent = [one for one in lacking if one.take.scene.count_in != "sticks" or not one.doubt_said]
    assert [line(one) for one in silent] == [], summed(every)
