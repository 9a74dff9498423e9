"""Samples that grow are sliced like an array."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.live import ear as live_kept
from evenhand.hearing.live.ear import KeptSamples


@pytest.fixture
def small_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live_kept, "PIECE", 8)


@pytest.mark.usefixtures("small_pieces")
@pytest.mark.parametrize("blocks", [(30,), (8, 8, 14), (3, 0, 20, 7), (1,) * 30])
def test_a_slice_is_that_of_the_same_array(blocks: tuple[int, ...]) -> None:
    kept, at = KeptSamples(), 0
    for size in blocks:
        kept.add(np.arange(at, at + size, dtype=np.float32))
        at += size
    whole = np.arange(30, dtype=np.float32)
    assert len(kept) == 30
    np.testing.assert_array_equal(kept[:], whole)
    for key in (slice(0, 0), slice(5, 9), slice(8, 16), slice(-4, None), slice(20, 99), slice(9, 3)):
        np.testing.assert_array_equal(kept[key], whole[key])


@pytest.mark.usefixtures("small_pieces")
def test_what_is_older_than_is_kept_reads_as_silence() -> None:
    """By hand: of 30 samples in pieces of 8 the newest 10 are kept; the pieces up to 16 lie before them."""
    kept = KeptSamples(keeps=10)
    assert kept.is_whole
    for at in range(30):
        kept.add(np.array([at + 1], dtype=np.float32))
    assert len(kept) == 30
    np.testing.assert_array_equal(kept[16:], np.arange(17, 31))
    np.testing.assert_array_equal(kept[:16], np.zeros(16))
    assert not kept.is_whole
