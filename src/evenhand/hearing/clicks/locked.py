"""Find a click that never sounds alone: one that lies under a stroke at every beat.

Where the beat is known, the take is folded at it. What a click sounds like at a moment of the beat is the
same at every beat, phase and all; a hand's strokes wander by a good part of a wave's length, and their
phases cancel. So the phases of short spectra are added up over the beats, for periods near the one given.

Conventions: times in seconds from the first sample; spectra shape (n_beats, n_frames, n_bins).
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from evenhand.arrays import Floats, Indices, Singles, median
from evenhand.hearing.clicks.presence import beat_evidence, sounding
from evenhand.hearing.clicks.sound import (
    CUT_BEFORE_S,
    CUT_S,
    MATCH_S,
    Cutter,
    HeardClick,
    heard_click,
    likeness,
    match,
    pieces_at,
)
from evenhand.hearing.onsets.bands import quick_length, rows
from evenhand.take import Samples

_WINDOW_S, _HOP_S = 0.012, 0.006
_MARK_S = 0.004  # into the window that agrees best: a click begins within two milliseconds of it
_LOWEST_HZ, _HIGHEST_HZ = 700.0, 4500.0
_SMOOTH_S = 0.001
_ALIKE, _BARE = 0.95, 3  # so alike are sounds that no stroke lies on, and so many are enough
_OFF = 250e-6  # how far the period may be off the one given
_CHANCE = 3.0  # power over the mean of phases by chance, below which a bin says nothing
_CERTAIN = 50.0  # the sum of what is over that: takes without a click stay below 28
_FEWEST, _MOST = 8, 400  # beats
_FRAMES_AT_ONCE = 8  # of a beat, at which phases are looked at: bounds memory
_NOTHING = 0.02  # of the energy; a click that sounds alone so often is found as such
_AGREED = 0.5  # so well must the beats of a click agree in the mean
_SCATTER = 0.25  # of a beat's agreement
_SHOWS = 0.5  # share of the beats at which it must sound


class _Lock(NamedTuple):
    """A period and a moment of it just ahead of where phases agree; how far each beat does, -1 to 1."""

    beat_s: float
    moment_s: float
    agreement: Floats


def find_locked(samples: Samples, rate_hz: int, beat_s: float) -> HeardClick | None:
    """Find a click that goes through the take at a known beat, under the strokes; None where there is none.

    Parameters
    ----------
    samples : shape (n,), mono, full scale 1.0
    beat_s : the beat asked for
    """
    lock = _locked(samples, rate_hz, beat_s)
    if lock is None:
        return None
    beats = _run(lock.agreement)
    if len(beats) < max(_FEWEST, _SHOWS * len(lock.agreement)) or lock.agreement[beats].mean() < _AGREED:
        return None
    cut = Cutter(samples, rate_hz)
    beats, marks = _inside(lock, beats, samples, rate_hz)
    sound = sound_under_strokes(cut, marks)[None, :]
    if _leaves_nothing(cut, marks, sound[0]):
        return None
    by_phase = _agreement_nats(lock.agreement[beats])
    there = sounding(np.maximum(beat_evidence(cut, marks, sound).nats, by_phase))  # silent where both say so
    if there.sum() >= _FEWEST and not there.all():
        marks = marks[there]
        sound = sound_under_strokes(cut, marks)[None, :]
    _, gains, kinds, fits = match(cut, marks, sound)
    seen = zip(marks.tolist(), np.where(fits, np.clip(gains, 0, 1), 0).tolist(), kinds.tolist(), strict=True)
    heard = heard_click(seen, (lock.beat_s, float(marks[0])), sound, rate_hz)
    return replace(heard, through=True)


def _inside(lock: _Lock, beats: Indices, samples: Samples, rate_hz: int) -> tuple[Indices, Floats]:
    """Return those beats whose sounds the take holds whole, and their marks."""
    marks_s = np.asarray(lock.moment_s + lock.beat_s * beats, dtype=np.float64)
    whole = (marks_s + CUT_S < len(samples) / rate_hz) & (marks_s > CUT_BEFORE_S + 0.001)
    return beats[whole], marks_s[whole]


def _leaves_nothing(cut: Cutter, marks_s: Floats, sound: Singles) -> bool:
    """Tell whether taking a sound out takes all there is at most beats: then a machine plays the drum."""
    body = slice(0, int((CUT_BEFORE_S + MATCH_S) * cut.rate_hz))
    pieces, pattern = pieces_at(cut, marks_s)[:, body], sound[body]
    gains = pieces @ pattern / (pattern @ pattern + 1e-12)
    left = ((pieces - gains[:, None] * pattern) ** 2).sum(axis=1) / ((pieces**2).sum(axis=1) + 1e-12)
    return median(left) < _NOTHING


def sound_under_strokes(cut: Cutter, marks_s: Floats) -> Singles:
    """Return the mean sound at marks, those counting more that hold less besides; what differs is cut.

    Where a few are alike, no stroke lies on them, and they are enough.
    The weight of a moment is Wiener's: its power over that and what the mean still holds of strokes.

    Parameters
    ----------
    marks_s : shape (n_marks,), seconds

    Returns
    -------
    shape (length,), highpassed
    """
    pieces = pieces_at(cut, marks_s)
    alike = likeness(pieces[:, : int((CUT_BEFORE_S + MATCH_S) * cut.rate_hz)]) > _ALIKE
    bare = alike[alike.sum(axis=1).argmax()]
    if bare.sum() >= _BARE:
        pieces = pieces[bare]
    weight = 1 / ((pieces**2).mean(axis=1) + 1e-14)
    weight /= weight.sum()
    mean = weight @ pieces
    smooth = np.ones(int(_SMOOTH_S * cut.rate_hz))
    left = np.convolve(weight**2 @ (pieces - mean) ** 2, smooth, mode="same")
    power = np.convolve(mean.astype(np.float64) ** 2, smooth, mode="same") + 1e-16
    shown = np.clip(1 - 2 * left / power, 0, 1)
    return np.asarray(mean * shown / (shown.max() + 1e-9), dtype=np.float32)


def _locked(samples: Samples, rate_hz: int, beat_s: float) -> _Lock | None:
    """Find the period and the moment at which phases agree best, if they agree beyond chance."""
    n_beats = int((len(samples) / rate_hz - _WINDOW_S) / beat_s)
    if not _FEWEST <= n_beats <= _MOST:
        return None
    phases, bins_hz = _phases(samples, rate_hz, beat_s, n_beats)
    size = quick_length(2 * n_beats)
    step_s = 0.5 / (_HIGHEST_HZ * n_beats)
    n_steps = int(_OFF * beat_s / step_s) + 1
    later_s = np.arange(-n_steps, n_steps + 1) * step_s  # of a period longer by this
    turns = np.round(-later_s[:, None] * bins_hz * size).astype(np.intp) % size
    frames = range(0, phases.shape[1], _FRAMES_AT_ONCE)
    score = np.hstack([_scores(phases[:, at : at + _FRAMES_AT_ONCE], turns, size) for at in frames])
    which, frame = np.unravel_index(int(score.argmax()), score.shape)
    if score[which, frame] < _CERTAIN:
        return None
    late_s = _finer(phases[:, frame], bins_hz, float(later_s[which]), step_s)
    turned = _turned(phases[:, frame], bins_hz, late_s)
    mean = turned.mean(axis=0)
    weight = np.maximum(np.abs(mean) ** 2 * n_beats - _CHANCE, 0)
    agreement = (turned * np.conj(mean / (np.abs(mean) + 1e-12))).real @ weight / (weight.sum() + 1e-12)
    return _Lock(beat_s + late_s, frame * _HOP_S + _MARK_S, agreement)


def _scores(phases: NDArray[np.complex64], turns: Indices, size: int) -> Singles:
    """Return how far the phases of some frames agree at each period, shape (n_periods, n_frames)."""
    power = np.fft.fft(phases, size, axis=0)
    agreed = power.real**2
    agreed += power.imag**2
    agreed /= len(phases)
    agreed -= _CHANCE
    np.maximum(agreed, 0, out=agreed)
    score = np.zeros((len(turns), phases.shape[1]), dtype=np.float32)
    for k in range(phases.shape[2]):
        score += agreed[turns[:, k], :, k]
    return score


def _phases(
    samples: Samples, rate_hz: int, beat_s: float, n_beats: int
) -> tuple[NDArray[np.complex64], Floats]:
    """Return the phases of short spectra all over each beat, as if begun between samples; the bins, Hz."""
    begins_s = np.arange(n_beats)[:, None] * beat_s + np.arange(int(beat_s / _HOP_S)) * _HOP_S
    return _phases_at(samples, rate_hz, begins_s)


def _phases_at(samples: Samples, rate_hz: int, begins_s: Floats) -> tuple[NDArray[np.complex64], Floats]:
    """Return the phases of the short spectra that begin so, shape (n_beats, n_frames), and the bins, Hz."""
    length = int(_WINDOW_S * rate_hz)
    lowest, highest = _LOWEST_HZ * length / rate_hz, min(_HIGHEST_HZ * length / rate_hz, length // 2)
    bins = np.arange(int(np.ceil(lowest)), int(highest) + 1)
    bins_hz = bins * rate_hz / length
    begins = begins_s * rate_hz
    first = np.round(begins).astype(np.intp)
    window = np.hanning(length).astype(np.float32)
    out = np.empty((*first.shape, len(bins)), dtype=np.complex64)
    between_s = (begins - first) / rate_hz
    for k, (row, late_s) in enumerate(zip(first, between_s, strict=True)):
        out[k] = np.fft.rfft(rows(samples, row, length) * window, axis=1, norm="forward")[:, bins]
        out[k] *= np.exp(2j * np.pi * late_s[:, None] * bins_hz).astype(np.complex64)
        out[k] /= np.abs(out[k]) + np.float32(1e-20)
    return out, bins_hz


def agreement(samples: Samples, rate_hz: int, marks_s: Floats) -> bool:
    """Tell whether what sounds at some marks does so with like phases, beyond chance.

    Parameters
    ----------
    samples : shape (n,), full scale 1.0
    marks_s : shape (n_marks,), seconds
    """
    phases, _ = _phases_at(samples, rate_hz, marks_s[:, None] - _MARK_S + np.array([-0.003, 0.0, 0.003]))
    power = np.abs(phases.sum(axis=0)) ** 2 / len(marks_s)
    return bool(np.maximum(power - _CHANCE, 0).sum(axis=1).max() > _CERTAIN)


def _turned(phases: NDArray[np.complex64], bins_hz: Floats, later_s: float) -> NDArray[np.complex128]:
    """Return phases (n_beats, n_bins) as they would be at a beat so much longer."""
    return np.asarray(phases * np.exp(2j * np.pi * np.arange(len(phases))[:, None] * later_s * bins_hz))


def _finer(phases: NDArray[np.complex64], bins_hz: Floats, later_s: float, step_s: float) -> float:
    """Return the period's difference once more, between the steps."""
    trials = later_s + step_s * np.linspace(-1, 1, 17)
    power = [
        np.maximum(np.abs(_turned(phases, bins_hz, t).sum(axis=0)) ** 2 / len(phases) - _CHANCE, 0)
        for t in trials
    ]
    return float(trials[int(np.sum(power, axis=1).argmax())])


def _usual(agreement: Floats) -> float:
    """Return how far the beats of the better half agree."""
    return float(np.median(np.sort(agreement)[len(agreement) // 2 :]))


def _agreement_nats(agreement: Floats) -> Floats:
    """Weigh by how far phases agree whether a click sounds at a beat; shape (n_beats,)."""
    usual = _usual(agreement)
    return np.asarray(usual * (2 * agreement - usual) / (2 * _SCATTER**2))


def _run(agreement: Floats) -> Indices:
    """Return the beats of the one unbroken run in which a click sounds."""
    gained = np.append(0.0, np.cumsum(agreement - 0.5 * _usual(agreement)))
    lowest = np.minimum.accumulate(gained)
    end = int((gained - lowest).argmax())
    begin = int(gained[: end + 1].argmin())
    return np.arange(begin, end)
