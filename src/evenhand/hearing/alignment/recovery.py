"""Recovery: look again where a note ought to be, for notes not yet found and for grace notes.

Conventions: times in seconds; note numbers are unrolled (0 = first note of
repetition 1). Recovery never moves what was found; it only adds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenhand.arrays import ArrayTable, Bools, Floats, Indices, Singles, robust_sd
from evenhand.hearing.alignment.follow import Alignment
from evenhand.hearing.alignment.score import Score
from evenhand.hearing.onsets.bands import FRAME_HZ, SETTINGS
from evenhand.hearing.onsets.candidates import Candidates

_FAINT = 0.8  # strength that is worth a closer look where a note is expected
_APART_S = 0.011
_GRACE_NEAR_S, _GRACE_FAR_S = 0.009, 0.085
_RISE_S = 1.0 / FRAME_HZ


Row = tuple[float, int, int, int, float]  # of the table that follows


@dataclass(frozen=True, slots=True)
class Matched(ArrayTable):
    """Hits that are notes, in order of time.

    They have rough times, unrolled note numbers,
    stretch of playing, grace rank (0 = the note itself, 1 = the nearest grace, ...), strength.
    """

    times_s: Floats
    numbers: Indices
    stretches: Indices
    graces: Indices
    strength: Floats

    def with_more(self, other: Matched) -> Matched:
        """Return both together, in order of time."""
        both = self.joined([self, other])
        return both.only(np.argsort(both.times_s, kind="stable"))


def matched_along(found: Candidates, path: Alignment) -> Matched:
    """Return the hits that the follower matched."""
    picked = path.candidates
    none = np.zeros(len(picked), dtype=np.intp)
    return Matched(found.times_s[picked], path.notes, path.stretches, none, found.strength[picked])


def unplayed(numbers: Indices, stretches: Indices) -> list[tuple[int, int]]:
    """Return (note number, stretch) of notes skipped between the first and last of each stretch.

    Parameters
    ----------
    numbers, stretches : shape (n_notes,), unrolled note numbers and stretches of playing, in order of time
    """
    gaps = np.flatnonzero((np.diff(numbers) > 1) & (np.diff(stretches) == 0))
    return [(n, int(stretches[i])) for i in gaps for n in range(int(numbers[i]) + 1, int(numbers[i + 1]))]


def find_graces(matched: Matched, score: Score, strength: Singles) -> Matched:
    """Find the grace notes ahead of each note that has them; the nearest counts from 1.

    A hand's flams are much alike: those that are plain to hear show where the faint
    ones are to be looked for.

    Parameters
    ----------
    matched : what was matched so far
    strength : shape (n_frames,), novelty

    Returns
    -------
    ``matched``, and what was found more
    """
    first = _graces(matched, score, strength, {})
    usual = _usual_gaps(first, matched)
    rows = _graces(matched, score, strength, usual) if usual else first
    return matched.with_more(_from_rows(rows)) if rows else matched


def _usual_gaps(rows: list[Row], matched: Matched) -> dict[int, tuple[float, float]]:
    """Return how far ahead each rank of grace note usually is, and its spread, from the plain ones."""
    main_s = dict(zip(matched.numbers.tolist(), matched.times_s.tolist(), strict=True))
    usual = {}
    for rank in {row[3] for row in rows}:
        gaps = np.array(
            [main_s[row[1]] - row[0] for row in rows if row[3] == rank and row[4] > SETTINGS.clear]
        )
        if len(gaps) >= 4:
            middle = float(np.median(gaps))
            usual[rank] = (middle, max(0.004, 2 * robust_sd(gaps - middle)))
    return usual


def _graces(
    matched: Matched, score: Score, strength: Singles, usual: dict[int, tuple[float, float]]
) -> list[Row]:
    """Look for grace notes ahead of each note, near the usual places where these are known."""
    rows: list[Row] = []
    for i, number in enumerate(matched.numbers.tolist()):
        count = int(score.graces[number % len(score)])
        if count == 0:
            continue
        at = float(matched.times_s[i])
        first = max(at - _GRACE_FAR_S, float(matched.times_s[i - 1]) + 0.02 if i else 0.0)
        free = np.array([at])
        picked = []
        for rank in range(1, count + 1):
            due = (at - usual[rank][0], usual[rank][1]) if rank in usual else None
            time, strong = _loudest(strength, first, at - _GRACE_NEAR_S, free, due)
            if strong > _FAINT:
                picked.append((time, strong))
                free = np.append(free, time)
        for rank, (time, strong) in enumerate(sorted(picked, reverse=True), start=1):
            rows.append((time, number, int(matched.stretches[i]), rank, strong))
    return rows


def ahead_of_note(matched: Matched, times_s: Floats) -> Floats:
    """Return how far each grace note lies ahead of its note, in seconds; 0 for notes.

    Parameters
    ----------
    times_s : shape (n_matched,), seconds

    Returns
    -------
    shape (n_matched,), seconds, positive
    """
    main = matched.graces == 0
    at = dict(zip(matched.numbers[main].tolist(), times_s[main].tolist(), strict=True))
    return np.array(
        [at.get(n, t) - t for n, t in zip(matched.numbers.tolist(), times_s.tolist(), strict=True)]
    )


def usual_levels(which: Indices, level_db: Floats, shown: Bools) -> Floats:
    """Return for each hit the median level of its note's plain hits; few make way for all.

    Parameters
    ----------
    which : shape (n_hits,), the note each is
    level_db : shape (n_hits,), dB
    shown : shape (n_hits,), which are plain to hear

    Returns
    -------
    shape (n_hits,), dB; infinite where no hit is plain
    """
    usual = np.full(len(level_db), float(np.median(level_db[shown])) if shown.any() else np.inf)
    for one in np.unique(which[shown]):
        same = which == one
        if (same & shown).sum() >= 3:
            usual[same] = np.median(level_db[same & shown])
    return usual


def graces_among(matched: Matched, score: Score, times_s: Floats, picked: Indices) -> tuple[Matched, Indices]:
    """Take blows that stand just ahead of a note for its grace notes (blows known exactly).

    Parameters
    ----------
    times_s : shape (n_blows,), seconds, rising
    picked : shape (n_matched,), the blow that each match is

    Returns
    -------
    the notes with their graces, and which blow each is, shape (n_matched + n_graces,)
    """
    free = np.setdiff1d(np.arange(len(times_s)), picked)
    rows: list[Row] = []
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


def _from_rows(rows: list[Row]) -> Matched:
    return Matched(*(np.array(column) for column in zip(*rows, strict=True)))


def _loudest(
    strength: Singles, from_s: float, to_s: float, taken_s: Floats, due: tuple[float, float] | None = None
) -> tuple[float, float]:
    """Return the strongest peak of novelty between two times, away from hits already taken.

    ``due`` is when it is expected and how loosely; peaks far from there count for less.
    """
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
    wanted = part if due is None else part - np.minimum(0.25 * ((times - due[0]) / due[1]) ** 2, 1.5)
    best = int(wanted.argmax())
    return float(times[best]), float(part[best])
