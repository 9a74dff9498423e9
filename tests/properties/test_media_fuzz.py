"""Whatever bytes come as a recording: a refusal by name, or a take that can be trusted to be one."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from benchmarks.encoding import encode, write_mp3, write_ogg
from evenhand.errors import CannotHear
from evenhand.media.open_take import open_take
from evenhand.media.write import write_flac, write_wav
from evenhand.take import MidiTake, SoundTake
from tests.depth import share
from tests.media_files import a_midi, blows, end, note_on, tempo

LONGEST_S = 10.0
STARTS = (b"", b"RIFF", b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0", b"MThd\0\0\0\6\0\1\0\1", b"fLaC\0\0\0\x22",
          b"OggS\0\2", b"ID3\4\0\0", b"\xff\xfb\x90\x64", b"\xff\xf1\x50\x80", b"\x1a\x45\xdf\xa3",
          b"\0\0\0\x18ftypM4A ", b"caff\0\1\0\0desc", b"FORM\0\0\0\0AIFF", b"#!AMR\n")  # fmt: skip
NAMES = ("wav", "flac", "mp3", "m4a", "ogg", "webm", "mid")

edits = st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), max_size=12)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a file's place, written over and over."""
    return tmp_path_factory.mktemp("fuzz") / "take"


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Give a whole file of each kind."""
    folder = tmp_path_factory.mktemp("good")
    samples = blows(48_000, 0.6)
    write_wav(folder / "a.wav", samples, 48_000, sample="FLOAT")
    write_flac(folder / "a.flac", samples, 48_000)
    write_mp3(folder / "a.mp3", samples, 48_000)
    write_ogg(folder / "a.ogg", samples, 48_000)
    encode(folder / "a.m4a", samples, 48_000, codec="aac", options={"movflags": "faststart"})
    encode(folder / "a.webm", samples, 48_000, codec="libopus")
    (folder / "a.mid").write_bytes(a_midi(tempo(0, 500_000) + b"".join([note_on(240)] * 8) + end()))
    return {file.suffix[1:]: file.read_bytes() for file in folder.iterdir()}


def opens_or_refuses(place: Path, content: bytes) -> str:
    """Open what may be anything; return what became of it."""
    place.write_bytes(content)
    began = time.monotonic()
    became: SoundTake | MidiTake | CannotHear
    try:
        became = open_take(place)
    except CannotHear as refusal:
        became = refusal
    assert time.monotonic() - began < LONGEST_S
    check(became)
    return type(became).__name__


def check(take: SoundTake | MidiTake | CannotHear) -> None:
    """Hold a take, or a refusal, to what its type promises."""
    if isinstance(take, CannotHear):
        assert "\n" not in str(take)
        return
    if isinstance(take, MidiTake):
        assert np.all(np.isfinite(take.times_s))
        assert np.all(np.diff(take.times_s) >= 0)
        assert take.times_s.shape == take.levels_db.shape == take.notes.shape
        assert np.all(take.levels_db <= 0)
        return
    samples = take.samples[:]
    assert samples.dtype == np.float32
    assert samples.ndim == 1
    assert np.isfinite(samples).all()
    assert take.duration_s >= 0.3
    assert 8_000 <= take.rate_hz <= 192_000
    assert np.ptp(samples) > 0


@share(0.5)
@given(start=st.sampled_from(STARTS), rest=st.binary(max_size=4096))
def test_any_bytes_are_refused_or_a_take(place: Path, start: bytes, rest: bytes) -> None:
    opens_or_refuses(place, start + rest)


@share(0.5)
@given(kind=st.sampled_from(NAMES), edits=edits, kept=st.floats(0, 1), more=st.binary(max_size=64))
@example(kind="wav", edits=[], kept=1.0, more=b"")
def test_damaged_recordings_are_refused_or_a_take(
    place: Path, good: dict[str, bytes], kind: str, edits: list[tuple[float, int]], kept: float, more: bytes
) -> None:
    content = bytearray(good[kind])
    for where, value in edits:
        content[int(where * len(content))] = value
    at = int(kept * len(content))
    opens_or_refuses(place, bytes(content[:at] + more + content[at:] if edits else content[:at] + more))


@share(0.5)
@given(kind=st.sampled_from(NAMES), edits=edits)
def test_damaged_headers_are_refused_or_a_take(
    place: Path, good: dict[str, bytes], kind: str, edits: list[tuple[float, int]]
) -> None:
    content = bytearray(good[kind])
    for where, value in edits:
        content[int(where * min(len(content), 200))] = value
    opens_or_refuses(place, bytes(content))


@pytest.mark.parametrize("kind", NAMES)
def test_what_is_whole_is_a_take(place: Path, good: dict[str, bytes], kind: str) -> None:
    """Else the laws above could hold by refusing everything."""
    assert opens_or_refuses(place, good[kind]) == ("MidiTake" if kind == "mid" else "SoundTake")
