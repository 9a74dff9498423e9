"""A track written block by block comes back where it was, in every format, whole or not at all."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from evenhand.errors import CannotWrite, WrongOptions
from evenhand.media.open_take import open_take
from evenhand.media.write import check_format, write_track
from evenhand.music.exercise import Tempo
from evenhand.synthesis.click import ClickAsked, Track, click_track, lay_click
from evenhand.synthesis.pulse import parse_meter
from evenhand.take import SoundTake


def a_click(rate_hz: int) -> Track:
    return click_track(lay_click(ClickAsked(Tempo.parse("1/4=97"), parse_meter("3/4"), 2)), rate_hz)


def read_back(path: Path) -> SoundTake:
    take = open_take(path)
    assert isinstance(take, SoundTake)
    return take


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
@pytest.mark.parametrize("ending", [".wav", ".flac", ".ogg", ".mp3", ".WAV"])
def test_every_format_comes_back_where_it_was(tmp_path: Path, ending: str, rate_hz: int) -> None:
    """No lag of even a sample, found by cross-correlation, and not a sample more or less."""
    path, track = tmp_path / f"click{ending}", a_click(rate_hz)
    write_track(path, track.blocks(), rate_hz, 1)
    take = read_back(path)
    sent, got = track.read(0, track.frames)[:, 0], np.asarray(take.samples[:])
    assert (take.rate_hz, len(got)) == (rate_hz, len(sent))
    size = 2 * len(sent)
    likeness = np.fft.irfft(np.fft.rfft(got, size) * np.conj(np.fft.rfft(sent, size)), size)
    assert int(likeness.argmax()) == 0
    if ending in {".wav", ".WAV", ".flac"}:
        np.testing.assert_allclose(got, np.clip(sent, -1, 1 - 2**-15), atol=2**-15)


def test_both_channels_are_written(tmp_path: Path) -> None:
    import soundfile

    path = tmp_path / "click.flac"
    frames = np.stack([np.full(4800, 0.25), np.full(4800, -0.5)], axis=1).astype(np.float32)
    write_track(path, [frames[:1000], frames[1000:]], 48_000, 2)
    read, rate_hz = soundfile.read(path)
    assert rate_hz == 48_000
    np.testing.assert_allclose(read, frames, atol=2**-15)


def test_the_same_track_gives_the_same_bytes(tmp_path: Path) -> None:
    for ending in (".wav", ".flac", ".mp3"):
        one, two = tmp_path / f"1{ending}", tmp_path / f"2{ending}"
        for path in (one, two):
            write_track(path, a_click(48_000).blocks(), 48_000, 1)
        assert one.read_bytes() == two.read_bytes(), ending


@pytest.mark.parametrize(
    ("name", "rate_hz", "message"),
    [
        ("click.txt", 48_000, r"click.txt; must be a name that ends in .wav, .flac, .ogg, .mp3"),
        ("click", 48_000, "a name that ends in"),
        ("click.mp3", 96_000, r"96000 samples a second for .mp3; must be one of 44100, 48000"),
        ("click.wav", 12, r"must be one of 44100, 48000, 96000"),
    ],
)
def test_a_format_that_is_none_is_refused(name: str, rate_hz: int, message: str) -> None:
    with pytest.raises(WrongOptions, match=message):
        check_format(Path(name), rate_hz)


def test_nothing_is_left_of_a_track_that_breaks_off(tmp_path: Path) -> None:
    def breaks() -> Iterator[NDArray[np.float32]]:
        yield np.zeros((100, 1), np.float32)
        raise RuntimeError("no more")

    with pytest.raises(RuntimeError, match="no more"):
        write_track(tmp_path / "click.wav", breaks(), 48_000, 1)
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(CannotWrite, match="cannot be written"):
        write_track(tmp_path / "no" / "click.wav", a_click(48_000).blocks(), 48_000, 1)
