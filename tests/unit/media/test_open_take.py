"""A file becomes a take, or is refused in one clear line, whatever it is."""

from __future__ import annotations

import os
import struct
from pathlib import Path

import numpy as np
import pytest

from benchmarks.encoding import encode, write_mp3, write_ogg
from evenhand.errors import CannotHear, NoSound, UnreadableRecording
from evenhand.media import open_take as opening
from evenhand.media.open_take import open_take
from evenhand.media.stored import LongSamples
from evenhand.media.write import write_flac, write_wav
from evenhand.take import SoundTake
from tests.media_files import a_wav, blows, stored_s16

SECOND = stored_s16(blows())


def opened(path: Path) -> SoundTake:
    take = open_take(path)
    assert isinstance(take, SoundTake)
    return take


def put(tmp_path: Path, content: bytes, name: str = "take.wav") -> Path:
    path = tmp_path / name
    path.write_bytes(content)
    return path


def refused(path: Path, kind: type[CannotHear] = UnreadableRecording) -> str:
    with pytest.raises(kind) as caught:
        open_take(path)
    said = str(caught.value)
    assert "\n" not in said
    assert said.startswith(f"{path.name}: ")
    assert said.endswith(".")
    assert caught.value.exit_code == 3
    return said


def test_a_wav_is_a_take(tmp_path: Path) -> None:
    take = opened(put(tmp_path, a_wav(SECOND)))
    np.testing.assert_allclose(take.samples[:], blows(), atol=1 / 32768)
    assert (take.rate_hz, take.duration_s) == (48_000, 1.0)
    assert (take.facts.format, take.facts.channel_used) == ("wav/pcm_s16le", "mono")


def test_a_text_path_will_do(tmp_path: Path) -> None:
    assert opened(Path(str(put(tmp_path, a_wav(SECOND))))).facts.seconds == 1.0


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 44_100, 96_000, 192_000])
def test_the_rate_is_kept(tmp_path: Path, rate_hz: int) -> None:
    write_flac(tmp_path / "take.flac", blows(rate_hz), rate_hz)
    take = opened(tmp_path / "take.flac")
    assert take.rate_hz == take.facts.rate_hz == rate_hz
    assert len(take.samples) == rate_hz


def test_content_says_what_it_is_and_not_the_name(tmp_path: Path) -> None:
    write_mp3(tmp_path / "take.mp3", blows(), 48_000)
    (tmp_path / "take.mp3").rename(tmp_path / "take.wav")
    assert opened(tmp_path / "take.wav").facts.format == "mp3/mp3"


def test_a_name_like_an_address_is_only_a_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    write_ogg(tmp_path / "rtmp:take?x.ogg", blows(), 48_000)
    assert opened(Path("rtmp:take?x.ogg")).facts.format == "ogg/vorbis"
    assert "no such file" in refused(Path("http:example.wav"))


def test_names_of_any_letters_are_opened(tmp_path: Path) -> None:
    write_ogg(tmp_path / "take.ogg", blows(), 48_000)
    odd = Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff take \xe2\x99\xa9 '\"$(x)\n.ogg"))
    (tmp_path / "take.ogg").rename(odd)
    assert opened(odd).duration_s == 1.0


def test_eight_channels_are_read(tmp_path: Path) -> None:
    samples = np.zeros((48_000, 8), np.float32)
    samples[:, 6] = blows()
    write_wav(tmp_path / "take.wav", samples, 48_000)
    take = opened(tmp_path / "take.wav")
    assert take.facts.channels == 8
    assert take.facts.channel_used == "7 of 8: channels 1, 2, 3, 4, 5, 6 and 8 are dead"
    np.testing.assert_allclose(take.samples[:], blows(), atol=1 / 32768)


