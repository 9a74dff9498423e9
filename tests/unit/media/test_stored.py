"""Stored sound reads the same from memory and from disk, in one piece and in slices."""

from __future__ import annotations

import io

import numpy as np
import pytest

from evenhand.media import stored
from evenhand.media.decoding import Spool
from evenhand.media.stored import FORMS, LongSamples, OnDisk, Stored, repaired

NUMBERS = np.arange(-300, 300, dtype="<i2").reshape(-1, 2)


@pytest.mark.parametrize("in_memory_samples", [0, 100, 1 << 20])
@pytest.mark.parametrize("planar", [False, True])
def test_what_is_spooled_comes_back(
    monkeypatch: pytest.MonkeyPatch, in_memory_samples: int, *, planar: bool
) -> None:
    monkeypatch.setattr(stored, "IN_MEMORY_SAMPLES", in_memory_samples)
    spool = Spool("s16", 2)
    for part in np.array_split(NUMBERS, 7):
        body = bytearray((part.T if planar else part).tobytes())
        spool.add_message(body, planar=planar)
    spool.add_silence(3)
    source = spool.gathered(skip=5)
    whole = np.concatenate([NUMBERS, np.zeros((3, 2))])[5:]
    np.testing.assert_array_equal(source.read(0, 1000) * 32768, whole)
    np.testing.assert_array_equal(source.read(7, 9, 1) * 32768, whole[7:9, 1])


def test_a_spool_left_behind_can_be_closed_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stored, "IN_MEMORY_SAMPLES", 0)
    spool = Spool("flt", 1)
    spool.add(np.zeros((4, 1), "<f4"))
    spool.close()
    spool.close()
    assert spool.frames == 4


def test_silence_in_8_bit_is_its_middle() -> None:
    spool = Spool("u8", 1)
    spool.add_silence(2)
    assert spool.gathered().read(0, 2, 0).tolist() == [0.0, 0.0]


def test_long_samples_slice_like_an_array() -> None:
    array = np.linspace(-1, 1, 101, dtype="<f4")
    on_disk = OnDisk(io.BytesIO(array.tobytes()), "flt", channels=1, frames=array.size)
    long = LongSamples(on_disk, 0)
    assert (len(long), long.size, long.shape, long.ndim) == (101, 101, (101,), 1)
    for key in (slice(None), slice(3, 9), slice(-5, None), slice(90, 500), slice(9, 3), slice(0, 50, 7)):
        np.testing.assert_array_equal(long[key], array[key])
    np.testing.assert_array_equal(np.asarray(long), array)
    with pytest.raises(ValueError, match="always a copy"):
        np.asarray(long, copy=False)


def test_a_file_that_shrinks_gives_what_is_left() -> None:
    on_disk = OnDisk(io.BytesIO(bytes(7)), "s16", channels=1, frames=100)
    assert on_disk.read(0, 100).shape == (3, 1)


def test_broken_samples_become_a_line_between_their_neighbours() -> None:
    mended = repaired(np.array([np.nan, 1.0, np.inf, -np.inf, 4.0, 1e20], np.float32))
    assert mended.tolist() == [1.0, 1.0, 2.0, 3.0, 4.0, 4.0]


def test_nothing_but_broken_samples_becomes_silence() -> None:
    assert repaired(np.full(3, np.nan, np.float32)).tolist() == [0.0, 0.0, 0.0]


def test_long_samples_are_mended_where_asked() -> None:
    source = Stored("flt", np.array([[0.0], [np.nan], [2.0]], "<f4"))
    assert LongSamples(source, 0, mend=True)[:].tolist() == [0.0, 1.0, 2.0]


def test_every_form_says_its_size() -> None:
    assert all(np.dtype(form.dtype).itemsize == form.size for form in FORMS.values())
