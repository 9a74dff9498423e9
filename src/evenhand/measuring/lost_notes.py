"""Notes that get lost at one place, and evenness that ends at a tempo.

Conventions: a miss is a written note, between the first and the last played, that was not heard.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median

import numpy as np

from evenhand.domain.audible import audible_ms
from evenhand.domain.exercise import Exercise
from evenhand.domain.findings import Evidence, Finding
from evenhand.domain.heard import Heard
from evenhand.domain.measures import Measure, Measures
from evenhand.domain.tempo import Tempo
from evenhand.measuring.asked import SECONDS_A_MINUTE
from evenhand.measuring.estimates import spread_measure
from evenhand.measuring.strokes import Floats, Strokes, group_means, strokes_of

CHANCE = 0.01  # of so many misses at any one place if they fell anywhere
FEWEST_MISSES = 2
TEMPO_STEP = 1.08  # a take that changes tempo by less says nothing of two tempos
STEADY = 0.04  # a repetition that differs by more from its neighbours is on the way between tempos
FEWEST_REPETITIONS = 3  # at either tempo


def missed_notes(measures: Measures) -> list[Finding]:
    """Find places where notes are missed more often than misses that fall anywhere would be there."""
    rows = measures.positions
    played = {row.position: row.level_db.n for row in rows}
    misses = {row.position: row.missed for row in rows}
    total = sum(misses.values())
    if total < FEWEST_MISSES or len(rows) < 2:
        return []
    found = []
    for row in sorted(rows, key=lambda r: -r.missed):
        k, n = row.missed, row.missed + played[row.position]
        others = total - k
        tried = sum(played.values()) + total - n
        rate = (others + 0.5) / (tried + 1)
        if k >= FEWEST_MISSES and _at_least(k, n, rate) * len(rows) < CHANCE:
            evidence = Evidence("missed", k / n, "share", n, _wilson(k, n), None, (row.position,))
            found.append(Finding("missed_note", evidence))
    return found


def _at_least(k: int, n: int, rate: float) -> float:
    """Return the binomial chance of k or more in n."""
    return sum(math.comb(n, j) * rate**j * (1 - rate) ** (n - j) for j in range(k, n + 1))


def _wilson(k: int, n: int) -> tuple[float, float]:
    """Return Wilson's 95 % range of a share (Wilson 1927)."""
    z2 = 1.959964**2
    middle, reach = (k + z2 / 2) / (n + z2), math.sqrt(z2 * (k * (n - k) / n + z2 / 4)) / (n + z2)
    return max(middle - reach, 0.0), min(middle + reach, 1.0)


@dataclass(frozen=True)
class _Paces:
    """Tempo of each repetition, in beats a minute, and its number."""

    number: Floats
    bpm: Floats


def uneven_above(heard: Heard, exercise: Exercise, tempo: Tempo) -> list[Finding]:
    """Find a tempo above which a take that was played at several comes apart."""
    strokes = strokes_of(heard, exercise)
    paces = _paces(strokes, tempo)
    if paces.bpm.size < 2 * FEWEST_REPETITIONS or paces.bpm.max() < TEMPO_STEP * paces.bpm.min():
        return []
    border = math.sqrt(float(paces.bpm.max() * paces.bpm.min()))
    slow, fast = paces.number[paces.bpm < border], paces.number[paces.bpm >= border]
    if min(slow.size, fast.size) < FEWEST_REPETITIONS:
        return []
    shortest = float(min(exercise.notes[p].value for p in exercise.struck)) / float(tempo.beat)
    sides = []
    for numbers in (slow, fast):
        rows = strokes.sure_timing & np.isin(strokes.repetition, numbers)
        bpm = median(paces.bpm[np.isin(paces.number, numbers)].tolist())
        spread = spread_measure(strokes.timing_ms[rows], strokes.position[rows], "ms")
        sides.append((spread, audible_ms(shortest * 60_000 / bpm)))
    (slow_spread, slow_edge), (fast_spread, fast_edge) = sides
    if slow_spread.ci95 is None or fast_spread.ci95 is None:
        return []
    if slow_spread.ci95[1] > slow_edge or fast_spread.ci95[0] <= fast_edge:
        return []
    held = float(paces.bpm[paces.bpm < border].max())
    figures = {"even up to": Measure(held, slow.size, "bpm"), "below": slow_spread}
    evidence = Evidence(
        "timing_sd_ms", fast_spread.value, "ms", fast_spread.n, fast_spread.ci95, fast_edge, exercise.struck
    )
    return [Finding("uneven_above_tempo", evidence, figures=figures)]


def _paces(strokes: Strokes, tempo: Tempo) -> _Paces:
    """Return each steady repetition's tempo: its own straight line of time over written time."""
    rows = np.flatnonzero(strokes.sure_timing & np.isfinite(strokes.written))
    numbers, group = np.unique(strokes.repetition[rows], return_inverse=True)
    if not rows.size:
        return _Paces(np.zeros(0), np.zeros(0))
    counts = np.bincount(group)
    at, time_s = strokes.written[rows], strokes.time_s[rows]
    stretch = strokes.stretch[rows].astype(np.float64)
    at, time_s, broken = (x - group_means(x, group)[group] for x in (at, time_s, stretch))
    size, rise = np.bincount(group, weights=at * at), np.bincount(group, weights=at * time_s)
    told = (counts >= 3) & (rise > 0) & (np.bincount(group, weights=broken**2) < 1e-9)
    beats = float(tempo.beat) * rise[told] / size[told]
    paces = _Paces(numbers[told].astype(np.float64), SECONDS_A_MINUTE / beats)
    if paces.bpm.size < 2:
        return paces
    change = np.abs(np.diff(np.log(paces.bpm))) > STEADY
    steady = ~(np.append(change, False) | np.append(False, change))
    return _Paces(paces.number[steady], paces.bpm[steady])
