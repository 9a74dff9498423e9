"""Drops are found among all that may be a hit."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.arrays import Floats
from evenhand.progress.bounce.drops import Chain, find_drops
from tests.unit.progress.drops import falling

STRONG, WEAK = 8.0, 3.0


def found(times: Floats, levels: Floats, strength: Floats) -> tuple[tuple[Chain, ...], tuple[int, ...]]:
    order = np.argsort(times, kind="stable")
    return find_drops(times[order], strength[order], levels[order])


def fading(times: Floats, kept: float) -> Floats:
    """Levels as sound follows speed."""
    return np.linspace(-20.0, -20.0 + 20 * float(np.log10(kept)) * (len(times) - 1), len(times))


def test_two_drops_are_two_and_whole() -> None:
    one, two = falling(20, 0.8, 10, 1.0), falling(15, 0.7, 7, 4.0)
    times = np.concatenate([one, two])
    levels = np.concatenate([fading(one, 0.8), fading(two, 0.7)])
    chains, stray = found(times, levels, np.full(17, STRONG))
    assert [len(chain.hits) for chain in chains] == [10, 7]
    assert not stray


def test_a_faint_blow_that_is_missing_keeps_its_number() -> None:
    times = falling(20, 0.8, 10)
    keep = np.arange(10) != 7
    strength = np.where(np.arange(10) < 6, STRONG, WEAK)
    chains, _ = found(times[keep], fading(times, 0.8)[keep], strength[keep])
    assert chains[0].numbers == (0, 1, 2, 3, 4, 5, 6, 8, 9)


def test_an_echo_is_not_a_blow() -> None:
    """A drum's body answers 9 ms after the louder blow."""
    times = falling(20, 0.8, 9)
    both = np.concatenate([times, times[:4] + 0.009])
    levels = np.concatenate([fading(times, 0.8), fading(times, 0.8)[:4] - 8])
    chains, _ = found(both, levels, np.concatenate([np.full(9, STRONG), np.full(4, 4.5)]))
    assert len(chains) == 1
    assert len(chains[0].hits) == 9


def test_a_finger_that_cuts_a_flight_short_is_seen_behind_the_law() -> None:
    times = falling(20, 0.8, 6)
    sooner = times[-1] + 0.35 * (times[-1] - times[-2])
    levels = np.append(fading(times, 0.8), -34.0)
    chains, _ = found(np.append(times, sooner), levels, np.full(7, STRONG))
    assert (len(chains[0].hits), len(chains[0].after)) == (6, 1)


def test_even_strokes_are_no_drop() -> None:
    chains, stray = found(np.linspace(1.0, 4.8, 20), np.full(20, -20.0), np.full(20, STRONG))
    assert all(chain.gain == 0 for chain in chains)
    assert not stray


def test_nothing_is_no_drop() -> None:
    assert find_drops(np.zeros(0), np.zeros(0), np.zeros(0)) == ((), ())


@pytest.mark.parametrize("shift_s", [0.0, 3.7])
def test_time_and_gain_do_not_matter(shift_s: float) -> None:
    times = falling(20, 0.75, 8)
    chains, _ = found(times + shift_s, fading(times, 0.75) - 5 * shift_s, np.full(8, STRONG))
    assert [chain.numbers for chain in chains] == [tuple(range(8))]
