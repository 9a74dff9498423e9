"""What a stroke sounds like: a stick on rubber or on a snare drum's head.

Conventions: ``velocity`` 0 to 1, shape (n_strokes,); rows have shape (n_strokes,
n_samples), any gain, the blow itself falling shortly after ``LEAD`` samples.

A force pulse of 3 to 6 ms (shorter when struck harder: brighter) drives decaying
modes; the contact adds a burst of noise, the wires under a snare drum a longer one.
Each stroke differs: where the head is met, how the stick meets it, how stiff.

Where a stroke's sound starts, and how loud it is: the definitions, on dry sound.

Conventions: ``rows`` has shape (n_strokes, n_samples), one stroke alone a row. A start
is a place in samples, fractional, from the row's first sample.

- Start: first crossing of 1 % of the stroke's own peak after a 200 Hz second-order
  Butterworth highpass (causal), interpolated linearly between samples.
- Level: RMS of the first 10 ms from there, highpassed, in dB re full scale.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.synthesis.instruments import STICK_DB, STICK_DECAY_S, STICK_HZ, Drum

Spectra = NDArray[np.complex128]

HIGHPASS_HZ = 200.0
START_SHARE = 0.01
LEVEL_S = 0.010
SILENT = 1e-12


def biquad_highpass(cutoff_hz: float, rate_hz: float) -> tuple[Floats, Floats]:
    """Return numerator and denominator of a second-order Butterworth highpass (bilinear).

    Returns
    -------
    Numerator and denominator, each of shape (3,).
    """
    k = math.tan(math.pi * cutoff_hz / rate_hz)
    scale = 1 / (1 + math.sqrt(2) * k + k * k)
    b = np.array([scale, -2 * scale, scale])
    a = np.array([1.0, 2 * (k * k - 1) * scale, (1 - math.sqrt(2) * k + k * k) * scale])
    return b, a


def response(b: Floats, a: Floats, n_fft: int) -> Spectra:
    """Return a filter's frequency response at the bins of a real FFT.

    Parameters
    ----------
    b, a
        Numerator and denominator, shape (k,).

    Returns
    -------
    Of shape (n_fft // 2 + 1,).
    """
    z = np.exp(-2j * np.pi * np.arange(n_fft // 2 + 1) / n_fft)
    return np.asarray(np.polyval(b[::-1], z) / np.polyval(a[::-1], z), np.complex128)


def highpass_response(rate_hz: float, n_fft: int) -> Spectra:
    """Return the response of the highpass of the definitions.

    Returns
    -------
    Of shape (n_fft // 2 + 1,).
    """
    return response(*biquad_highpass(HIGHPASS_HZ, rate_hz), n_fft)


def starts(highpassed: Floats) -> Floats:
    """Find where each highpassed row first crosses 1 % of its peak, in samples.

    Parameters
    ----------
    highpassed
        One stroke a row, shape (n_strokes, n_samples).

    Returns
    -------
    Samples from the row's first, fractional, shape (n_strokes,).
    """
    size = np.abs(highpassed)
    threshold = START_SHARE * np.max(size, axis=1)
    first = np.argmax(size >= threshold[:, None], axis=1)
    row = np.arange(len(size))
    after, before = size[row, first], size[row, np.maximum(first - 1, 0)]
    step = np.maximum(after - before, SILENT)
    return np.where(first > 0, first - (after - threshold) / step, 0.0)


def levels_rms(highpassed: Floats, start: Floats, rate_hz: float) -> Floats:
    """Return the RMS of the first 10 ms from each start, linear.

    Parameters
    ----------
    highpassed, start
        One stroke a row, shape (n_strokes, n_samples), and where each starts, shape (n_strokes,).

    Returns
    -------
    Linear, shape (n_strokes,).
    """
    n = max(round(LEVEL_S * rate_hz), 1)
    first = np.ceil(start).astype(np.int64)
    at = np.minimum(first[:, None] + np.arange(n), highpassed.shape[1] - 1)
    window = np.take_along_axis(highpassed, at, axis=1)
    return np.asarray(np.sqrt(np.mean(window**2, axis=1)))


def to_db(rms: Floats) -> Floats:
    """Return decibels of linear amplitudes.

    Parameters
    ----------
    rms
        Linear amplitudes, any shape.

    Returns
    -------
    dB re 1, of the same shape.
    """
    return 20 * np.log10(np.maximum(rms, SILENT))


def good_size(n: int) -> int:
    """Return the next length that a real FFT is quick at (2^a 3^b 5^c).

    >>> good_size(1025)
    1080
    """
    best = 1 << (n - 1).bit_length()
    five = 1
    while five < best:
        three = five
        while three < best:
            whole = three * (1 << max((-(-n // three) - 1).bit_length(), 0))
            best = min(best, whole)
            three *= 3
        five *= 5
    return best


Floats = NDArray[np.float64]
AnyFloats = NDArray[np.floating]
Complexes = NDArray[np.complex128]

LEAD = 48  # samples of silence before the blow: room to move it by parts of a sample
BLOCK = 64  # decays are built as products of a coarse and a fine grid
FADED = 30.0  # in natural logarithms: a decay below that is nothing (and denormals are slow)
HIGHEST_HZ, HIGHEST_SHARE = 15000.0, 0.36  # of a stroke's spectrum; share of the rate
LONGEST_CONTACT_S = 0.009
FADE_SHARE, JOIN_SHARE = 0.2, 0.25
WIRES_LATE_S = 0.0008  # the bottom head answers a little later
SHORTEST_POOL = 1 << 15
RADIATION = 0.8


@dataclass(frozen=True)
class Rows:
    """Strokes, one a row: ``head`` with the start, and what rings on after it.

    ``tail`` (n_strokes, n_tail), possibly with no samples, begins ``tail_from`` samples
    after the head's first; the two are faded into each other.
    """

    head: Floats
    tail: NDArray[np.float32]
    tail_from: int


def split(rows: Floats, head: int) -> Rows:
    """Cut rows into a head of so many samples and a tail, faded into each other.

    Parameters
    ----------
    rows
        One stroke a row, shape (n_strokes, n_samples).
    """
    n = rows.shape[1]
    if n <= head:
        return Rows(rows, np.zeros((len(rows), 0), np.float32), n)
    join = join_length(head)
    first = rows[:, :head].copy()
    first[:, -join:] *= fade_out(join)
    rest = rows[:, head - join :].astype(np.float32)
    rest[:, :join] *= 1 - fade_out(join).astype(np.float32)
    return Rows(first, rest, head - join)


def join_length(head: int) -> int:
    """Return over how many samples a head of that length fades into its tail."""
    return round(JOIN_SHARE * head)


def fade_out(n: int) -> Floats:
    """Return a squared cosine from 1 to 0.

    Returns
    -------
    Of shape (n,).
    """
    return np.cos(np.linspace(0, np.pi / 2, n)) ** 2


def synthesise(
    drum: Drum, velocity: Floats, right: NDArray[np.bool_], rate_hz: int, rng: np.random.Generator
) -> Rows:
    """Build one sound a stroke.

    Parameters
    ----------
    velocity
        How hard, 0 to 1, shape (n_strokes,). Sets contact time and brightness, not gain.
    right
        Whether the right stick struck, shape (n_strokes,).

    Returns
    -------
    Rows
        Heads and tails, n_strokes of each.
    """
    n, head = round(drum.seconds * rate_hz), round(drum.head_s * rate_hz)
    modes = _modes(drum, velocity, right, rate_hz, rng)
    force = _force(velocity, right, rate_hz, drum.quickness, rng)
    struck = _convolve(modes.sound(0, head), force)
    size = 1 / np.max(np.abs(struck), axis=1, keepdims=True)
    wires = _Wires.draw(drum, velocity, rng)
    noise = _contact(drum, velocity, rate_hz, head, rng)
    if wires is not None:
        noise += wires.sound(0, head, rate_hz, rng)
    rows = np.zeros((len(velocity), LEAD + head))
    rows[:, LEAD:] = struck * size + noise
    rows = _soften(rows, rate_hz)
    if n <= head:
        rows[:, -round(FADE_SHARE * head) :] *= fade_out(round(FADE_SHARE * head))
        return Rows(rows, np.zeros((len(velocity), 0), np.float32), LEAD + head)
    join = join_length(head)
    rows[:, -join:] *= fade_out(join)
    tail = modes.driven(force).scaled(size).lasting(head / 6).sound(head - join, n, np.float32)
    if wires is not None:
        tail += wires.sound(head - join, n, rate_hz, rng)
    tail[:, :join] *= (1 - fade_out(join)).astype(np.float32)
    fade = round(FADE_SHARE * n)
    tail[:, -fade:] *= fade_out(fade).astype(np.float32)
    return Rows(rows, tail.astype(np.float32, copy=False), LEAD + head - join)


@dataclass(frozen=True)
class _Modes:
    """Decaying sines: ``pole`` a sample and complex ``gain``, each of shape (n_strokes, n_modes)."""

    pole: Complexes
    gain: Complexes

    def sound(self, begin: int, end: int, kind: type[np.floating] = np.float64) -> AnyFloats:
        """Sum the sines over samples begin to end, shape (n_strokes, end - begin).

        The exponential is split over a coarse and a fine grid, so that the sum is a matrix product.
        """
        at = begin + np.arange(-(-(end - begin) // BLOCK)) * BLOCK
        power = self.pole[:, None, :] * at[None, :, None]
        coarse = np.exp(np.maximum(power.real, -2 * FADED) + 1j * power.imag) * (power.real > -FADED)
        coarse = coarse * self.gain[:, None, :]
        fine = np.exp(self.pole[:, :, None] * np.arange(BLOCK)[None, None, :])
        left = np.concatenate([coarse.real, coarse.imag], axis=2).astype(kind)
        right = np.concatenate([fine.imag, fine.real], axis=1).astype(kind)
        return np.asarray((left @ right).reshape(len(self.pole), -1)[:, : end - begin])

    def driven(self, force: Floats) -> _Modes:
        """Return the modes as they ring once the force is over."""
        back = np.exp(-self.pole[:, :, None] * np.arange(force.shape[1])[None, None, :])
        return _Modes(self.pole, self.gain * np.einsum("smk,sk->sm", back, force))

    def scaled(self, size: Floats) -> _Modes:
        """Return the modes at another size, shape (n_strokes, 1)."""
        return _Modes(self.pole, self.gain * size)

    def lasting(self, samples: float) -> _Modes:
        """Keep the modes that take longer than so many samples to fall to 1/e."""
        keep = np.min(-self.pole.real, axis=0) < 1 / samples
        return _Modes(self.pole[:, keep], self.gain[:, keep])


def _modes(
    drum: Drum, velocity: Floats, right: NDArray[np.bool_], rate_hz: int, rng: np.random.Generator
) -> _Modes:
    """Draw each stroke's modes: small random changes of pitch, decay and share."""
    stick = np.where(right[:, None], STICK_HZ["R"], STICK_HZ["L"])
    k, strokes = len(drum.modes_hz), len(velocity)
    jitter = rng.standard_normal((4, strokes, k + len(STICK_DB)))
    hz = np.concatenate([np.tile(drum.modes_hz, (strokes, 1)), stick], axis=1)
    hz = hz * (1 + 0.006 * jitter[0] + 0.01 * velocity[:, None])  # a head gives and tightens
    decay_s = np.array([*drum.decays_s, *STICK_DECAY_S]) * np.exp(0.12 * jitter[1])
    level_db = np.array([*drum.modes_db, *STICK_DB]) + 2.5 * jitter[2]
    level_db = level_db + 6 * (velocity[:, None] - 0.6) * np.log2(np.maximum(hz, 200) / 200) / 3
    gain = 10 ** (level_db / 20) * (hz < HIGHEST_SHARE * rate_hz)
    # What is heard is the head's acceleration: a quarter turn on, and more of the high modes.
    gain = gain * (hz / hz[:, :1]) ** RADIATION
    pole = -1 / (decay_s * rate_hz) + 2j * np.pi * hz / rate_hz
    return _Modes(pole, gain * np.exp(1j * (np.pi / 2 + drum.turn_rad + 0.25 * jitter[3])))


def _force(
    velocity: Floats, right: NDArray[np.bool_], rate_hz: int, quickness: float, rng: np.random.Generator
) -> Floats:
    """Shape the push of the stick: a quick rise, a slower fall, 6 to 3 ms in all."""
    jitter = np.exp(rng.standard_normal((2, len(velocity))) * np.array([[0.07], [0.22]]))
    hands = np.where(right, 0.97, 1.03)
    contact_s = ((6 - 3 * velocity) * 1e-3 * hands * jitter[0])[:, None]
    rise_s = ((0.75 - 0.4 * velocity) * 1e-3 / quickness * hands * jitter[1])[:, None]
    rise_s = np.minimum(rise_s, 0.45 * contact_s)
    t = np.arange(round(LONGEST_CONTACT_S * rate_hz))[None, :] / rate_hz
    rising = np.sin(np.pi / 2 * np.minimum(t / rise_s, 1)) ** 2
    falling = np.cos(np.pi / 2 * np.clip((t - rise_s) / (contact_s - rise_s), 0, 1)) ** 2
    return np.asarray(np.where(t < rise_s, rising, falling))


def _convolve(rows: AnyFloats, force: Floats) -> Floats:
    n_fft = good_size(rows.shape[1] + force.shape[1])
    both = np.fft.rfft(rows, n_fft) * np.fft.rfft(force, n_fft)
    return np.asarray(np.fft.irfft(both, n_fft)[:, : rows.shape[1]])


def _contact(drum: Drum, velocity: Floats, rate_hz: int, n: int, rng: np.random.Generator) -> Floats:
    """Return the noise of stick on head, shape (n_strokes, n)."""
    jitter = rng.standard_normal((2, len(velocity), 1))
    hard = velocity[:, None]
    rise_s = 0.0005 * np.exp(0.35 * jitter[0]) * (1.4 - 0.7 * hard)
    gain = 10 ** ((drum.contact_db + 6 * (hard - 0.7) + 2 * jitter[1]) / 20)
    out = np.zeros((len(velocity), n))
    short = min(n, round(10 * drum.contact_s * rate_hz))
    t = np.arange(short)[None, :] / rate_hz
    out[:, :short] = gain * np.minimum(t / rise_s, 1) ** 2 * np.exp(-t / drum.contact_s)
    out[:, :short] *= _noise(drum.contact_hz, (len(velocity), short), rate_hz, rng)
    return out


@dataclass(frozen=True)
class _Wires:
    """The wires under a snare drum: how loud, how quick to speak, how long, each (n_strokes, 1)."""

    band_hz: tuple[float, float]
    gain: Floats
    rise_s: Floats
    decay_s: Floats

    @classmethod
    def draw(cls, drum: Drum, velocity: Floats, rng: np.random.Generator) -> _Wires | None:
        if drum.wires_db is None:
            return None
        jitter = rng.standard_normal((2, len(velocity), 1))
        gain = 10 ** ((drum.wires_db + 1.5 * jitter[0]) / 20)
        decay_s = drum.wires_s * (0.7 + 0.4 * velocity[:, None])
        return cls(drum.wires_hz, gain, 0.0022 * np.exp(0.25 * jitter[1]), decay_s)

    def sound(self, begin: int, end: int, rate_hz: int, rng: np.random.Generator) -> NDArray[np.float32]:
        """Return the wires' noise over samples begin to end after the blow."""
        t = np.maximum(np.arange(begin, end) / rate_hz - WIRES_LATE_S, 0).astype(np.float32)
        hiss = _noise(self.band_hz, (len(self.gain), end - begin), rate_hz, rng)
        hiss *= np.exp(t * (-1 / self.decay_s).astype(np.float32))
        speaking = t[None, : np.searchsorted(t, np.max(self.rise_s))]
        hiss[:, : speaking.shape[1]] *= np.minimum(speaking / self.rise_s, 1) ** 2
        hiss *= self.gain.astype(np.float32)
        return hiss


def _noise(
    band_hz: tuple[float, float], shape: tuple[int, int], rate_hz: int, rng: np.random.Generator
) -> NDArray[np.float32]:
    """Return noise of a band, RMS 1: rows of one long draw, each from a random place."""
    strokes, n = shape
    low, high = band_hz
    size = max(SHORTEST_POOL, 1 << (4 * n - 1).bit_length())
    hz = np.fft.rfftfreq(size, 1 / rate_hz)
    # Slopes of 12 dB an octave below the band and above it.
    gain = (hz / low) ** 2 / (1 + (hz / low) ** 2) / (1 + (hz / high) ** 2)
    pool = np.fft.irfft(np.fft.rfft(rng.standard_normal(size, dtype=np.float32)) * gain, size)
    pool = (pool / np.sqrt(np.mean(pool**2))).astype(np.float32)
    round_and_on = np.concatenate([pool, pool[:n]])
    return np.stack([round_and_on[begin : begin + n] for begin in rng.integers(0, size, strokes)])


def _soften(rows: Floats, rate_hz: int) -> Floats:
    """Round off what lies above the highest frequency (two real poles, two zeros at the top)."""
    cut = min(HIGHEST_HZ, HIGHEST_SHARE * rate_hz) / rate_hz
    n_fft = good_size(rows.shape[1] + 64)
    z = np.exp(-2j * np.pi * np.arange(n_fft // 2 + 1) / n_fft)
    pole = np.exp(-2 * np.pi * cut)
    one = 0.5 * (1 - pole) * (1 + z) / (1 - pole * z)
    return np.asarray(np.fft.irfft(np.fft.rfft(rows, n_fft) * one**2, n_fft)[:, : rows.shape[1]])
