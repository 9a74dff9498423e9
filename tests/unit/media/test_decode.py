"""Messages become a recording; what a strange file could make the child say is refused."""

from __future__ import annotations

import json
from collections.abc import Generator
from pathlib import Path

import numpy as np
import pytest

from benchmarks.encoding import encode
from evenhand.errors import UnreadableRecording
from evenhand.media import decoding as spool
from evenhand.media.decoder import Asked, Decoder
from evenhand.media.decoding import decode
from evenhand.media.stored import Recording
from tests.media_files import blows

HEAD = {
    "container": "flac", "codec": "flac", "form": "s16", "planar": False, "channels": 1, "rate_hz": 8000,
    "promised_s": 1.0, "skipped": None, "has_video": False,
}  # fmt: skip
SECOND = (b"s", bytearray(2 * 8000))
END = (b"e", b'{"broken_packets": 0, "changed": false, "broke_off": false}')


class Saying(Decoder):
    """A decoder that says what it is told to."""

    def __init__(self, *messages: tuple[bytes, bytes | bytearray]) -> None:
        super().__init__()
        self.said = messages

    def messages(self, path: Path, film: Asked | None = None) -> Generator[tuple[bytes, bytearray]]:
        """Say it, whatever the file."""
        assert film is None
        assert path.name == "take"
        for kind, body in self.said:
            yield kind, bytearray(body)


def head(**changes: object) -> tuple[bytes, bytes]:
    return b"h", json.dumps({**HEAD, **changes}).encode()


def decoded(*messages: tuple[bytes, bytes | bytearray]) -> Recording:
    return decode(Path("take"), b"", decoder=Saying(*messages))


def test_samples_and_facts_arrive() -> None:
    recording = decoded(head(), SECOND, END)
    assert (recording.duration_s, recording.rate_hz, recording.format) == (1.0, 8000, "flac/flac")
    assert recording.warnings == ()


@pytest.mark.parametrize(
    ("end", "promised_s", "said"),
    [
        pytest.param({}, 2.0, "cut off: the file promises 2.00 s and holds 1.00 s", id="cut off"),
        pytest.param({"broke_off": True}, 1.0, "damaged: nothing can be read beyond 1.00 s", id="damaged"),
        pytest.param({"broken_packets": 3}, 1.0, "3 broken packets were left out", id="broken packets"),
        pytest.param({"changed": True}, 1.0, "the sound changes its rate or channels", id="another sound"),
    ],
)
def test_what_was_noticed_is_said(end: dict[str, object], promised_s: float, said: str) -> None:
    recording = decoded(head(promised_s=promised_s), SECOND, (b"e", json.dumps(end).encode()))
    assert len(recording.warnings) == 1
    assert recording.warnings[0].startswith(said)


@pytest.mark.parametrize("container", ["aac", "mpegts", "mp3"])
def test_a_guessed_length_is_no_promise(container: str) -> None:
    assert decoded(head(container=container, promised_s=9.0), SECOND, END).warnings == ()


def test_missing_samples_are_silence_and_said() -> None:
    loud = (b"s", bytearray(b"\0\x40" * 8000))
    recording = decoded(head(promised_s=2.5), loud, (b"g", b'{"samples": 4000}'), loud, END)
    samples = recording.source.read(0, recording.source.frames, 0)
    assert samples[[7999, 8000, 11_999, 12_000]].tolist() == [0.5, 0.0, 0.0, 0.5]
    assert recording.warnings == ("0.50 s are missing: silence was put in their place",)


@pytest.mark.parametrize(
    ("messages", "said"),
    [
        pytest.param([head(channels=255), SECOND], "255 channels", id="channels"),
        pytest.param([head(form="s64"), SECOND], "coded in a way that cannot be decoded", id="form"),
        pytest.param([head(promised_s=99_999.0), SECOND], "27.8 hours long", id="promised hours"),
        pytest.param([head(rate_hz=1), *[SECOND] * 9], "hours long", id="hours that nobody promised"),
        pytest.param([head(rate_hz=1), (b"g", b'{"samples": 99999}')], "27.8 hours long", id="missing hours"),
        pytest.param([END], "no sound could be decoded", id="nothing"),
        pytest.param([(b"x", b'{"why": "memory", "said": ""}')], "more memory", id="memory"),
        pytest.param([(b"x", b'{"why": "surprise", "said": ""}')], "the decoder fails on it", id="surprise"),
    ],
)
def test_what_cannot_be_a_take_is_refused(messages: list[tuple[bytes, bytes]], said: str) -> None:
    with pytest.raises(UnreadableRecording, match=said):
        decoded(*messages)


def test_more_than_a_recording_should_hold_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(spool, "MOST_BYTES", 20_000)
    with pytest.raises(UnreadableRecording, match="takes more room than a recording should"):
        decoded(head(), SECOND, SECOND, END)


def test_a_full_disk_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(spool.Spool, "add", full)
    with pytest.raises(UnreadableRecording, match="no room on the disk"):
        decoded(head(), SECOND, END)


def test_packets_lost_on_the_way_do_not_shift_what_follows(tmp_path: Path) -> None:
    """A recording whose packets between 0.6 s and 1.4 s were lost: the blow at 2 s stays there.

    Matroska's time stamps are whole milliseconds, so the place is known to one of them.
    """
    import av

    put_in = blows(48_000, 2.5, [0.3, 2.0])
    encode(tmp_path / "whole.mkv", put_in, 48_000, codec="flac")
    with av.open(str(tmp_path / "whole.mkv")) as whole, av.open(str(tmp_path / "take.mkv"), "w") as lossy:
        stream = lossy.add_stream_from_template(whole.streams.audio[0])
        for packet in whole.demux(whole.streams.audio[0]):
            if packet.pts is not None and not 0.6 < float(packet.pts * packet.time_base) < 1.4:
                packet.stream = stream
                lossy.mux(packet)
    recording = decode(tmp_path / "take.mkv", b"")
    samples = recording.source.read(0, recording.source.frames, 0)
    late = samples[72_000:]
    heard_s = 1.5 + int(np.argmax(np.abs(late) > 0.1)) / 48_000
    assert heard_s == pytest.approx(2.0, abs=0.001)
    assert any("are missing: silence was put in their place" in said for said in recording.warnings)
