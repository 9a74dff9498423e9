"""Tell at which beats of its line a click sounds: every one, or those of a pattern, or those of some bars.

A click is known by its sound and its line; whether it sounds at a beat is weighed by what taking it out
leaves. Where it sounds alone or not at all, one beat is enough to tell; under strokes, the beats of a pattern
tell together. A pattern is a number of beats after which all repeats itself, after a count-in on every beat;
or runs of beats with and without it.

Conventions: times in seconds from the first sample; evidence in nats, over 0 where a click sounds, shape
(n_beats,); sounds shape (n_kinds, length).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from evenhand.arrays import Bools, Floats, Singles
from evenhand.hearing.clicks.sound import CUT_BEFORE_S, MATCH_S, Cutter, pieces_at

_SOFTEST, _LOUDEST = 0.5, 1.8  # gains
_FREE = 30.0  # independent values that a stroke's sound has in the time of a click
_SMOOTH, _QUIETEST = 9, 1e-4  # bins; of the loudest
_ALONE = 0.1  # of a click's energy: less besides, and it sounds alone
_FLOOR = 0.02  # of a click's energy: what is left where nothing else sounds
_MOST = 6.0  # nats that one beat may say
PLAIN = 5.0  # so many say it for sure
_PERIODS = (1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 24, 32)  # beats after which a pattern repeats itself
LONGEST_COUNT_IN = 16  # beats
_OF_A_PHASE, _OF_A_RUN = 1.5, 2.0  # nats that a pattern's beat and a run's end cost


class BeatEvidence(NamedTuple):
    """What says, in nats, that a click sounds at each beat, and that it is the second sound.

    And how loud it seems, and whether it sounds alone; shape (n_beats,) each.
    """

    nats: Floats
    second: Floats
    gains: Floats
    alone: Bools


def beat_evidence(cut: Cutter, marks_s: Floats, sounds: Singles) -> BeatEvidence:
    """Weigh at each mark whether a click sounds there.

    Strokes lie lower than clicks as a rule, so what else sounds at the marks is made white first.

    Parameters
    ----------
    marks_s : shape (n_beats,), seconds
    sounds : shape (n_kinds, length), highpassed
    """
    body_s = CUT_BEFORE_S + MATCH_S
    pieces = np.fft.rfft(pieces_at(cut, marks_s, body_s), axis=1, norm="forward").astype(np.complex64)
    body = sounds[:, : int(body_s * cut.rate_hz)]
    clicks = np.fft.rfft(body, axis=1, norm="forward").astype(np.complex64) * np.float32(body.shape[1])
    pieces *= np.float32(body.shape[1])
    weight = 1 / _besides(pieces, clicks)
    size = (np.abs(pieces) ** 2) @ weight
    each, gains, alone = [], [], []
    for click in clicks:
        power = (np.abs(click) ** 2) @ weight + 1e-12
        gain = (pieces * np.conj(click)).real @ weight / power
        least = np.maximum(size - gain**2 * power, _FLOOR * power)
        taken = np.clip(gain, _SOFTEST, _LOUDEST)
        gains.append(gain)
        alone.append(least < _ALONE * gain**2 * power)
        each.append(0.5 * _FREE * (2 * gain - taken) * taken * power / least)
    nats = np.array(each)
    second = np.clip(nats[-1] - nats[0], -_MOST, _MOST)
    best = nats.argmax(axis=0), np.arange(len(marks_s))
    nats_here = np.clip(nats[best], -_MOST, _MOST)
    return BeatEvidence(nats_here, second, np.array(gains)[best], np.array(alone)[best] & (nats_here > PLAIN))


def _besides(pieces: NDArray[np.complex64], clicks: NDArray[np.complex64]) -> Floats:
    """Return the usual power over frequency of what is left of the pieces without the clicks."""
    left = pieces
    for click in clicks:
        gain = np.clip((left * np.conj(click)).real.sum(axis=1) / ((np.abs(click) ** 2).sum() + 1e-12), 0, 1)
        left = left - gain[:, None] * click
    power = np.abs(left) ** 2
    usual = (power / (power.sum(axis=1, keepdims=True) + 1e-12)).mean(axis=0)
    smooth = np.convolve(
        np.pad(usual, _SMOOTH // 2, mode="edge"), np.full(_SMOOTH, 1 / _SMOOTH), mode="valid"
    )
    return np.asarray(np.maximum(smooth, _QUIETEST * smooth.max()) + 1e-12)


def sounding(nats: Floats, longest_count_in: int = LONGEST_COUNT_IN) -> Bools:
    """Tell at which beats a click sounds, by the pattern or the runs that explain the evidence best.

    Where one beat is sure by itself, no pattern overrules it.

    Parameters
    ----------
    nats : shape (n_beats,), of each beat
    longest_count_in : so many beats at most have a click each before the pattern begins

    Returns
    -------
    shape (n_beats,)
    """
    best, there = _by_runs(nats)
    counted = np.append(0.0, np.cumsum(nats))
    for period in _PERIODS:
        if 2 * period > len(nats):
            break
        for begins in range(min(longest_count_in, len(nats) - 2 * period) + 1):
            rest = nats[begins:]
            totals = np.bincount(np.arange(len(rest)) % period, weights=rest, minlength=period)
            gained = (
                counted[begins] + float(np.maximum(totals, 0).sum()) - _OF_A_PHASE * (period + bool(begins))
            )
            if gained > best:
                best = gained
                there = np.append(np.ones(begins, dtype=bool), (totals > 0)[np.arange(len(rest)) % period])
    return np.asarray((there & (nats > -PLAIN)) | (nats > PLAIN))


def _by_runs(nats: Floats) -> tuple[float, Bools]:
    """Return the best runs of beats with and without a click, and what they explain (Viterbi)."""
    gained = np.zeros((len(nats) + 1, 2))  # without, with
    came = np.zeros((len(nats), 2), dtype=np.intp)
    for k, here in enumerate(nats.tolist()):
        stay, turn = gained[k], gained[k, ::-1] - _OF_A_RUN
        came[k] = np.where(stay >= turn, (0, 1), (1, 0))
        gained[k + 1] = np.maximum(stay, turn) + np.array([0.0, here])
    state = int(gained[-1].argmax())
    there = np.zeros(len(nats), dtype=bool)
    for k in range(len(nats) - 1, -1, -1):
        there[k] = bool(state)
        state = int(came[k, state])
    return float(gained[-1].max()) - _OF_A_PHASE, there
