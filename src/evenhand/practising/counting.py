"""Count the strokes of a train: those that were heard, and those that must have been played unheard.

Conventions: as in ``train``; ``curve`` is how much every half millisecond stands out, None where blows are
known exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.practising.beat import FRAME_HZ, Curve
from evenhand.practising.train import Train, due

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_ABOUT = 0.13  # of a beat, around where a stroke was due
_HIDES_SHARE = 0.02  # of the strokes: a train that hides more hides many
_FAINT_ONCE, _FAINT_OFTEN, _FAINT_END, _RARER = 1.5, 0.9, 1.2, 0.25


@dataclass(frozen=True, slots=True)
class Counted:
    """The strokes of a train, heard ones and hidden ones, in order of time; shape (n_strokes,).

    ``due`` are strokes that were due and are taken for not played: a gap with nothing in it.
    """

    times_s: Floats
    numbers: Ints
    heard: Bools
    due_s: Floats


def count_strokes(times_s: Floats, train: Train, curve: Curve | None) -> Counted:
    """Decide of every stroke that was due and not heard whether it was played.

    Where hits stand out so little that others may be hidden (a drum that rings, a hand far softer), a
    single gap says nothing, and what was due is counted; elsewhere a stroke must show itself at least
    faintly.
    """
    due_s, numbers, gap = due(times_s, train)
    shown = _shown(due_s, train, curve)
    least = _FAINT_OFTEN if train.hides else _FAINT_ONCE
    lone = np.bincount(gap, minlength=len(train.hits))[gap] == 1
    mean = np.bincount(gap, weights=shown)[gap] / np.maximum(np.bincount(gap)[gap], 1) if len(gap) else shown
    played = (mean > least) | (train.hides & lone) if curve is not None else np.zeros(len(due_s), dtype=bool)
    heard_s = times_s[train.hits]
    ends_s, ends = _beyond(heard_s, train, numbers, curve) if curve is not None else (due_s[:0], numbers[:0])
    at = np.concatenate([heard_s, due_s[played], ends_s])
    which = np.concatenate([train.numbers, numbers[played], ends])
    heard = np.arange(len(at)) < len(heard_s)
    order = np.argsort(at, kind="stable")
    return Counted(at[order], which[order], heard[order], due_s[~played])


def _shown(due_s: Floats, train: Train, curve: Curve | None) -> Floats:
    """Return how much stands out about each moment."""
    if curve is None or not len(due_s):
        return np.zeros(len(due_s))
    reach = round(_ABOUT * float(np.median(train.beat_s)) * FRAME_HZ)
    frames = np.round(due_s * FRAME_HZ).astype(np.intp)[:, None] + np.arange(-reach, reach + 1)
    return np.asarray(curve[np.clip(frames, 0, len(curve) - 1)].max(axis=1), dtype=np.float64)


def _beyond(heard_s: Floats, train: Train, hidden: Ints, curve: Curve) -> tuple[Floats, Ints]:
    """Return hidden strokes just before the first and just after the last that was heard.

    One must stand out the more, the fewer strokes of its hand were hidden in the train.
    """
    times, numbers = [], []
    for k, step in ((0, -1), (-1, 1)):
        number = int(train.numbers[k])
        odd = train.offset * ((number + step) % 2 - number % 2)
        at = float(heard_s[k] + (step + odd) * train.beat_s[k])
        parity = (number + step) % 2
        of_hand = int((hidden % 2 == parity).sum())
        share = of_hand / max(of_hand + int((train.numbers % 2 == parity).sum()), 1)
        if share < _HIDES_SHARE or at <= 0:
            continue
        if _shown(np.array([at]), train, curve)[0] > _FAINT_END + _RARER * math.log((1 - share) / share):
            times.append(at)
            numbers.append(number + step)
    return np.array(times), np.array(numbers, dtype=np.int64)
