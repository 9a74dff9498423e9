"""What a stroke sounds like: a stick on rubber or on a snare drum's head.

Conventions: ``velocity`` 0 to 1, shape (n_strokes,); rows have shape (n_strokes,
n_samples), any gain, the blow itself falling shortly after ``LEAD`` samples.

A force pulse of 3 to 6 ms (shorter when struck harder: brighter) drives decaying
modes; the contact adds a burst of noise, the wires under a snare drum a longer one.
Each stroke differs: where the head is met, how the stick meets it, how stiff.
Figures of the instruments are common practice, not measurements of a certain drum.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.exercise import Hand
from evenhand.sound.onset import good_size

Floats = NDArray[np.float64]
Instrument = Literal["pad", "snare", "ringing_snare"]

LEAD = 48  # samples of silence before the blow: room to move it by parts of a sample
BLOCK = 64  # decays are built as products of a coarse and a fine grid
HIGHEST_HZ, HIGHEST_SHARE = 15000.0, 0.36  # of a stroke's spectrum; share of the rate
FADE_SHARE = 0.2

# Overtones of an ideal circular membrane: zeros of Bessel functions over the first
# (j01 1, j11 1.593, j21 2.136, ...).
MEMBRANE = (1.0, 1.5933, 2.1355, 2.2954, 2.6531, 2.9173, 3.1555, 3.5001, 3.5985, 3.6475, 4.0589, 4.1317)
STICK_HZ: Mapping[Hand, tuple[float, ...]] = {"R": (1060.0, 2720.0, 4950.0), "L": (1125.0, 2860.0, 5230.0)}
STICK_DECAY_S = (0.0050, 0.0035, 0.0022)
STICK_DB = (-13.0, -15.0, -18.0)


@dataclass(frozen=True)
class Drum:
    """What is struck. Decays are times to 1/e of the amplitude; levels relative to the first mode."""

    modes_hz: tuple[float, ...]
    decays_s: tuple[float, ...]
    modes_db: tuple[float, ...]
    contact_db: float
    contact_s: float
    wires_db: float | None
    wires_s: float
    seconds: float


def _head(first_hz: float, decay_s: float, fall_db: float) -> dict[str, tuple[float, ...]]:
    return {
        "modes_hz": tuple(first_hz * ratio for ratio in MEMBRANE),
        "decays_s": tuple(decay_s / ratio**1.2 for ratio in MEMBRANE),
        "modes_db": tuple(-fall_db * (ratio - 1) for ratio in MEMBRANE),
    }


DRUMS: Mapping[Instrument, Drum] = {
    "pad": Drum(
        modes_hz=(228.0, 402.0, 655.0, 980.0, 1490.0, 2210.0, 3280.0, 4900.0),
        decays_s=(0.016, 0.014, 0.011, 0.009, 0.0065, 0.005, 0.004, 0.003),
        modes_db=(0.0, -1.0, 0.0, -2.0, -2.0, -4.0, -6.0, -9.0),
        contact_db=-10.0,
        contact_s=0.0035,
        wires_db=None,
        wires_s=0.0,
        seconds=0.16,
    ),
    "snare": Drum(
        **_head(186.0, 0.11, 4.0), contact_db=-9.0, contact_s=0.003, wires_db=-3.0, wires_s=0.055, seconds=0.4
    ),
    "ringing_snare": Drum(
        **_head(208.0, 0.6, 2.5), contact_db=-9.0, contact_s=0.003, wires_db=-5.0, wires_s=0.16, seconds=1.6
    ),
}


def synthesise(
    drum: Drum, velocity: Floats, right: NDArray[np.bool_], rate_hz: int, rng: np.random.Generator
) -> Floats:
    """Build one sound a stroke.

    Parameters
    ----------
    velocity
        How hard, 0 to 1, shape (n_strokes,). Sets contact time and brightness, not gain.
    right
        Whether the right stick struck, shape (n_strokes,).

    Returns
    -------
    Rows, shape (n_strokes, n_samples).
    """
    n = LEAD + round(drum.seconds * rate_hz)
    n_fft = good_size(n + round(0.012 * rate_hz))
    spectrum = np.fft.rfft(_modes(drum, velocity, right, rate_hz, n - LEAD, rng), n_fft)
    spectrum *= np.fft.rfft(_force(velocity, right, rate_hz, rng), n_fft)
    struck = np.fft.irfft(spectrum, n_fft)[:, : n - LEAD]
    noise = _noises(drum, velocity, rate_hz, n - LEAD, rng)
    peak = np.max(np.abs(struck), axis=1, keepdims=True)
    rows = np.zeros((len(velocity), n))
    rows[:, LEAD:] = struck / peak + noise
    return _soften(rows, rate_hz)


def _modes(
    drum: Drum,
    velocity: Floats,
    right: NDArray[np.bool_],
    rate_hz: int,
    n: int,
    rng: np.random.Generator,
) -> Floats:
    """Sum decaying modes with small random changes of pitch, decay and share, shape (n_strokes, n)."""
    stick = np.where(right[:, None], STICK_HZ["R"], STICK_HZ["L"])
    k, strokes = len(drum.modes_hz), len(velocity)
    jitter = rng.standard_normal((4, strokes, k + len(STICK_DB)))
    hz = np.concatenate([np.tile(drum.modes_hz, (strokes, 1)), stick], axis=1)
    hz = hz * (1 + 0.006 * jitter[0] + 0.01 * velocity[:, None])  # a head gives and tightens
    decay_s = np.array([*drum.decays_s, *STICK_DECAY_S]) * np.exp(0.12 * jitter[1])
    level_db = np.array([*drum.modes_db, *STICK_DB]) + 2.5 * jitter[2]
    level_db = level_db + 6 * (velocity[:, None] - 0.6) * np.log2(np.maximum(hz, 200) / 200) / 3
    gain = 10 ** (level_db / 20) * (hz < HIGHEST_SHARE * rate_hz)
    phase = 0.25 * jitter[3]
    return _decays(hz / rate_hz, 1 / (decay_s * rate_hz), gain, phase, n)


def _decays(cycles: Floats, damping: Floats, gain: Floats, phase: Floats, n: int) -> Floats:
    """Sum gain * exp(-damping t) * sin(2 pi cycles t + phase) over the last axis, t in samples.

    exp is split over a coarse and a fine grid of t, so that the sum is a matrix product.
    """
    pole = -damping + 2j * np.pi * cycles
    coarse = np.exp(pole[:, None, :] * (np.arange(-(-n // BLOCK)) * BLOCK)[None, :, None])
    coarse = coarse * (gain * np.exp(1j * phase))[:, None, :]
    fine = np.exp(pole[:, :, None] * np.arange(BLOCK)[None, None, :])
    left = np.concatenate([coarse.real, coarse.imag], axis=2)
    right = np.concatenate([fine.imag, fine.real], axis=1)
    return np.asarray((left @ right).reshape(len(cycles), -1)[:, :n])


def _force(velocity: Floats, right: NDArray[np.bool_], rate_hz: int, rng: np.random.Generator) -> Floats:
    """Shape the push of the stick: a quick rise, a slower fall, 6 to 3 ms in all."""
    jitter = np.exp(rng.standard_normal((2, len(velocity))) * np.array([[0.07], [0.22]]))
    hands = np.where(right, 0.97, 1.03)
    contact_s = ((6 - 3 * velocity) * 1e-3 * hands * jitter[0])[:, None]
    rise_s = np.minimum(((0.75 - 0.4 * velocity) * 1e-3 * hands * jitter[1])[:, None], 0.45 * contact_s)
    t = np.arange(round(0.009 * rate_hz))[None, :] / rate_hz
    rising = np.sin(np.pi / 2 * np.minimum(t / rise_s, 1)) ** 2
    falling = np.cos(np.pi / 2 * np.clip((t - rise_s) / (contact_s - rise_s), 0, 1)) ** 2
    return np.asarray(np.where(t < rise_s, rising, falling))


def _noises(drum: Drum, velocity: Floats, rate_hz: int, n: int, rng: np.random.Generator) -> Floats:
    """Add the noise of the contact and of the wires, each with an onset of its own."""
    strokes = len(velocity)
    jitter = rng.standard_normal((4, strokes, 1))
    t = np.arange(n)[None, :] / rate_hz
    hard = velocity[:, None]
    total = np.zeros((strokes, n))
    short = min(n, round(10 * drum.contact_s * rate_hz))
    rise_s = 0.0005 * np.exp(0.35 * jitter[0]) * (1.4 - 0.7 * hard)
    gain = 10 ** ((drum.contact_db + 6 * (hard - 0.7) + 2 * jitter[1]) / 20)
    total[:, :short] += gain * _burst(t[:, :short], rise_s, drum.contact_s, rng)
    if drum.wires_db is not None:
        late = max(round(0.0008 * rate_hz), 1)  # the bottom head answers a little later
        gain = 10 ** ((drum.wires_db + 1.5 * jitter[2]) / 20)
        rise_s = 0.0022 * np.exp(0.25 * jitter[3])
        total[:, late:] += gain * _burst(t[:, : n - late], rise_s, drum.wires_s * (0.7 + 0.4 * hard), rng)
    return total


def _burst(t: Floats, rise_s: Floats, decay_s: float | Floats, rng: np.random.Generator) -> Floats:
    """Return rising and decaying noise, its low end thinned out, about 1 at its peak."""
    white = rng.standard_normal((len(rise_s), t.shape[1]), dtype=np.float32)
    white[:, 1:] -= 0.6 * white[:, :-1]
    envelope = np.minimum(t / rise_s, 1) ** 2 * np.exp(-t / decay_s)
    return np.asarray(0.4 * white * envelope, np.float64)


def _soften(rows: Floats, rate_hz: int) -> Floats:
    """Round off what lies above the highest frequency and fade the end to nothing."""
    cut = min(HIGHEST_HZ, HIGHEST_SHARE * rate_hz) / rate_hz
    n_fft = good_size(rows.shape[1] + 64)
    z = np.exp(-2j * np.pi * np.arange(n_fft // 2 + 1) / n_fft)
    pole = np.exp(-2 * np.pi * cut)
    one = 0.5 * (1 - pole) * (1 + z) / (1 - pole * z)
    out = np.fft.irfft(np.fft.rfft(rows, n_fft) * one**2, n_fft)[:, : rows.shape[1]]
    tail = round(FADE_SHARE * rows.shape[1])
    out[:, -tail:] *= np.cos(np.linspace(0, np.pi / 2, tail)) ** 2
    return np.asarray(out)
