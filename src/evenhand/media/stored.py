"""Sound as it was stored, in memory or on disk, read as float32 by slices.

Conventions: a frame is one sample of every channel. Frames are stored interleaved, in one of the
forms of ``FORMS``; read, they are float32, full scale 1, shape (n_frames, n_channels).

A recording that was read: its frames, and what there is to say about them.
"""

from __future__ import annotations

import threading
import weakref
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

Raw = NDArray[np.generic]
Floats = NDArray[np.float32]

IN_MEMORY_SAMPLES = 30_000_000  # of all channels: as floats 120 MB, ten minutes at 48 kHz in mono
IN_MEMORY_BYTES = 64 << 20
BLOCK_SAMPLES = 1 << 18
BEYOND = 1e9  # a float sample beyond this is no sound; it is treated like one that is no number


@dataclass(frozen=True, slots=True)
class SampleForm:
    """How one sample is stored: bytes each, the numpy type, and how it becomes full scale 1."""

    size: int
    dtype: str
    to_float: Callable[[Raw], Floats]


def _scaled(bits: int) -> Callable[[Raw], Floats]:
    scale = np.float32(2.0 ** (1 - bits))

    def to_float(raw: Raw) -> Floats:
        floats: Floats = raw.astype(np.float32)
        floats *= scale
        return floats

    return to_float


def _from_s24(raw: Raw) -> Floats:
    """Put three bytes into the upper three of four."""
    wide = np.zeros((*raw.shape, 4), np.uint8)
    wide[..., 1:] = np.ascontiguousarray(raw).view(np.uint8).reshape(*raw.shape, 3)
    return _scaled(32)(wide.view("<i4")[..., 0])


def _from_u8(raw: Raw) -> Floats:
    return (raw.astype(np.float32) - np.float32(128)) / np.float32(128)


def _from_float(raw: Raw) -> Floats:
    with np.errstate(over="ignore", invalid="ignore"):  # what overflows becomes infinite, and is found later
        return raw.astype(np.float32, copy=False)


FORMS = {
    "u8": SampleForm(1, "u1", _from_u8),
    "s16": SampleForm(2, "<i2", _scaled(16)),
    "s24": SampleForm(3, "V3", _from_s24),
    "s32": SampleForm(4, "<i4", _scaled(32)),
    "flt": SampleForm(4, "<f4", _from_float),
    "dbl": SampleForm(8, "<f8", _from_float),
}


@dataclass(frozen=True, slots=True, eq=False)
class Stored:
    """Frames in memory: ``raw`` of shape (frames, channels) in a form."""

    form: str
    raw: Raw

    @property
    def frames(self) -> int:
        """How many frames there are."""
        return int(self.raw.shape[0])

    @property
    def channels(self) -> int:
        """How many channels a frame has."""
        return int(self.raw.shape[1])

    def read(self, start: int, stop: int, channel: int | None = None) -> Floats:
        """Read frames: one channel, or all.

        Returns
        -------
        Full scale 1, of shape (n,) for one channel, (n, channels) for all.
        """
        raw = self.raw[start:stop] if channel is None else self.raw[start:stop, channel]
        return FORMS[self.form].to_float(raw)


