"""How loud a track is: integrated loudness and true peak as ITU-R BS.1770-4 defines them.

Conventions: frames are floats, full scale 1, shape (n, channels); loudness in LUFS, peaks in dBTP (dB re full
scale, between the samples too). The weighting is `evenhand.media.loudness`'s; the true peak is read between
the samples from a spectrum four times as long.

A long track is walked in pieces. Blocks of 400 ms begin every 100 ms, so pieces that begin on a block give
the same blocks as the whole; each begins a little ahead, for the filters to settle.

The weighting of ITU-R BS.1770-4: what a sound weighs to an ear, as two filters one after the other.

Conventions: frames are floats, shape (n, channels).

The standard gives its coefficients for 48 kHz only. Both filters are second-order sections of analogue shapes
(a high shelf for the head, a high-pass for the low end) brought to a sampling rate by the bilinear transform;
the shapes' figures are De Man's, "Evaluation of implementations of the EBU R128 loudness measurement",
AES Convention 145 (2018), and give the standard's coefficients at 48 kHz to 1e-9 (a test holds them to it).

The filters are applied in the frequency domain: what rings on after the end falls into the silence put there.
The slower one, a high-pass at 38 Hz, has rung down by 120 dB in less than `RINGS_S`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

SHELF_HZ, SHELF_DB, SHELF_Q = 1681.9744509555319, 3.99984385397, 0.7071752369554193
SHELF_MIDDLE = 0.499666774155  # the part of its gain, in dB, that the shelf has at its own frequency
HIGH_PASS_HZ, HIGH_PASS_Q = 38.13547087613982, 0.5003270373253953
RINGS_S = 0.2


def sections(rate_hz: int) -> Floats:
    """Return both filters at a rate.

    Returns
    -------
    Rows of b0, b1, b2, a0, a1, a2, shape (2, 6); the shapes' figures are De Man's (above).
    """
    k = np.tan(np.pi * SHELF_HZ / rate_hz)
    top = 10 ** (SHELF_DB / 20)
    middle = top**SHELF_MIDDLE
    shelf = [top + middle * k / SHELF_Q + k * k, 2 * (k * k - top), top - middle * k / SHELF_Q + k * k]
    low = np.tan(np.pi * HIGH_PASS_HZ / rate_hz)
    return np.array(
        [
            [*np.array(shelf) / _poles(k, SHELF_Q)[0], *_poles(k, SHELF_Q) / _poles(k, SHELF_Q)[0]],
            [1.0, -2.0, 1.0, *_poles(low, HIGH_PASS_Q) / _poles(low, HIGH_PASS_Q)[0]],
        ]
    )


def _poles(k: float, q: float) -> Floats:
    return np.array([1 + k / q + k * k, 2 * (k * k - 1), 1 - k / q + k * k])


def weighted(frames: Floats, rate_hz: int) -> Floats:
    """Return frames as the standard weighs them.

    Parameters
    ----------
    frames
        Full scale 1, shape (n, channels).

    Returns
    -------
    Of shape (n, channels), weighted by ITU-R BS.1770-4.
    """
    n = len(frames)
    length = _quick_length(n + round(RINGS_S * rate_hz))
    spectrum = np.fft.rfft(frames, length, axis=0) * _response(length, rate_hz)[:, None]
    return np.asarray(np.fft.irfft(spectrum, length, axis=0)[:n])


def _response(length: int, rate_hz: int) -> NDArray[np.complex128]:
    """Return what both filters do to each frequency of a spectrum, shape (length // 2 + 1,)."""
    back = np.exp(-2j * np.pi * np.arange(length // 2 + 1) / length)  # one sample's delay
    powers = np.stack([np.ones_like(back), back, back * back])
    parts = sections(rate_hz)
    return np.asarray(np.prod((parts[:, :3] @ powers) / (parts[:, 3:] @ powers), axis=0))


def _quick_length(n: int) -> int:
    """Return the smallest length from n up that is quick to transform: 1, 3 or 5 times a power of two."""
    return min(part << (-(-n // part) - 1).bit_length() for part in (1, 3, 5))


Frames = NDArray[np.float32]
Floats = NDArray[np.float64]

HOPS_IN_BLOCK, HOPS_A_SECOND = 4, 10
PIECE_HOPS, AHEAD_HOPS = 600, 10
OFFSET_LU, ABSOLUTE_GATE_LUFS, RELATIVE_GATE_LU = -0.691, -70.0, -10.0
OVERSAMPLED, PEAK_FRAMES, PEAK_LAP = 4, 4096, 128
WORTH_A_LOOK = 0.5  # of the highest sample so far: what lies lower holds no higher peak between its samples
SILENT = 1e-10


class Readable(Protocol):
    """A track that gives any of its frames, shape (n, channels)."""

    @property
    def frames(self) -> int:
        """How many frames there are."""
        ...

    @property
    def rate_hz(self) -> int:
        """Frames a second."""
        ...

    @property
    def channels(self) -> int:
        """How many channels a frame has."""
        ...

    def read(self, start: int, stop: int) -> Frames:
        """Return the frames from start up to stop.

        Returns
        -------
        Full scale 1, shape (n, channels).
        """
        ...


@dataclass(frozen=True, slots=True)
class Loudness:
    """``integrated_lufs`` is None where there is nothing over -70 LUFS, or less than 400 ms."""

    integrated_lufs: float | None
    true_peak_dbtp: float


def loudness(track: Readable) -> Loudness:
    """Measure a track.

    Parameters
    ----------
    track
        One or two channels; the rate a multiple of 10 Hz.
    """
    return Loudness(_gated(_block_powers(track)), true_peak_dbtp(track))


def _block_powers(track: Readable) -> Floats:
    """Return the weighted mean square of every whole block of 400 ms, channels added, shape (n_blocks,)."""
    hop = track.rate_hz // HOPS_A_SECOND
    total = track.frames // hop - HOPS_IN_BLOCK + 1
    powers = [
        _powers(track, first, min(PIECE_HOPS, total - first), hop)
        for first in range(0, max(total, 0), PIECE_HOPS)
    ]
    return np.concatenate(powers) if powers else np.zeros(0)


def _powers(track: Readable, first: int, blocks: int, hop: int) -> Floats:
    """Return the power of so many blocks from one on."""
    ahead = min(first, AHEAD_HOPS)
    hops = blocks - 1 + HOPS_IN_BLOCK
    frames = track.read((first - ahead) * hop, (first + hops) * hop).astype(np.float64)
    if not frames.any():
        return np.zeros(blocks)
    heard = weighted(frames, track.rate_hz)[ahead * hop :]
    by_hop = np.square(heard).sum(axis=1).reshape(hops, hop).mean(axis=1)
    return np.asarray(np.convolve(by_hop, np.full(HOPS_IN_BLOCK, 1 / HOPS_IN_BLOCK), mode="valid"))


def _gated(powers: Floats) -> float | None:
    """Return the loudness of the blocks that pass both gates, equations 5 to 7 of the standard."""
    heard = powers[powers > _power(ABSOLUTE_GATE_LUFS)]
    if not heard.size:
        return None
    heard = heard[heard > float(heard.mean()) * 10 ** (RELATIVE_GATE_LU / 10)]
    return OFFSET_LU + 10 * math.log10(float(heard.mean()))


def _power(lufs: float) -> float:
    return float(10 ** ((lufs - OFFSET_LU) / 10))


def true_peak_dbtp(track: Readable) -> float:
    """Return the highest peak of any channel, between the samples too."""
    highest = SILENT
    for frames in _peak_pieces(track):
        samples = float(np.max(np.abs(frames), initial=0.0))
        if samples > WORTH_A_LOOK * highest:
            highest = max(highest, samples, _between(frames))
    return 20 * math.log10(highest)


def _peak_pieces(track: Readable) -> Iterator[Frames]:
    """Give pieces that overlap, so that no peak lies at an edge only; silence goes on beyond either end."""
    step = PEAK_FRAMES - 2 * PEAK_LAP
    span = 256 * step
    for start in range(0, track.frames, span):
        frames = track.read(max(start - PEAK_LAP, 0), start + span + PEAK_LAP)
        after = PEAK_LAP if start + span >= track.frames else 0
        frames = np.pad(frames, ((max(PEAK_LAP - start, 0), after), (0, 0)))
        for at in range(0, len(frames), step):
            yield frames[at : at + PEAK_FRAMES]


def _between(frames: Frames) -> float:
    """Return the highest value between the samples, from a spectrum four times as long.

    The ends are faded: a spectrum takes them for neighbours.
    """
    n = len(frames)
    lap = min(PEAK_LAP, n // 4)
    fade = np.sin(np.linspace(0, np.pi / 2, lap)) ** 2 if lap else np.zeros(0)
    window = np.concatenate([fade, np.ones(n - 2 * lap), fade[::-1]])
    spectrum = np.fft.rfft(frames * window[:, None], axis=0)
    dense = np.fft.irfft(spectrum, n * OVERSAMPLED, axis=0) * OVERSAMPLED
    return float(np.max(np.abs(dense)))
