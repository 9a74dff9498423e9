"""Samples to files: whole or not at all, and back the same."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from benchmarks.encoding import Codec, encode, write_mp3, write_ogg
from evenhand.errors import CannotWrite, WrongOptions
from evenhand.media import write
from evenhand.media.open_take import open_take
from evenhand.media.write import write_flac, write_wav
from evenhand.take import SoundTake
from tests.media_files import blows

SAMPLES = blows()


@pytest.mark.parametrize("sample", ["PCM_16", "PCM_24", "FLOAT", "DOUBLE"])
def test_a_wav_comes_back(tmp_path: Path, sample: write.WavSample) -> None:
    write_wav(tmp_path / "a.wav", SAMPLES, 48_000, sample=sample)
    take = open_take(tmp_path / "a.wav")
    assert isinstance(take, SoundTake)
    np.testing.assert_allclose(take.samples[:], SAMPLES, atol=1 / 32768 if sample == "PCM_16" else 1e-6)


@pytest.mark.parametrize(
    ("writes", "name"), [(write_flac, "a.flac"), (write_mp3, "a.mp3"), (write_ogg, "a.ogg")]
)
def test_others_come_back_as_long(tmp_path: Path, writes: object, name: str) -> None:
    assert callable(writes)
    writes(tmp_path / name, SAMPLES, 48_000)
    take = open_take(tmp_path / name)
    assert isinstance(take, SoundTake)
    assert len(take.samples) == SAMPLES.size


def test_two_channels_are_encoded(tmp_path: Path) -> None:
    encode(
        tmp_path / "a.m4a", np.stack([0 * SAMPLES, SAMPLES], axis=1), 48_000, codec="aac", bit_rate=128_000
    )
    assert open_take(tmp_path / "a.m4a").facts.channel_used == "2 of 2: channel 1 is dead"


def test_nothing_is_left_beside_a_file(tmp_path: Path) -> None:
    write_wav(tmp_path / "a.wav", SAMPLES, 48_000)
    encode(tmp_path / "a.webm", SAMPLES, 48_000, codec="libopus")
    assert sorted(file.name for file in tmp_path.iterdir()) == ["a.wav", "a.webm"]


@pytest.mark.parametrize(("rate_hz", "codec"), [(12_345, "libopus"), (48_000, "pcm_s16le")])
def test_what_cannot_be_encoded_leaves_the_old_file(tmp_path: Path, rate_hz: int, codec: Codec) -> None:
    (tmp_path / "a.webm").write_bytes(b"old")
    with pytest.raises(CannotWrite, match=r"a\.webm: cannot be written"):
        encode(tmp_path / "a.webm", SAMPLES, rate_hz, codec=codec)
    assert [(file.name, file.read_bytes()) for file in tmp_path.iterdir()] == [("a.webm", b"old")]


def test_a_place_that_does_not_exist_is_said(tmp_path: Path) -> None:
    for writes in (write_wav, write_mp3):
        with pytest.raises(CannotWrite, match="cannot be written"):
            writes(tmp_path / "none" / "a.wav", SAMPLES, 48_000)


def test_what_is_no_sound_is_not_written(tmp_path: Path) -> None:
    with pytest.raises(WrongOptions, match="not numbers"):
        write_wav(tmp_path / "a.wav", np.full(10, np.nan), 48_000)
    with pytest.raises(WrongOptions, match="shape"):
        write_wav(tmp_path / "a.wav", np.zeros((2, 2, 2)), 48_000)
    assert list(tmp_path.iterdir()) == []
