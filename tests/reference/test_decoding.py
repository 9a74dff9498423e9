"""Recordings read back against what was put in, and against other libraries' reading.

By construction: blows at known samples, encoded by FFmpeg's and libsndfile's encoders, must come
back where they were. By others: libsndfile and mido read the same files. By hand: MIDI's own bytes.
Tolerances: one sample where nothing is lost; 0.1 ms where sound is coded by ear, a sixtieth of the
6 ms that an ear can tell (Friberg & Sundberg 1995).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from benchmarks.encoding import encode, write_mp3, write_ogg
from evenhand.media.open_take import open_take
from evenhand.media.write import write_flac, write_wav
from evenhand.take import MidiTake, SoundTake
from tests.media_files import a_midi, blows, end, note_on, ticks
from tests.outside import GROOVES

RATE_HZ = 48_000
TIMES_S = (0.3, 0.71, 1.13, 1.62, 2.2)
Writes = Callable[[Path, NDArray[np.float32], int], None]


def coded(codec: str, **options: str) -> Writes:
    def writes(path: Path, samples: NDArray[np.float32], rate_hz: int) -> None:
        encode(path, samples, rate_hz, codec=codec, bit_rate=128_000, options=options)  # type: ignore[arg-type]  # by the table

    return writes


def there_and_back(path: Path, writes: Writes, samples: NDArray[np.float32], rate_hz: int) -> SoundTake:
    writes(path, samples, rate_hz)
    take = open_take(path)
    assert isinstance(take, SoundTake)
    assert take.rate_hz == rate_hz
    return take


def shifts_ms(put_in: NDArray[np.float32], came_back: NDArray[np.float32], rate_hz: int) -> list[float]:
    """Tell how much later each blow came back, by the peak of its correlation, between samples."""
    size, reach = rate_hz // 25, rate_hz // 20
    found = []
    for time_s in TIMES_S:
        at = round(time_s * rate_hz)
        likeness = np.correlate(came_back[at - reach : at + size + reach], put_in[at : at + size])
        best = int(np.argmax(likeness))
        before, top, after = likeness[best - 1 : best + 2]
        between = (before - after) / (2 * (before - 2 * top + after))
        found.append(1000 * (best + between - reach) / rate_hz)
    return found


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize(
    ("name", "writes"),
    [
        ("a.wav", write_wav),
        ("a.flac", write_flac),
        ("a.m4a", coded("alac")),
        ("a.caf", coded("alac")),
        ("a.aiff", coded("pcm_s16be")),
        ("a.mov", coded("pcm_s16le")),
        ("a.mkv", coded("flac")),
    ],
)
def test_what_is_coded_without_loss_comes_back_to_the_sample(
    tmp_path: Path, name: str, writes: Writes, channels: int
) -> None:
    mono = blows(RATE_HZ, 2.5, TIMES_S)
    samples = mono if channels == 1 else np.stack([mono, mono], axis=1)
    take = there_and_back(tmp_path / name, writes, samples, RATE_HZ)
    assert len(take.samples) == mono.size
    np.testing.assert_allclose(take.samples[:], mono, atol=1.01 / 32768)  # one step of 16 bits
    assert take.facts.warnings == ()


@pytest.mark.parametrize(
    ("name", "writes", "rate_hz", "assumed"),
    [
        pytest.param("a.mp3", write_mp3, 44_100, False, id="mp3 by libsndfile"),
        pytest.param("a.mp3", coded("libmp3lame"), 48_000, False, id="mp3 by FFmpeg"),
        pytest.param(
            "a.mp3", coded("libmp3lame", write_xing="0"), 44_100, True, id="mp3 without its first header"
        ),
        pytest.param("a.m4a", coded("aac"), 44_100, False, id="m4a"),
        pytest.param("a.m4a", coded("aac", use_editlist="0"), 48_000, True, id="m4a without an edit list"),
        pytest.param(
            "a.mp4", coded("aac", movflags="frag_keyframe+empty_moov"), 48_000, True, id="mp4 in fragments"
        ),
        pytest.param("a.mov", coded("aac"), 48_000, False, id="mov"),
        pytest.param("a.3gp", coded("aac"), 48_000, False, id="3gp"),
        pytest.param("a.aac", coded("aac"), 44_100, True, id="raw aac"),
        pytest.param("a.mkv", coded("aac"), 48_000, False, id="aac in matroska"),
        pytest.param("a.ts", coded("aac"), 48_000, True, id="aac in a transport stream"),
        pytest.param("a.ogg", write_ogg, 48_000, False, id="vorbis"),
        pytest.param("a.mp3", coded("libmp3lame"), 32_000, False, id="mp3 at 32 kHz"),
        pytest.param("a.m4a", coded("aac"), 16_000, False, id="m4a at 16 kHz"),
        pytest.param("a.ac3", coded("ac3"), 48_000, True, id="ac3"),
    ],
)
def test_what_is_coded_by_ear_comes_back_in_time(
    tmp_path: Path, name: str, writes: Writes, rate_hz: int, *, assumed: bool
) -> None:
    samples = blows(rate_hz, 2.5, TIMES_S)
    take = there_and_back(tmp_path / name, writes, samples, rate_hz)
    assert shifts_ms(samples, take.samples[:], rate_hz) == pytest.approx([0.0] * len(TIMES_S), abs=0.1)
    assert any("are assumed and dropped" in said for said in take.facts.warnings) == assumed


@pytest.mark.parametrize("name", ["a.opus", "a.webm", "a.mp4", "a.mkv"])
def test_opus_comes_back_in_time_from_every_container(tmp_path: Path, name: str) -> None:
    samples = blows(RATE_HZ, 2.5, TIMES_S)
    take = there_and_back(tmp_path / name, coded("libopus"), samples, RATE_HZ)
    assert shifts_ms(samples, take.samples[:], RATE_HZ) == pytest.approx([0.0] * len(TIMES_S), abs=0.1)
    assert take.facts.warnings == ()


@pytest.mark.parametrize(
    ("name", "writes", "tolerance"),
    [
        ("a.flac", write_flac, 0.0),
        ("a.aiff", coded("pcm_s16be"), 0.0),
        ("a.wav", write_wav, 0.0),
        ("a.ogg", write_ogg, 1e-4),  # two decoders of one lossy stream round differently
    ],
)
def test_another_library_reads_the_same(tmp_path: Path, name: str, writes: Writes, tolerance: float) -> None:
    """By others: libsndfile, through soundfile."""
    import soundfile

    take = there_and_back(tmp_path / name, writes, blows(RATE_HZ, 2.5, TIMES_S), RATE_HZ)
    theirs, rate_hz = soundfile.read(tmp_path / name, dtype="float32")
    assert rate_hz == RATE_HZ
    np.testing.assert_allclose(take.samples[:], theirs, atol=tolerance)


@pytest.mark.parametrize(
    ("tempo_bytes", "bpm"),
    [("ff5103 07a120", 120), ("ff5103 0a2c2b", 90)],  # facts of the MIDI standard, tempo in microseconds
)
def test_midi_tempo_bytes_mean_what_the_standard_says(tmp_path: Path, tempo_bytes: str, bpm: int) -> None:
    track = ticks(0) + bytes.fromhex(tempo_bytes) + note_on(480) + note_on(480) + end()
    (tmp_path / "a.mid").write_bytes(a_midi(track, division=480))
    take = open_take(tmp_path / "a.mid")
    assert isinstance(take, MidiTake)
    assert take.times_s.tolist() == pytest.approx([60 / bpm, 120 / bpm], abs=1e-6)


def test_a_midi_tick_of_480_at_120_lasts_1_04_ms(tmp_path: Path) -> None:
    """Worked from the standard: 60 s / 120 / 480 = 1.0416667 ms."""
    (tmp_path / "a.mid").write_bytes(a_midi(note_on(1) + end(), division=480))
    take = open_take(tmp_path / "a.mid")
    assert isinstance(take, MidiTake)
    assert 1000 * take.times_s[0] == pytest.approx(1.0416667, abs=1e-6)


def test_midi_levels_follow_the_square_law(tmp_path: Path) -> None:
    """40 log10(velocity / 127): half the velocity is 12.04 dB less (worked by hand: 40 log10 2)."""
    (tmp_path / "a.mid").write_bytes(
        a_midi(note_on(0, 38, 127) + note_on(9, 38, 100) + note_on(9, 38, 50) + end())
    )
    take = open_take(tmp_path / "a.mid")
    assert isinstance(take, MidiTake)
    assert take.levels_db[0] == 0.0
    assert take.levels_db[1] - take.levels_db[2] == pytest.approx(12.0412, abs=1e-4)


@pytest.mark.skipif(
    not GROOVES.is_dir(), reason="the recordings of real drummers are not here (EVENHAND_DATA)"
)
@pytest.mark.parametrize(
    "path", sorted(GROOVES.glob("*_[19]*0_*.mid")) or [Path("none")], ids=lambda path: path.stem[:24]
)
def test_real_drumming_is_read_as_by_mido(path: Path) -> None:
    """By others: mido turns ticks to seconds itself. Groove MIDI Dataset, Gillick et al. 2019, CC BY 4.0."""
    import mido

    take = open_take(path)
    assert isinstance(take, MidiTake)
    now_s, theirs = 0.0, []
    for message in mido.MidiFile(path):
        now_s += message.time
        if message.type == "note_on" and message.velocity and message.note in {37, 38, 40}:
            theirs.append((now_s, message.note, 40 * np.log10(message.velocity / 127)))
    times_s, notes, levels_db = zip(*theirs, strict=True)
    np.testing.assert_allclose(take.times_s, times_s, atol=1e-6)
    np.testing.assert_allclose(np.sort(take.levels_db), np.sort(levels_db), atol=1e-9)
    assert sorted(take.notes.tolist()) == sorted(notes)
    assert take.duration_s == pytest.approx(now_s, abs=1e-6)
