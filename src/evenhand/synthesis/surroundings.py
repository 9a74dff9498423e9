"""Room, noise, talk, and what a recorder does to the sound.

Conventions: a take is float64 of shape (n,).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from evenhand.synthesis.instruments import NoiseColour, Room
from evenhand.synthesis.strokes import good_size

Floats = NDArray[np.float64]

SLOPES: Mapping[NoiseColour, float] = {"white": 0.0, "pink": 0.5, "brown": 1.0, "hum": 0.5}
PIECE, SWELLS = 1 << 16, 9
REFLECTIONS = 7
EARLIEST_S, LATEST_S = 0.0025, 0.028
MAINS_HZ = 50.0
AGC_BLOCK_S, AGC_RELEASE_S, AGC_MOST_DB, AGC_SLOPE = 0.005, 0.6, 18.0, 0.6


def reverberate(dry: Floats, room: Room, rate_hz: int, rng: np.random.Generator) -> Floats:
    """Add the room to a take: a few early reflections, then a tail that darkens.

    Parameters
    ----------
    dry
        The take, shape (n,).

    Returns
    -------
    Of shape (n,).
    """
    wet = _impulse(room, rate_hz, rng)
    n_fft = good_size(max(4 * len(wet), 1 << 15))
    step = n_fft - len(wet) + 1
    count = -(-len(dry) // step)
    padded = np.zeros(count * step)
    padded[: len(dry)] = dry
    spectrum = np.fft.rfft(wet, n_fft)
    out = np.zeros(count * step + n_fft)
    for i, piece in enumerate(padded.reshape(count, step)):  # overlap-add
        out[i * step : i * step + n_fft] += np.fft.irfft(np.fft.rfft(piece, n_fft) * spectrum, n_fft)
    return dry + out[: len(dry)]


def _impulse(room: Room, rate_hz: int, rng: np.random.Generator) -> Floats:
    """Draw the answer of a room to one instant, its energy ``wet_db`` of the dry sound's."""
    t = np.arange(max(round(1.1 * room.decay_s * rate_hz), round(0.04 * rate_hz))) / rate_hz
    tail = rng.standard_normal(len(t)) * 10 ** (-3 * t / room.decay_s) * np.clip(t / LATEST_S, 0, 1)
    dull = rng.standard_normal(len(t)) * 10 ** (-1.5 * t / room.decay_s) * np.clip(t / LATEST_S, 0, 1) ** 2
    tail = tail + np.convolve(dull, np.ones(8) / 8, mode="same") * 10 ** (-1.5 * t / room.decay_s)
    tail *= 1 / np.sqrt(np.sum(tail**2))
    early = np.zeros(len(t))
    at_s = np.sort(rng.uniform(EARLIEST_S, LATEST_S, REFLECTIONS))
    signs = rng.choice([-1.0, 1.0], REFLECTIONS)
    np.add.at(early, np.rint(at_s * rate_hz).astype(np.int64), signs * EARLIEST_S / at_s)
    early *= 0.7 / np.sqrt(np.sum(early**2))
    both = early + tail
    return np.asarray(both / np.sqrt(np.sum(both**2)) * 10 ** (room.wet_db / 20))


def noise(colour: NoiseColour, n: int, rate_hz: int, rng: np.random.Generator) -> Floats:
    """Draw background noise of RMS 1, shape (n,), slowly swelling by a decibel or so.

    Returns
    -------
    RMS 1, shape (n,).
    """
    sound = _coloured(SLOPES[colour], n, rate_hz, rng)
    if colour == "hum":
        sound += _hum(n, rate_hz, rng)
    sound *= np.interp(np.arange(n), np.linspace(0, n, SWELLS), 10 ** (rng.normal(0, 0.8, SWELLS) / 20))
    return np.asarray(sound / np.sqrt(np.mean(sound**2)))