class OnDisk:
    """Frames in an open file, from a byte offset on. The file is closed with the last reader."""

    def __init__(self, file: BinaryIO, form: str, *, channels: int, frames: int, offset: int = 0) -> None:
        self.form, self.channels, self.frames = form, channels, frames
        self._file, self._offset = file, offset
        self._lock = threading.Lock()
        weakref.finalize(self, file.close)

    def read(self, start: int, stop: int, channel: int | None = None) -> Floats:
        """Read frames: one channel, or all.

        Returns
        -------
        Full scale 1, of shape (n,) for one channel, (n, channels) for all; fewer where the file ends.
        """
        if channel is None or self.channels == 1:
            frames = self._read(start, stop)
            return frames if channel is None else frames[:, 0]
        step = max(BLOCK_SAMPLES // self.channels, 1)
        parts = [self._read(at, min(at + step, stop))[:, channel] for at in range(start, stop, step)]
        return np.concatenate(parts) if parts else np.zeros(0, np.float32)

    def _read(self, start: int, stop: int) -> Floats:
        """Read all channels at once, as many frames as there are."""
        form = FORMS[self.form]
        frame_bytes = form.size * self.channels
        with self._lock:
            self._file.seek(self._offset + start * frame_bytes)
            got = self._file.read(max(stop - start, 0) * frame_bytes)
        whole = len(got) // frame_bytes
        return form.to_float(
            np.frombuffer(got, form.dtype, whole * self.channels).reshape(whole, self.channels)
        )


Source = Stored | OnDisk


def fits_memory(form: str, samples: int) -> bool:
    """Tell whether so many samples, of all channels, may be held in memory."""
    return samples <= IN_MEMORY_SAMPLES and samples * FORMS[form].size <= IN_MEMORY_BYTES


def in_floats(source: Source) -> Source:
    """Turn frames in memory into floats once, each channel in one piece; leave those on disk."""
    if not isinstance(source, Stored):
        return source
    if source.channels == 1:
        return Stored("flt", source.read(0, source.frames))
    planes = np.empty((source.channels, source.frames), np.float32)
    for channel, plane in enumerate(planes):
        plane[:] = source.read(0, source.frames, channel)
    return Stored("flt", planes.T)


def walk(source: Source, block: int = BLOCK_SAMPLES) -> Iterator[Floats]:
    """Give all channels block by block.

    Returns
    -------
    Blocks of shape (n_frames, n_channels), full scale 1.
    """
    frames = max(block // source.channels, 1)
    for start in range(0, source.frames, frames):
        yield source.read(start, min(start + frames, source.frames))


def broken(samples: Floats) -> NDArray[np.bool_]:
    """Mark samples that are no number, infinite, or beyond all sound.

    Parameters
    ----------
    samples
        Full scale 1, any shape.

    Returns
    -------
    True where broken, of the same shape.
    """
    return ~(np.abs(samples) <= BEYOND)


def repaired(samples: Floats) -> Floats:
    """Put a straight line from neighbour to neighbour where samples are broken.

    Parameters
    ----------
    samples
        Full scale 1, shape (n,).

    Returns
    -------
    Of shape (n,); the same array where nothing is broken.
    """
    bad = broken(samples)
    if not bad.any():
        return samples
    good = np.flatnonzero(~bad)
    if good.size == 0:
        return np.zeros_like(samples)
    fixed = samples.copy()
    fixed[bad] = np.interp(np.flatnonzero(bad), good, samples[good])
    return fixed


class LongSamples:
    """One channel of a long take: slices are read from disk when they are asked for."""

    dtype = np.dtype(np.float32)
    ndim = 1

    def __init__(self, source: Source, channel: int, *, mend: bool = False) -> None:
        self._source, self._channel, self._mend = source, channel, mend

    def __len__(self) -> int:
        return self._source.frames

    @property
    def size(self) -> int:
        """How many samples there are."""
        return len(self)

    @property
    def shape(self) -> tuple[int]:
        """The shape an array of them would have."""
        return (len(self),)

    def __getitem__(self, key: slice, /) -> Floats:
        start, stop, step = key.indices(len(self))
        if step != 1:
            return self[:][key]
        samples = self._source.read(start, max(start, stop), self._channel)
        return repaired(samples) if self._mend else samples

    def __array__(self, dtype: np.dtype[np.generic] | None = None, copy: bool | None = None) -> Raw:  # noqa: FBT001 - numpy's own form
        if copy is False:
            raise ValueError("a long take lies on disk: an array of it is always a copy")
        return self[:].astype(dtype or self.dtype, copy=False)


LONGEST_S = 3 * 3600
SHORTEST_S = 0.3
MOST_CHANNELS = 8
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000, 192_000


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """All channels as stored, before one is chosen. ``format`` is container/codec."""

    source: Source
    rate_hz: int
    format: str
    warnings: tuple[str, ...] = ()

    @property
    def duration_s(self) -> float:
        """Seconds of sound."""
        return self.source.frames / self.rate_hz


def cut_off(promised_s: float, there_s: float) -> str:
    """Say that a file holds less than it promises."""
    return f"cut off: the file promises {promised_s:.2f} s and holds {there_s:.2f} s"
