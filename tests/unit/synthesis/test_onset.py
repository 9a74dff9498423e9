"""The definitions of start and level. Oracles: scipy's filter design, and signals worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
import scipy  # its parts are loaded where they are first used

from evenhand.synthesis.strokes import (
    biquad_highpass,
    good_size,
    highpass_response,
    levels_rms,
    starts,
    to_db,
)


@pytest.mark.parametrize("rate_hz", [8000, 22050, 48000, 192000])
def test_the_highpass_is_a_second_order_butterworth(rate_hz: int) -> None:
    """Oracle: scipy.signal.butter."""
    b, a = biquad_highpass(200.0, rate_hz)
    expected_b, expected_a = scipy.signal.butter(2, 200, "highpass", fs=rate_hz)
    np.testing.assert_allclose(b, expected_b, rtol=1e-9)
    np.testing.assert_allclose(a, expected_a, rtol=1e-9)


def test_filtering_by_the_response_is_filtering_sample_by_sample() -> None:
    """Oracle: scipy.signal.lfilter, which runs the recursion."""
    x = np.zeros(4096)
    x[100:400] = np.random.default_rng(1).standard_normal(300)
    by_spectrum = np.fft.irfft(np.fft.rfft(x, 8192) * highpass_response(48000, 8192), 8192)[:4096]
    np.testing.assert_allclose(by_spectrum, scipy.signal.lfilter(*biquad_highpass(200, 48000), x), atol=1e-12)


def test_a_start_lies_between_samples_where_the_line_crosses() -> None:
    """By hand: peak 1, threshold 0.01; 0.004 to 0.016 crosses half way."""
    rows = np.array([[0, 0, 0.004, 0.016, 1, 0], [0, 0, -0.004, -0.016, -1, 0.0]])
    np.testing.assert_allclose(starts(rows), [2.5, 2.5])


def test_a_row_that_begins_loud_starts_at_its_first_sample() -> None:
    assert starts(np.array([[1.0, 0.5, 0.0]]))[0] == 0


def test_a_level_is_the_rms_of_ten_milliseconds_from_the_start() -> None:
    """By hand: ten samples at 1 kHz, five of height 3 and five of 1: sqrt((45 + 5) / 10)."""
    row = np.array([[0, 0, *[3] * 5, *[1] * 5, *[9] * 9]], dtype=float)
    assert levels_rms(row, np.array([1.4]), 1000)[0] == pytest.approx(np.sqrt(5))


def test_decibels_of_nothing_are_finite() -> None:
    np.testing.assert_allclose(to_db(np.array([1.0, 0.1, 0.0])), [0, -20, -240])


@pytest.mark.parametrize("n", [1, 2, 7, 1000, 1025, 5432, 131073])
def test_a_good_size_is_the_next_of_small_factors(n: int) -> None:
    """Oracle: scipy.fft.next_fast_len for real transforms, which allows 2, 3 and 5."""
    assert good_size(n) == scipy.fft.next_fast_len(n, real=True)
