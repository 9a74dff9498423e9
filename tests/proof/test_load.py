"""What the load says of memory over time."""

from __future__ import annotations

import numpy as np
import pytest

from proof.load import Settings, slope


def test_memory_that_grows_is_seen_and_how_surely() -> None:
    """Three MB a minute, among looks that differ by 2 MB; the interval holds it 95 times of 100."""
    rng, at_s = np.random.default_rng(5), np.arange(0.0, 600.0, 5.0)
    found = [slope(at_s, 400 + 3.0 * at_s / 60 + rng.normal(0, 2.0, len(at_s))) for _ in range(200)]
    held = sum(abs(each.mb_a_minute - 3.0) < each.within for each in found)
    assert 180 <= held <= 198  # 190 are meant, within 2.6 standard deviations
    assert all(each.mb_a_minute > each.within for each in found)


def test_memory_that_stays_is_not_said_to_grow() -> None:
    rng = np.random.default_rng(6)
    flat = [slope(np.arange(0.0, 600.0, 5.0), 400 + rng.normal(0, 2.0, 120)) for _ in range(200)]
    sure = sum(abs(each.mb_a_minute) > each.within for each in flat)
    assert 2 <= sure <= 20  # of 200, at 95 %: 10 are meant, within 2.6 standard deviations


def test_sizes_come_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOAD_USERS", "7")
    assert Settings.of_environment() == Settings(users=7)
