"""Rows cut out of a take. Oracle of the highpass: scipy.signal."""

from __future__ import annotations

import numpy as np
import pytest
import scipy  # its parts are loaded where they are first used
from numpy.typing import NDArray

from evenhand.hearing.onsets.bands import highpass_response, rows


class OnDisk:
    """Samples that are only sliced, as a long take's are."""

    def __init__(self, samples: NDArray[np.float32]) -> None:
        self._samples = samples

    def __len__(self) -> int:
        return len(self._samples)

    def __getitem__(self, key: slice, /) -> NDArray[np.float32]:
        assert 0 <= key.start <= key.stop <= len(self)
        return self._samples[key]


@pytest.mark.parametrize("rate_hz", [8000, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("cutoff_hz", [200.0, 400.0])
def test_the_highpass_is_a_second_order_butterworth(rate_hz: int, cutoff_hz: float) -> None:
    """Oracle: scipy.signal.butter and freqz."""
    b, a = scipy.signal.butter(2, cutoff_hz, "highpass", fs=rate_hz)
    _, expected = scipy.signal.freqz(b, a, np.fft.rfftfreq(1920, 1 / rate_hz), fs=rate_hz)
    np.testing.assert_allclose(highpass_response(1920, rate_hz, cutoff_hz), expected, atol=2e-6)


def test_what_lies_outside_the_take_is_silence() -> None:
    take = np.array([1, 2, 3], dtype=np.float32)
    cut = rows(take, np.array([-2, 0, 1, 3, -9]), 4)
    np.testing.assert_array_equal(cut, [[0, 0, 1, 2], [1, 2, 3, 0], [2, 3, 0, 0], [0, 0, 0, 0], [0, 0, 0, 0]])


def test_a_take_on_disk_is_cut_like_one_in_memory(rng: np.random.Generator) -> None:
    take = rng.standard_normal(500).astype(np.float32)
    first = np.array([3, 70, 460, -20, 499])
    np.testing.assert_array_equal(rows(OnDisk(take), first, 60), rows(take, first, 60))
    np.testing.assert_array_equal(rows(OnDisk(take), first[:2], 60), rows(take, first[:2], 60))


def test_no_rows_are_no_rows() -> None:
    assert rows(np.zeros(9, dtype=np.float32), np.zeros(0, dtype=np.intp), 5).shape == (0, 5)