def test_progress_ends_with_all(tmp_path: Path) -> None:
    write_flac(tmp_path / "take.flac", blows(seconds=3.0), 48_000)
    told: list[float] = []
    open_take(tmp_path / "take.flac", progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(told) > 1


def test_a_video_with_sound_is_heard(tmp_path: Path) -> None:
    a_video(tmp_path / "take.mp4", sound=True)
    assert opened(tmp_path / "take.mp4").facts.format == "mp4/aac"


def test_a_long_take_stays_on_disk_and_gives_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = put(tmp_path, a_wav(SECOND))
    short = opened(path)
    monkeypatch.setattr(opening, "IN_MEMORY_SAMPLES", 1000)
    long = opened(path)
    assert isinstance(long.samples, LongSamples)
    blocks = list(long.blocks(700))
    assert [start for start, _ in blocks] == list(range(0, 48_000, 700))
    np.testing.assert_array_equal(np.concatenate([block for _, block in blocks]), short.samples[:])


def test_a_cut_off_wav_is_heard_as_far_as_it_goes(tmp_path: Path) -> None:
    take = opened(put(tmp_path, a_wav(SECOND, stated=5 * 96_000)))
    assert take.facts.warnings == ("cut off: the file promises 5.00 s and holds 1.00 s",)


@pytest.mark.parametrize(("name", "codec"), [("take.webm", "libopus"), ("take.mov", "aac")])
def test_a_cut_off_recording_is_heard_as_far_as_it_goes(tmp_path: Path, name: str, codec: str) -> None:
    options = {"movflags": "faststart"} if codec == "aac" else {}
    encode(tmp_path / name, blows(seconds=6.0), 48_000, codec=codec, options=options)  # type: ignore[arg-type]
    content = (tmp_path / name).read_bytes()
    take = opened(put(tmp_path, content[: len(content) * 2 // 3], name))
    assert 2.0 < take.duration_s < 5.5
    assert any(said.startswith("cut off: the file promises 6.0") for said in take.facts.warnings)


def test_few_broken_samples_are_mended(tmp_path: Path) -> None:
    samples = blows()
    samples[200:203] = [np.nan, np.inf, -np.inf]
    take = opened(put(tmp_path, a_wav(samples.astype("<f4").tobytes(), bits=32, tag=3)))
    assert np.isfinite(take.samples[:]).all()
    assert "3 samples were not numbers" in take.facts.warnings[0]


@pytest.mark.parametrize("share", [0.01, 1.0])
def test_many_broken_samples_are_refused(tmp_path: Path, share: float) -> None:
    samples = blows()
    samples[: round(share * samples.size)] = np.nan
    said = refused(put(tmp_path, a_wav(samples.astype("<f4").tobytes(), bits=32, tag=3)))
    assert "too many of its samples are not numbers" in said


def test_what_is_not_there_is_said(tmp_path: Path) -> None:
    assert "no such file" in refused(tmp_path / "none.wav")
    assert "a folder" in refused(tmp_path)
    assert "an empty file" in refused(put(tmp_path, b""))


def test_a_name_that_no_file_can_have_is_no_file() -> None:
    assert "no such file" in refused(Path("a\0b.wav"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    assert "not a regular file" in refused(tmp_path / "pipe.wav")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read_is_said(tmp_path: Path) -> None:
    path = put(tmp_path, a_wav(SECOND))
    path.chmod(0)
    assert "no permission" in refused(path)


def test_no_permission_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def forbidden(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = put(tmp_path, a_wav(SECOND))
    monkeypatch.setattr(Path, "open", forbidden)
    assert "may not be read (no permission)" in refused(path)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        pytest.param("# Practice\nRLRR LRLL très lent\n".encode(), "text, whatever its name says", id="text"),
        pytest.param(bytes(range(256)) * 40, "no recording that can be decoded", id="bytes"),
        pytest.param(a_wav(SECOND)[:20], "damaged or cut off", id="a header cut off"),
        pytest.param(b"fLaC" + bytes(60), "so nothing of it can be read", id="nothing behind a header"),
        pytest.param(
            b"\0\0\0\x18ftypM4A \0\0\0\0" + bytes(400), "breaks off before its index", id="no index"
        ),
        pytest.param(a_wav(SECOND[: 2 * 9_600]), "too short, 0.20 s of sound", id="a fifth of a second"),
        pytest.param(a_wav(b""), "too short, 0.00 s of sound", id="a header and nothing else"),
        pytest.param(a_wav(SECOND, rate_hz=7_000), "a sample rate of 7000 Hz", id="rate too low"),
        pytest.param(a_wav(SECOND, rate_hz=0), "a sample rate of 0 Hz", id="rate zero"),
        pytest.param(
            a_wav(SECOND, rate_hz=4_000_000_000), "a sample rate of 4000000000 Hz", id="rate absurd"
        ),
        pytest.param(a_wav(SECOND, channels=12), "12 channels", id="too many channels"),
    ],
)
def test_what_is_no_recording_is_refused(tmp_path: Path, content: bytes, said: str) -> None:
    assert said in refused(put(tmp_path, content))


def test_an_mp4_cut_before_its_index_is_refused(tmp_path: Path) -> None:
    encode(tmp_path / "whole.m4a", blows(seconds=3.0), 48_000, codec="aac")
    content = (tmp_path / "whole.m4a").read_bytes()
    assert "breaks off before its index" in refused(put(tmp_path, content[: len(content) // 2], "take.m4a"))


def test_a_video_without_sound_is_refused(tmp_path: Path) -> None:
    a_video(tmp_path / "take.mp4", sound=False)
    assert "a video without sound" in refused(tmp_path / "take.mp4")


@pytest.mark.parametrize("rest", [0, 1, -1, 9000])
def test_silence_is_refused(tmp_path: Path, rest: int) -> None:
    path = put(tmp_path, a_wav(struct.pack("<h", rest) * 48_000))
    assert "nothing but silence" in refused(path, NoSound)


def test_silence_whose_last_bit_flickers_is_refused(tmp_path: Path, rng: np.random.Generator) -> None:
    flicker = rng.integers(-1, 2, 48_000).astype("<i2")
    assert "nothing but silence" in refused(put(tmp_path, a_wav(flicker.tobytes())), NoSound)


def test_a_small_file_that_unfolds_to_many_hours_is_refused(tmp_path: Path) -> None:
    """Eight hours of silence, told by FLAC's header; nothing of it is unfolded."""
    write_flac(tmp_path / "take.flac", blows(), 48_000)
    content = bytearray((tmp_path / "take.flac").read_bytes())
    total = 8 * 3600 * 48_000  # FLAC format, STREAMINFO: 36 bits of total samples from bit 108
    content[21] = content[21] & 0xF0 | total >> 32
    content[22:26] = (total & 0xFFFFFFFF).to_bytes(4, "big")
    assert "8.0 hours long" in refused(put(tmp_path, bytes(content), "take.flac"))


def test_a_list_of_other_files_opens_none_of_them(tmp_path: Path) -> None:
    put(tmp_path, a_wav(SECOND), "secret.wav")
    listed = b"ffconcat version 1.0\nfile secret.wav\n"
    assert "text" in refused(put(tmp_path, listed, "take.wav"))
    playlist = b"#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nsecret.wav\n#EXT-X-ENDLIST\n"
    assert "text" in refused(put(tmp_path, playlist, "take.m3u8"))


def a_video(path: Path, *, sound: bool) -> None:
    """Make a small video: grey pictures, and a second of blows where asked."""
    import av

    with av.open(str(path), "w") as container:
        picture = container.add_stream("mpeg4", rate=25)
        picture.width, picture.height, picture.pix_fmt = 64, 48, "yuv420p"
        voice = container.add_stream("aac", rate=48_000, layout="mono") if sound else None
        for _ in range(25):
            grey = av.VideoFrame.from_ndarray(np.full((48, 64, 3), 128, np.uint8), format="rgb24")
            container.mux(picture.encode(grey))
        container.mux(picture.encode(None))
        if voice is not None:
            frame = av.AudioFrame.from_ndarray(blows()[None, :], format="fltp", layout="mono")
            frame.sample_rate = 48_000
            container.mux(voice.encode(frame))
            container.mux(voice.encode(None))
