"""Plain WAV is read without a decoder; expected samples are worked out from the bytes by hand."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest

from evenhand.media import stored
from evenhand.media.stored import Recording
from evenhand.media.wav import read_wav
from tests.media_files import a_wav


def read(tmp_path: Path, content: bytes) -> Recording | None:
    path = tmp_path / "take.wav"
    path.write_bytes(content)
    return read_wav(path)


@pytest.mark.parametrize("extensible", [False, True])
@pytest.mark.parametrize(
    ("data", "bits", "tag", "expected"),
    [
        pytest.param(bytes([128, 255, 0]), 8, 1, [0.0, 127 / 128, -1.0], id="8 bit has its rest at 128"),
        pytest.param(struct.pack("<3h", 0, 16384, -32768), 16, 1, [0.0, 0.5, -1.0], id="16 bit"),
        pytest.param(b"\0\0\0\0\0\x40\0\0\x80", 24, 1, [0.0, 0.5, -1.0], id="24 bit"),
        pytest.param(struct.pack("<3i", 0, 1 << 30, -(1 << 31)), 32, 1, [0.0, 0.5, -1.0], id="32 bit"),
        pytest.param(struct.pack("<3f", 0.0, 0.5, -1.5), 32, 3, [0.0, 0.5, -1.5], id="float"),
        pytest.param(struct.pack("<3d", 0.0, 0.5, -1.5), 64, 3, [0.0, 0.5, -1.5], id="double"),
    ],
)
def test_every_plain_form_becomes_full_scale_one(
    tmp_path: Path, data: bytes, bits: int, tag: int, expected: list[float], *, extensible: bool
) -> None:
    recording = read(tmp_path, a_wav(data, bits=bits, tag=tag, extensible=extensible))
    assert recording is not None
    assert recording.source.read(0, 3, 0).tolist() == pytest.approx(expected, abs=1e-9)
    assert recording.rate_hz == 48_000


def test_channels_come_apart(tmp_path: Path) -> None:
    recording = read(tmp_path, a_wav(struct.pack("<4h", 1, 2, 3, 4), channels=2))
    assert recording is not None
    assert (recording.source.read(0, 2) * 32768).tolist() == [[1, 2], [3, 4]]
    assert (recording.source.read(0, 2, 1) * 32768).tolist() == [2, 4]


def test_other_chunks_are_stepped_over_with_their_padding(tmp_path: Path) -> None:
    before = b"LIST" + struct.pack("<I", 3) + b"abc\0"
    recording = read(tmp_path, a_wav(struct.pack("<2h", 5, 6), before=before))
    assert recording is not None
    assert (recording.source.read(0, 2, 0) * 32768).tolist() == [5, 6]


def test_a_cut_off_file_gives_what_is_there_and_says_what_is_missing(tmp_path: Path) -> None:
    recording = read(tmp_path, a_wav(bytes(2 * 48_000), stated=4 * 48_000))
    assert recording is not None
    assert recording.duration_s == 1.0
    assert recording.warnings == ("cut off: the file promises 2.00 s and holds 1.00 s",)


@pytest.mark.parametrize("stated", [0, 0xFFFFFFFF])
def test_a_length_that_was_never_filled_in_means_to_the_end(tmp_path: Path, stated: int) -> None:
    recording = read(tmp_path, a_wav(bytes(2 * 48_000), stated=stated))
    assert recording is not None
    assert (recording.duration_s, recording.warnings) == (1.0, ())


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"RIFF\0\0\0\0WAVE", id="ends after its name"),
        pytest.param(b"RIFF\0\0\0\0AVI ", id="another RIFF"),
        pytest.param(b"fLaC", id="no RIFF"),
        pytest.param(a_wav(b"\0\0", bits=12), id="12 bit"),
        pytest.param(a_wav(b"\0\0", tag=2), id="compressed"),
        pytest.param(a_wav(b"\0\0", channels=0), id="no channels"),
        pytest.param(a_wav(b"")[:30], id="cut in its format"),
        pytest.param(b"RIFF\0\0\0\0WAVEdata\4\0\0\0abcd", id="data without a format"),
    ],
)
def test_what_is_not_plain_is_left_to_the_decoder(tmp_path: Path, content: bytes) -> None:
    assert read(tmp_path, content) is None


def test_a_large_file_is_read_from_disk_and_gives_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rng: np.random.Generator
) -> None:
    numbers = rng.integers(-32768, 32767, (1000, 2)).astype("<i2")
    content = a_wav(numbers.tobytes(), channels=2)
    monkeypatch.setattr(stored, "IN_MEMORY_BYTES", 100)
    monkeypatch.setattr(stored, "BLOCK_SAMPLES", 14)
    recording = read(tmp_path, content)
    assert recording is not None
    np.testing.assert_array_equal(recording.source.read(100, 200) * 32768, numbers[100:200])
    np.testing.assert_array_equal(recording.source.read(990, 2000, 1) * 32768, numbers[990:, 1])
