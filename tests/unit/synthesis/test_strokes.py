"""What strokes sound like, as far as the ear of this project depends on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import scipy  # its parts are loaded where they are first used
from numpy.typing import NDArray

from evenhand.synthesis.instruments import DRUMS, MEMBRANE, Instrument, one_of_its_kind
from evenhand.synthesis.strokes import LEAD, Rows, split, synthesise

RATE_HZ = 48000
ALL: tuple[Instrument, ...] = ("pad", "snare", "ringing_snare")


def strokes(instrument: Instrument, velocity: float, n: int = 16, *, right: bool = True) -> Rows:
    hard, hand = np.full(n, velocity), np.full(n, right)
    return synthesise(DRUMS[instrument], hard, hand, RATE_HZ, np.random.default_rng(5))


def centroid_hz(rows: NDArray[np.float64]) -> float:
    power = np.mean(np.abs(np.fft.rfft(rows[:, : LEAD + 480])) ** 2, axis=0)
    return float(np.sum(power * np.fft.rfftfreq(LEAD + 480, 1 / RATE_HZ)) / np.sum(power))


def whole(rows: Rows) -> NDArray[np.float64]:
    out = np.zeros((len(rows.head), max(rows.head.shape[1], rows.tail_from + rows.tail.shape[1])))
    out[:, : rows.head.shape[1]] += rows.head
    out[:, rows.tail_from : rows.tail_from + rows.tail.shape[1]] += rows.tail
    return out


def test_the_overtones_are_those_of_a_round_membrane() -> None:
    """Oracle: zeros of Bessel functions by scipy.special.jn_zeros, over the first."""
    zeros = np.sort(np.concatenate([scipy.special.jn_zeros(order, 4) for order in range(8)]))
    np.testing.assert_allclose(MEMBRANE, zeros[:12] / zeros[0], rtol=5e-4)


@pytest.mark.parametrize("instrument", ALL)
def test_a_harder_stroke_is_brighter(instrument: Instrument) -> None:
    assert centroid_hz(strokes(instrument, 0.9).head) > 1.15 * centroid_hz(strokes(instrument, 0.2).head)


@pytest.mark.parametrize("instrument", ALL)
def test_nothing_sounds_before_the_blow(instrument: Instrument) -> None:
    head = strokes(instrument, 0.8).head
    assert np.max(np.abs(head[:, : LEAD - 2])) < 1e-4 * np.max(np.abs(head))


@pytest.mark.parametrize("instrument", ALL)
def test_no_two_attacks_are_alike(instrument: Instrument) -> None:
    attacks = strokes(instrument, 0.8).head[:, : LEAD + 240]
    attacks = attacks / np.linalg.norm(attacks, axis=1, keepdims=True)
    likeness = (attacks @ attacks.T)[np.triu_indices(len(attacks), 1)]
    assert np.max(likeness) < 0.9999
    assert 0.5 < np.median(likeness) < 0.995


def test_the_two_sticks_differ_a_little() -> None:
    right, left = strokes("pad", 0.7, 60).head, strokes("pad", 0.7, 60, right=False).head
    assert centroid_hz(right) != pytest.approx(centroid_hz(left), rel=0.003)


def test_a_ringing_drum_rings_longer() -> None:
    """Energy from 0.2 s on, over all of it."""
    late = []
    for instrument in ALL:
        sound = whole(strokes(instrument, 0.8, 6))
        late.append(float(np.sum(sound[:, 9600:] ** 2) / np.sum(sound**2)))
    assert late[0] < 1e-9
    assert late[0] < late[1] < late[2]
    assert late[2] > 0.2


def test_head_and_tail_join_without_a_dent() -> None:
    """From 60 to 140 ms, join included, no 5 ms piece is 1 dB off the mean of its neighbours."""
    sound = whole(strokes("ringing_snare", 0.8, 30))[:, 2880:6720]
    level_db = 10 * np.log10(np.mean(sound.reshape(30, -1, 240) ** 2, axis=(0, 2)))
    dents = level_db[1:-1] - (level_db[:-2] + level_db[2:]) / 2
    assert np.max(np.abs(dents)) < 1.0


def test_splitting_and_adding_gives_the_whole_again() -> None:
    rows = np.random.default_rng(0).standard_normal((3, 1000))
    np.testing.assert_allclose(whole(split(rows, 400)), rows, atol=1e-6)
    assert split(rows, 1000).tail.shape == (3, 0)


def test_no_two_drums_of_a_kind_are_alike() -> None:
    rng = np.random.default_rng(2)
    drums = [one_of_its_kind(DRUMS["snare"], rng) for _ in range(30)]
    hz = np.array([drum.modes_hz[0] for drum in drums])
    assert np.std(hz) / np.mean(hz) == pytest.approx(0.1, rel=0.4)
    assert len({drum.wires_db for drum in drums}) == 30


def test_a_drum_without_wires_may_ring_on() -> None:
    drum = replace(DRUMS["snare"], wires_db=None)
    rows = synthesise(drum, np.full(3, 0.8), np.full(3, fill_value=True), RATE_HZ, np.random.default_rng(1))
    assert np.max(np.abs(rows.tail)) > 0.01
