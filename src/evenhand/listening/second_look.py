"""Look again where a note ought to be: notes not yet found, and grace notes.

Conventions: times in seconds; note numbers are unrolled (0 = first note of
repetition 1). A second look never moves what was found; it only adds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.listening.bands import FRAME_HZ, Floats
from evenhand.listening.evidence import Candidates
from evenhand.listening.following import Path
from evenhand.listening.grid import smooth_at
from evenhand.listening.score import Score

Array = NDArray[np.float64]
Ints = NDArray[np.intp]

_FAINT = 0.8  # strength that is worth a closer look where a note is expected
_APART_S = 0.011
_GRACE_NEAR_S, _GRACE_FAR_S = 0.009, 0.085
_RISE_S = 1.0 / FRAME_HZ


@dataclass(frozen=True, slots=True)
class Matched:
    """Hits that are notes, in order of time: rough times, unrolled note numbers,
    stretch of playing, grace rank (0 = the note itself, 1 = the nearest grace, ...), strength.
    """

    times_s: Array
    numbers: Ints
    stretches: Ints
    graces: Ints
    strength: Array

    def with_more(self, other: Matched) -> Matched:
        """Return both together, in order of time."""
        parts = [
            np.concatenate([getattr(self, name), getattr(other, name)])
            for name in ("times_s", "numbers", "stretches", "graces", "strength")
        ]
        order = np.argsort(parts[0], kind="stable")
        return Matched(*(part[order] for part in parts))

    def only(self, keep: NDArray[np.bool_]) -> Matched:
        """Return some of them."""
        return Matched(*(getattr(self, name)[keep] for name in self.__slots__))


def as_followed(found: Candidates, path: Path) -> Matched:
    """Return the hits that the follower matched."""
    picked = path.candidates
    none = np.zeros(len(picked), dtype=np.intp)
    return Matched(found.times_s[picked], path.notes, path.stretches, none, found.strength[picked])


def unplayed(numbers: Ints, stretches: Ints) -> list[tuple[int, int]]:
    """Return (note number, stretch) of notes skipped between the first and last of each stretch."""
    gaps = np.flatnonzero((np.diff(numbers) > 1) & (np.diff(stretches) == 0))
    return [(n, int(stretches[i])) for i in gaps for n in range(int(numbers[i]) + 1, int(numbers[i + 1]))]


def find_skipped(matched: Matched, score: Score, strength: Floats) -> Matched:
    """Find notes that the follower skipped, in the quiet of the place they should be."""
    wanted = unplayed(matched.numbers, matched.stretches)
    written = score.written(matched.numbers)
    rows = []
    for stretch in sorted({s for _, s in wanted}):
        number = np.array([n for n, s in wanted if s == stretch], dtype=np.intp)
        due = smooth_at(
            number,
            score.written(number),
            stretch,
            matched.times_s,
            written,
            matched.numbers,
            matched.stretches,
        )
        reach = max(0.012, min(0.03, 0.25 * score.shortest * score.tempo.whole_note_s))
        taken = matched.times_s
        for one, at in zip(number.tolist(), due.tolist(), strict=True):
            time, strong = _loudest(strength, at - reach, at + reach, taken)
            if strong > _FAINT:
                rows.append((time, one, stretch, 0, strong))
                taken = np.append(taken, time)
    return matched.with_more(_from_rows(rows)) if rows else matched


def find_graces(matched: Matched, score: Score, strength: Floats) -> Matched:
    """Find the grace notes ahead of each note that has them; the nearest counts from 1."""
    rows = []
    for i, number in enumerate(matched.numbers.tolist()):
        count = int(score.graces[number % len(score)])
        if count == 0:
            continue
        at = float(matched.times_s[i])
        before = float(matched.times_s[i - 1]) + 0.02 if i else 0.0
        free = np.array([at])
        picked = []
        for _ in range(count):
            time, strong = _loudest(strength, max(at - _GRACE_FAR_S, before), at - _GRACE_NEAR_S, free)
            if strong > _FAINT:
                picked.append((time, strong))
                free = np.append(free, time)
        for rank, (time, strong) in enumerate(sorted(picked, reverse=True), start=1):
            rows.append((time, number, int(matched.stretches[i]), rank, strong))
    return matched.with_more(_from_rows(rows)) if rows else matched


def graces_among(matched: Matched, score: Score, times_s: Array, picked: Ints) -> tuple[Matched, Ints]:
    """Take blows that stand just ahead of a note for its grace notes (blows known exactly).

    Returns the notes with their graces, and which blow each is.
    """
    free = np.setdiff1d(np.arange(len(times_s)), picked)
    rows: list[tuple[float, int, int, int, float]] = []
    blows: list[int] = []
    for i, number in enumerate(matched.numbers.tolist()):
        count = int(score.graces[number % len(score)])
        ahead = matched.times_s[i] - times_s[free]
        near = free[(ahead > 0.002) & (ahead < _GRACE_FAR_S)][::-1][:count]
        for rank, blow in enumerate(near.tolist(), start=1):
            rows.append((float(times_s[blow]), number, int(matched.stretches[i]), rank, 9.0))
            blows.append(blow)
    if not rows:
        return matched, picked
    together = matched.with_more(_from_rows(rows))
    used = np.concatenate([picked, np.array(blows, dtype=np.intp)])
    return together, used[np.argsort(times_s[used], kind="stable")]


def _from_rows(rows: list[tuple[float, int, int, int, float]]) -> Matched:
    times, numbers, stretches, graces, strength = zip(*rows, strict=True)
    order = np.argsort(times, kind="stable")
    return Matched(
        np.array(times)[order],
        np.array(numbers, dtype=np.intp)[order],
        np.array(stretches, dtype=np.intp)[order],
        np.array(graces, dtype=np.intp)[order],
        np.array(strength)[order],
    )


def _loudest(strength: Floats, from_s: float, to_s: float, taken_s: Array) -> tuple[float, float]:
    """Return the strongest peak of novelty between two times, away from hits already taken."""
    first, last = max(1, int(from_s * FRAME_HZ)), min(len(strength) - 1, int(to_s * FRAME_HZ) + 1)
    if last <= first:
        return 0.0, -np.inf
    part = strength[first:last].copy()
    peaks = (part >= strength[first - 1 : last - 1]) & (part > strength[first + 1 : last + 1])
    times = np.arange(first, last) / FRAME_HZ + _RISE_S
    near = taken_s[(taken_s > from_s - 0.05) & (taken_s < to_s + 0.05)]
    clear = np.ones(len(part), dtype=bool)
    for one in near:
        clear &= np.abs(times - one) > _APART_S * 0.8
    part[~(peaks & clear)] = -np.inf
    best = int(part.argmax())
    return float(times[best]), float(part[best])
