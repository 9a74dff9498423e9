"""Recordings and MIDI files for tests, made byte by byte from the formats' own descriptions."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

BLOW_TIMES_S = (0.1, 0.35, 0.6, 0.85)


def blows(
    rate_hz: int = 48_000, seconds: float = 1.0, times_s: Sequence[float] = BLOW_TIMES_S, peak: float = 0.5
) -> NDArray[np.float32]:
    """Give short decaying bursts of noise at known times over a faint floor; shape (n,)."""
    rng = np.random.default_rng(7)
    samples = 1e-4 * rng.standard_normal(round(rate_hz * seconds))
    size = rate_hz // 20
    blow = rng.standard_normal(size) * np.exp(-np.arange(size) / (rate_hz / 200))
    blow[0] = 3.0  # a clear start
    for time_s in times_s:
        at = round(time_s * rate_hz)
        samples[at : at + size] += blow[: max(samples.size - at, 0)]
    scaled: NDArray[np.float32] = (peak * samples / np.abs(samples).max()).astype(np.float32)
    return scaled


def stored_s16(samples: NDArray[np.float32]) -> bytes:
    """Give samples as 16 bit whole numbers; shape (n,) or (n, n_channels)."""
    return np.round(samples * 32767).astype("<i2").tobytes()


def a_wav(
    data: bytes,
    *,
    rate_hz: int = 48_000,
    channels: int = 1,
    bits: int = 16,
    tag: int = 1,
    stated: int | None = None,
    before: bytes = b"",
    extensible: bool = False,
) -> bytes:
    """Give a WAV file: RIFF, a ``fmt`` chunk, other chunks, a ``data`` chunk (RIFF 1.0, 1991)."""
    align = channels * bits // 8
    first = 0xFFFE if extensible else tag
    fmt = struct.pack("<HHIIHH", first, channels, rate_hz, (rate_hz * align) & 0xFFFFFFFF, align, bits)
    if extensible:
        guid = struct.pack("<H", tag) + bytes.fromhex("000000001000800000aa00389b71")
        fmt += struct.pack("<HHI", 22, bits, 0) + guid
    stated = len(data) if stated is None else stated
    body = b"WAVE" + _chunk(b"fmt ", fmt) + before + b"data" + struct.pack("<I", stated) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


def _chunk(name: bytes, body: bytes) -> bytes:
    return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


def a_midi(*tracks: bytes, form: int = 0, division: int = 480) -> bytes:
    """Give a Standard MIDI File: header and tracks (MIDI 1.0, Standard MIDI Files)."""
    header = b"MThd" + struct.pack(">IHHH", 6, form, len(tracks), division & 0xFFFF)
    return header + b"".join(b"MTrk" + struct.pack(">I", len(track)) + track for track in tracks)


def ticks(number: int) -> bytes:
    """Write a time as MIDI does: seven bits a byte, the last without the top bit."""
    out = bytes([number & 0x7F])
    while number := number >> 7:
        out = bytes([0x80 | number & 0x7F]) + out
    return out


def note_on(after: int, note: int = 38, velocity: int = 100) -> bytes:
    """Give a note-on event of the drum channel, so many ticks after the one before."""
    return ticks(after) + bytes([0x99, note, velocity])


def tempo(after: int, microseconds: int) -> bytes:
    """Give a tempo event: microseconds a quarter note."""
    return ticks(after) + b"\xff\x51\x03" + microseconds.to_bytes(3, "big")


def end(after: int = 0) -> bytes:
    """Give the end of a track."""
    return ticks(after) + b"\xff\x2f\x00"


@dataclass(frozen=True, slots=True, eq=False)
class Plain:
    """Frames in memory as a track, shape (n, channels)."""

    samples: NDArray[np.float32]
    rate_hz: int

    @property
    def frames(self) -> int:
        """How many frames there are."""
        return len(self.samples)

    @property
    def channels(self) -> int:
        """How many channels a frame has."""
        return int(self.samples.shape[1])

    def read(self, start: int, stop: int) -> NDArray[np.float32]:
        """Return the frames from start up to stop."""
        return self.samples[start:stop]
