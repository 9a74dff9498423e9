"""Samples that grow are sliced like an array."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.listening import live_kept
from evenhand.listening.live_kept import KeptSamples


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
    np.testing.assert_array_equal(kept.whole(), whole)
    for key in (slice(0, 0), slice(5, 9), slice(8, 16), slice(-4, None), slice(20, 99), slice(9, 3)):
        np.testing.assert_array_equal(kept[key], whole[key])