def _coloured(slope: float, n: int, rate_hz: int, rng: np.random.Generator) -> Floats:
    """Draw noise whose amplitude falls with frequency to the power ``slope``, RMS about 1, shape (n,).

    Built in pieces that overlap by half a piece under a sine window: power stays even.
    """
    count = -(-n // PIECE) + 1
    hz = np.maximum(np.fft.rfftfreq(2 * PIECE, 1 / rate_hz), 20.0)
    shape = hz**-slope / np.sqrt(np.mean(hz ** (-2 * slope)))
    window = np.sin(np.pi * (np.arange(2 * PIECE) + 0.5) / (2 * PIECE))
    out = np.zeros((count + 1) * PIECE)
    for i in range(count):
        white = rng.standard_normal(2 * PIECE, dtype=np.float32)
        out[i * PIECE : (i + 2) * PIECE] += window * np.fft.irfft(np.fft.rfft(white) * shape, 2 * PIECE)
    return out[PIECE : PIECE + n]


def _hum(n: int, rate_hz: int, rng: np.random.Generator) -> Floats:
    t = np.arange(n) / rate_hz
    partials = [np.sin(2 * np.pi * MAINS_HZ * k * t + rng.uniform(0, 6)) / k for k in (1, 2, 3, 4, 6)]
    return np.asarray(np.sum(partials, axis=0))


def talk(seconds: float, rate_hz: int, rng: np.random.Generator) -> Floats:
    """Invent speech-like sound, peak 1: syllables of a buzzing voice or of hiss through formants.

    Returns
    -------
    Peak 1, shape (n,).
    """
    n = round(seconds * rate_hz)
    out = np.zeros(n)
    at = 0.0
    while at < seconds - 0.05:
        syllable = _syllable(min(rng.uniform(0.09, 0.28), seconds - at), rate_hz, rng)
        begin = round(at * rate_hz)
        syllable = syllable[: n - begin]
        out[begin : begin + len(syllable)] += syllable
        breath_s = rng.uniform(0.15, 0.4) if rng.random() < 0.2 else rng.uniform(0, 0.05)
        at += len(syllable) / rate_hz + breath_s
    return out / max(float(np.max(np.abs(out))), 1e-9)


def _syllable(seconds: float, rate_hz: int, rng: np.random.Generator) -> Floats:
    """Voice one syllable: a source, three formants, an envelope; one in four begins as hiss."""
    n = max(round(seconds * rate_hz), 8)
    t = np.arange(n) / rate_hz
    pitch_hz = rng.uniform(95, 210) * (1 + 0.1 * np.sin(2 * np.pi * rng.uniform(1, 3) * t))
    source = (np.cumsum(pitch_hz) / rate_hz) % 1.0 - 0.5
    formants = (rng.uniform(300, 750), rng.uniform(900, 2200), rng.uniform(2300, 3100))
    if rng.random() < 0.25:
        source, formants = rng.standard_normal(n), (2800.0, 4500.0, 6000.0)
    n_fft = good_size(n + round(0.03 * rate_hz))
    hz = np.fft.rfftfreq(n_fft, 1 / rate_hz)
    shape = np.sum([1 / (1 + ((hz - f) / (60 + 0.06 * f)) ** 2) for f in formants], axis=0)
    voiced = np.fft.irfft(np.fft.rfft(source, n_fft) * shape, n_fft)[:n]
    voiced /= max(float(np.max(np.abs(voiced))), 1e-9)
    envelope = np.minimum(t / 0.02, 1) * np.minimum((seconds - t) / 0.05, 1)
    return np.asarray(voiced * np.clip(envelope, 0, 1) * rng.uniform(0.3, 1.0))


def ride_gain(take: Floats, rate_hz: int) -> Floats:
    """Return the gain that an automatic recorder would set, shape (n,), 1 where it is loudest.

    It ducks at once and recovers over about half a second, so that soft parts come up.

    Parameters
    ----------
    take
        Of shape (n,).

    Returns
    -------
    Gain at each sample, shape (n,).
    """
    block = max(round(AGC_BLOCK_S * rate_hz), 1)
    count = -(-len(take) // block)
    padded = np.zeros(count * block)
    padded[: len(take)] = take
    heard = np.sqrt(np.mean(padded.reshape(count, block) ** 2, axis=1))
    keep = float(np.exp(-block / rate_hz / AGC_RELEASE_S))
    held, level = np.empty(count), 0.0
    for i, now in enumerate(heard):
        level = max(float(now), level * keep)
        held[i] = level
    wanted_db = -AGC_SLOPE * 20 * np.log10(np.maximum(held / np.max(held), 1e-6))
    gain = 10 ** (np.minimum(wanted_db, AGC_MOST_DB) / 20)
    return np.interp(np.arange(len(take)), (np.arange(count) + 0.5) * block, gain)
