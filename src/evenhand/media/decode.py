"""Any recording, decoded in a child process: its messages become frames."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evenhand.errors import UnreadableRecording
from evenhand.media import refusals
from evenhand.media.decoder import Decoder, DecoderEnded, shared_decoder
from evenhand.media.lead_in import lead_in
from evenhand.media.recording import LONGEST_S, MOST_CHANNELS, Recording, cut_off
from evenhand.media.spool import Spool, TooLarge
from evenhand.media.stored import FORMS

Progress = Callable[[float], None]

_GUESSED_LENGTHS = {"aac", "loas", "mpegts", "mpeg", "flv", "amr", "asf"}  # these promise nothing exact
_LENGTH_TOLERANCE_S = 0.25
_VIDEO_TOLERANCE_S = 1.0  # a video's sound may rightly end before its picture
_NAMES = {"mov,mp4,m4a,3gp,3g2,mj2": "mp4", "matroska,webm": "webm"}


@dataclass(frozen=True, slots=True)
class Head:
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
        return f"{_NAMES.get(self.container, self.container)}/{self.codec}"

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
    except TooLarge:
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
        self.head: Head | None = None
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
            self._begin(Head(**said))
        elif kind == b"g" and self.spool is not None:
            self.missing += said["samples"]
            self.spool.add_silence(said["samples"])
            self._check_length()
        elif kind == b"e":
            self.end = said
        elif kind == b"x":
            raise self._refused(said["why"], said["said"])

    def _begin(self, head: Head) -> None:
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

    def _length_warnings(self, head: Head, decoded_s: float) -> list[str]:
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
