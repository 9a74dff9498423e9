"""Even rows of like sounds, among others."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.clicks.rows import Links, is_the_drum, join, link, pieces_around
from evenhand.hearing.clicks.sound import Cutter
from tests.unit.hearing.sounds import RATE_HZ, Array, bursts, candidates_at, clicks, evenly

AT_S = evenly(0.3, 0.4001234, 6)


def links_of(*pairs: tuple[int, int, float]) -> Links:
    first, second, apart = zip(*pairs, strict=True)
    return Links(np.array(first), np.array(second), np.array(apart))


def test_links_of_one_length_join_to_a_row_the_longest_first() -> None:
    """By hand: 0-2-4-6 half a second apart, and 1-3-5 likewise but shorter; 6-7 is another length."""
    half = [(i, i + 2, 0.5) for i in range(5)]
    rows = join(links_of(*half, (6, 7, 0.46)), 0.25 * np.arange(8.0))
    assert [chain.tolist() for chain, _ in rows] == [[0, 2, 4, 6], [1, 3, 5]]


def test_times_along_a_row_are_those_of_its_links() -> None:
    rough = np.array([1.0, 1.501, 1.999])
    (_, times), *_ = join(links_of((0, 1, 0.50004), (1, 2, 0.50006)), rough)
    np.testing.assert_allclose(times, [1.0, 1.50004, 2.0001])


@pytest.mark.parametrize("off_s", [0.0003, 0.02])
def test_links_of_other_lengths_do_not_join(off_s: float) -> None:
    """A hand's intervals differ by more than 0.15 ms; a click's do not."""
    assert join(links_of((0, 1, 0.5), (1, 2, 0.5 + off_s)), np.arange(3.0)) == []


def linked(samples: Array, at_s: Array, beat_s: float | None) -> Links:
    cut = Cutter(samples.astype(np.float32), RATE_HZ)
    return link(pieces_around(cut, at_s), candidates_at(at_s), RATE_HZ, beat_s)


def test_like_sounds_a_beat_apart_are_linked_to_a_hundredth_of_a_millisecond() -> None:
    """Their rough times are up to 0.4 ms off."""
    rough = AT_S + np.array([0.1, -0.4, 0.3, 0.0, 0.4, -0.2]) * 1e-3
    links = linked(clicks(AT_S, 3.0), rough, 0.4)
    assert list(zip(links.first.tolist(), links.second.tolist(), strict=True)) == [
        (i, i + 1) for i in range(5)
    ]
    np.testing.assert_allclose(links.apart_s, 0.4001234, atol=1e-5)


def test_other_beats_than_about_the_one_asked_for_are_not_linked() -> None:
    assert len(linked(clicks(AT_S, 3.0), AT_S, 0.8).first) == 4  # two beats apart are one of these
    assert len(linked(clicks(AT_S, 3.0), AT_S, 0.3).first) == 0


def test_unlike_sounds_are_not_linked() -> None:
    assert len(linked(bursts(AT_S), AT_S, 0.4).first) == 0


def test_a_sound_that_comes_off_the_grid_too_is_the_drum() -> None:
    """The same sound in the row and between: a drum. Another between: the row may be a click."""
    between = AT_S[:-1] + np.array([0.11, 0.13, 0.21, 0.17, 0.26])
    at_s = np.sort(np.concatenate([AT_S, between]))
    chain = np.searchsorted(at_s, AT_S)
    same = clicks(at_s, 3.0)
    other = clicks(AT_S, 3.0)
    other[: len(bursts(between))] += bursts(between)[: len(other)]
    for samples, drum in ((same, True), (other, False)):
        pieces = pieces_around(Cutter(samples.astype(np.float32), RATE_HZ), at_s)
        assert is_the_drum(pieces, at_s, chain, AT_S, RATE_HZ) is drum


def test_with_nothing_off_the_grid_a_row_is_not_called_the_drum() -> None:
    pieces = pieces_around(Cutter(clicks(AT_S, 3.0).astype(np.float32), RATE_HZ), AT_S)
    assert not is_the_drum(pieces, AT_S, np.arange(6), AT_S, RATE_HZ)
