"""Any recording, decoded in a child process: its messages become frames.

Silence that an encoder puts before the sound, where the container does not say to drop it.

Encoders start late by a fixed number of samples. Most containers say how many, and the decoder
drops them; where none says so, what is usual for the codec is dropped here, and it is said that
this was assumed: evenness does not depend on it, early and late do.

The figures were measured with FFmpeg's encoders (an impulse train, encoded and decoded). MP3's is
the LAME encoder's 576 and the decoder's 529; AAC in CAF comes from Apple's encoder, whose
documented delay is 2112.

Decoded frames on their way in: kept in memory while they are few, in a temporary file beyond.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from evenhand.errors import UnreadableRecording
from evenhand.media import refusals
from evenhand.media.decoder import Decoder, DecoderEnded, shared_decoder
from evenhand.media.stored import (
    FORMS,
    LONGEST_S,
    MOST_CHANNELS,
    OnDisk,
    Raw,
    Recording,
    Source,
    Stored,
    cut_off,
    fits_memory,
)

USUAL_SAMPLES = {"aac": 1024, "mp3": 1105, "mp2": 481, "ac3": 256, "eac3": 256}
IN_CAF_SAMPLES = {"aac": 2112, "opus": 312}
UNKNOWN = {"wmav1", "wmav2", "wmapro", "amr_nb", "amr_wb", "cook", "atrac3"}
_MP3_DECODER_SAMPLES = 529  # a header that states no encoder delay leaves only this to be dropped


def lead_in(container: str, codec: str, skipped: int | None, rate_hz: int) -> tuple[int, str | None]:
    """Tell how many samples to drop at the start, and what to say about it.

    Parameters
    ----------
    container, codec
        Names as FFmpeg gives them.
    skipped
        Samples that the container itself said to drop, and the decoder dropped; None if it said nothing.
    rate_hz
        Samples a second.
    """
    usual = (IN_CAF_SAMPLES if container == "caf" else {}).get(codec) or USUAL_SAMPLES.get(codec, 0)
    if codec == "mp3" and skipped is not None and skipped <= _MP3_DECODER_SAMPLES:
        return usual - skipped, _assumed(usual, rate_hz)
    if skipped is not None:
        return 0, None
    if codec in UNKNOWN:
        return 0, (
            f"{codec} may shift the whole recording by some hundredths of a second: "
            "evenness holds, early and late do not unless the click is heard"
        )
    return (usual, _assumed(usual, rate_hz)) if usual else (0, None)


def _assumed(samples: int, rate_hz: int) -> str:
    return (
        f"the file does not say how late its encoder starts: {samples} samples "
        f"({1000 * samples / rate_hz:.1f} ms) are assumed and dropped; "
        "evenness holds either way, early and late only if the click is heard"
    )


MOST_BYTES = 6 << 30
SILENCE_FRAMES = 1 << 15  # written at once


class RecordingTooLarge(Exception):
    """More was decoded than a recording should hold."""


class Spool:
    """Frames of one form and number of channels, added block by block."""

    def __init__(self, form: str, channels: int) -> None:
        self.form, self.channels = form, channels
        self.frames = 0
        self._blocks: list[Raw] = []
        self._file: BinaryIO | None = None

    def add(self, block: Raw) -> None:
        """Add frames.

        Parameters
        ----------
        block
            Frames in the spool's form, shape (n, channels).
        """
        self.frames += block.shape[0]
        if self.frames * self.channels * FORMS[self.form].size > MOST_BYTES:
            raise RecordingTooLarge
        if self._file is not None:
            self._file.write(np.ascontiguousarray(block).data)
            return
        self._blocks.append(block)
        if not fits_memory(self.form, self.frames * self.channels):
            self._to_file()

    def add_message(self, body: bytearray, *, planar: bool) -> None:
        """Add frames as the decoder sends them."""
        flat = np.frombuffer(body, FORMS[self.form].dtype)
        frames = flat.size // self.channels
        flat = flat[: frames * self.channels]
        self.add(flat.reshape(self.channels, frames).T if planar else flat.reshape(frames, self.channels))

    def add_silence(self, frames: int) -> None:
        """Add frames in which nothing sounds."""
        rest = 128 if self.form == "u8" else 0
        for start in range(0, frames, SILENCE_FRAMES):
            size = min(SILENCE_FRAMES, frames - start)
            self.add(np.full((size, self.channels), rest, FORMS[self.form].dtype))

    def close(self) -> None:
        """Drop what was gathered."""
        self._blocks.clear()
        if self._file is not None:
            self._file.close()

    def gathered(self, skip: int = 0) -> Source:
        """Hand over what was gathered, without the first ``skip`` frames."""
        skip = min(skip, self.frames)
        if self._file is None:
            empty = np.zeros((0, self.channels), FORMS[self.form].dtype)
            whole = np.concatenate(self._blocks) if self._blocks else empty
            self._blocks.clear()
            return Stored(self.form, whole[skip:])
        self._file.flush()
        offset = skip * self.channels * FORMS[self.form].size
        file, self._file = self._file, None
        return OnDisk(file, self.form, channels=self.channels, frames=self.frames - skip, offset=offset)

    def _to_file(self) -> None:
        """Move to disk; the file has no name, or loses it when it is closed."""
        import tempfile

        self._file = tempfile.TemporaryFile()  # noqa: SIM115 - the last reader of its samples closes it
        for block in self._blocks:
            self._file.write(np.ascontiguousarray(block).data)
        self._blocks.clear()


Progress = Callable[[float], None]

_GUESSED_LENGTHS = {"aac", "loas", "mpegts", "mpeg", "flv", "amr", "asf"}  # these promise nothing exact
_LENGTH_TOLERANCE_S = 0.25
_VIDEO_TOLERANCE_S = 1.0  # a video's sound may rightly end before its picture
_NAMES = {"mov,mp4,m4a,3gp,3g2,mj2": "mp4", "matroska,webm": "webm"}


def container_name(name: str) -> str:
    """Name a container as people do."""
    return _NAMES.get(name, name)


@dataclass(frozen=True, slots=True)
class RecordingHead:
    """What the child says of a recording before its samples."""

    container: str
    codec: str
    form: str
    planar: bool
    channels: int
    rate_hz: int
    promised_s: float | None
    skipped: int | None
    has_video: bool

    @property
    def format(self) -> str:
        """Container and codec, as people write them."""
        return f"{container_name(self.container)}/{self.codec}"

    @property
    def keeps_promise(self) -> bool:
        """Tell whether the promised length is a fact of the file, not a guess from its size."""
        guessed = self.container in _GUESSED_LENGTHS or (self.container == "mp3" and self.skipped is None)
        return self.promised_s is not None and not guessed


def decode(
    path: Path, head_bytes: bytes, *, progress: Progress | None = None, decoder: Decoder | None = None
) -> Recording:
    """Decode a recording's sound, all channels.

    Raises
    ------
    UnreadableRecording
        It is no recording, or too long, or the decoder cannot cope with it.
    """
    arriving = _Arriving(path, head_bytes, progress)
    messages = (decoder or shared_decoder()).messages(path)
    try:
        for kind, body in messages:
            arriving.take(kind, body)
        return arriving.recording()
    except DecoderEnded as ended:
        raise refusals.decoder_ended(path, ended.why) from None
    except RecordingTooLarge:
        raise refusals.refusal(path, "too_large") from None
    except OSError:
        raise refusals.refusal(path, "no_room") from None
    finally:
        messages.close()
        arriving.close()


class _Arriving:
    """One recording while its messages come in."""

    def __init__(self, path: Path, head_bytes: bytes, progress: Progress | None) -> None:
        self.path, self.head_bytes, self.progress = path, head_bytes, progress
        self.head: RecordingHead | None = None
        self.spool: Spool | None = None
        self.missing = 0
        self.end: dict[str, Any] = {}

    def take(self, kind: bytes, body: bytearray) -> None:
        """Take one message."""
        if kind == b"s" and self.spool is not None and self.head is not None:
            self.spool.add_message(body, planar=self.head.planar)
            self._check_length()
            return
        said = json.loads(body)
        if kind == b"h":
            self._begin(RecordingHead(**said))
        elif kind == b"g" and self.spool is not None:
            self.missing += said["samples"]
            self.spool.add_silence(said["samples"])
            self._check_length()
        elif kind == b"e":
            self.end = said
        elif kind == b"x":
            raise self._refused(said["why"], said["said"])

    def _begin(self, head: RecordingHead) -> None:
        """Check what the container says before any sample is taken."""
        if head.form not in FORMS:
            raise refusals.refusal(self.path, "no_decoder")
        if not 1 <= head.channels <= MOST_CHANNELS:
            raise refusals.odd_channels(self.path, head.channels)
        if head.keeps_promise and head.promised_s is not None and head.promised_s > LONGEST_S:
            raise refusals.too_long(self.path, head.promised_s)
        self.head, self.spool = head, Spool(head.form, head.channels)

    def _check_length(self) -> None:
        """Stop where a recording does not end; tell how far it is."""
        if self.head is None or self.spool is None:
            return
        done_s = self.spool.frames / max(self.head.rate_hz, 1)
        if done_s > LONGEST_S:
            raise refusals.too_long(self.path, done_s)
        if self.progress is not None and self.head.promised_s:
            self.progress(min(done_s / self.head.promised_s, 1.0))

    def _refused(self, why: str, said: str) -> UnreadableRecording:
        """Put the child's refusal into a sentence."""
        if why == "no_container":
            return refusals.no_container(self.path, self.head_bytes)
        return refusals.refusal(self.path, said if why == "no_audio" and said else why)

    def recording(self) -> Recording:
        """Hand over what came, without the encoder's lead-in."""
        if self.head is None or self.spool is None:
            raise refusals.refusal(self.path, "nothing_decoded")
        head = self.head
        drop, said = lead_in(head.container, head.codec, head.skipped, head.rate_hz)
        decoded_s = self.spool.frames / max(head.rate_hz, 1)
        warnings = [said] if said else []
        warnings += self._length_warnings(head, decoded_s)
        return Recording(self.spool.gathered(skip=drop), head.rate_hz, head.format, tuple(warnings))

    def _length_warnings(self, head: RecordingHead, decoded_s: float) -> list[str]:
        """Say what is missing: at the end, within, or broken."""
        warnings = []
        tolerance_s = _VIDEO_TOLERANCE_S if head.has_video else _LENGTH_TOLERANCE_S
        if head.keeps_promise and head.promised_s and decoded_s < head.promised_s - tolerance_s:
            warnings.append(cut_off(head.promised_s, decoded_s))
        elif self.end.get("broke_off"):
            warnings.append(f"damaged: nothing can be read beyond {decoded_s:.2f} s")
        if self.missing:
            warnings.append(
                f"{self.missing / head.rate_hz:.2f} s are missing: silence was put in their place"
            )
        if self.end.get("broken_packets"):
            warnings.append(f"{self.end['broken_packets']} broken packets were left out")
        if self.end.get("changed"):
            warnings.append("the sound changes its rate or channels on the way: only the first part is read")
        return warnings

    def close(self) -> None:
        """Drop what was gathered and not handed over."""
        if self.spool is not None:
            self.spool.close()
