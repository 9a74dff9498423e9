"""Tempo, and how it changes over the take.

Hit times are put against written time: one straight line (tempo), and the bend of a parabola (drift), with a
start of its own for every unbroken stretch. Doubt comes from the weighed grid of players: a timekeeper that
adds up freely makes a tempo far less certain than scatter about a grid would.

Conventions: written time in whole notes, tempo in beats a minute, drift in beats a minute per minute.
"""

from __future__ import annotations

import numpy as np

from evenhand.domain.measures import Measure
from evenhand.domain.tempo import Tempo
from evenhand.measuring.hands import Timed
from evenhand.measuring.quantiles import mixed_reach
from evenhand.measuring.strokes import Floats, Ints, group_means
from evenhand.measuring.wander import MEMORIES, Wander

FEWEST_HITS = {"tempo": 3, "drift": 6}
SECONDS_A_MINUTE = 60.0


def pace(take: Timed, tempo: Tempo) -> tuple[Measure, Measure]:
    """Return tempo (bpm) and drift (bpm per minute), in the beat of the tempo given."""
    units = "bpm", "bpm/min"
    rows = take.rows[np.isfinite(take.strokes.written[take.rows])]
    written, stretch = take.strokes.written[rows], take.strokes.stretch[rows]
    n = rows.size
    if n < FEWEST_HITS["tempo"] or np.ptp(written) <= 0:
        return Measure(None, n, units[0], None, FEWEST_HITS["tempo"]), too_few_hits(n)
    group = np.unique(stretch, return_inverse=True)[1].astype(np.int64)
    line = _about_means(written, group)
    if not line.any():
        return Measure(None, n, units[0], None, FEWEST_HITS["tempo"]), too_few_hits(n)
    time_s = take.strokes.time_s[rows]
    beat = float(tempo.beat)
    slope_by = line / (line @ line)
    slope = float(slope_by @ time_s)
    if slope <= 0:
        return Measure(None, n, units[0], None, FEWEST_HITS["tempo"]), too_few_hits(n)
    bpm = SECONDS_A_MINUTE / (slope * beat)
    reach = reach_s(take.wander, slope_by) / slope  # as a share
    tempo_measure = Measure(bpm, n, units[0], (bpm / (1 + reach), bpm / max(1 - reach, 0.1)))
    bend = _about_means(line**2, group)
    bend = bend - line * (line @ bend) / (line @ line)
    size = float(bend @ bend)
    if n < FEWEST_HITS["drift"] or size <= 1e-9 * float((line**2) @ (line**2)):
        return tempo_measure, too_few_hits(n)
    per_bend = -2 * SECONDS_A_MINUTE**2 / (beat * slope**3)
    drift = per_bend * float(bend @ time_s) / size
    reach = reach_s(take.wander, bend / size) * abs(per_bend)
    return tempo_measure, Measure(drift, n, units[1], (drift - reach, drift + reach))


def too_few_hits(n: int) -> Measure:
    """Return a drift that cannot be told yet."""
    return Measure(None, n, "bpm/min", None, FEWEST_HITS["drift"])


def _about_means(values: Floats, group: Ints) -> Floats:
    """Return values less their stretch's mean."""
    return np.asarray(values - group_means(values, group)[group])


def reach_s(wander: Wander, by: Floats) -> float:
    """Return how far to either side the sum of ``by`` times hit times (s) is uncertain, at 95 %.

    Parameters
    ----------
    wander
        The weighed grid of players.
    by
        What each hit time is multiplied by, shape (n,), summing to 0 over every stretch.
    """
    n = by.size
    spectrum = np.fft.rfft(by, 2 * n)
    lagged = np.fft.irfft(np.abs(spectrum) ** 2)[:n]  # autocorrelation of the weights
    apart = np.arange(n)
    parts = [lagged[0], *(2 * lagged @ memory**apart - lagged[0] for memory in MEMORIES)]
    if wander.clock == "smooth":
        parts.append(float((np.cumsum(by) ** 2).sum()))
    variances = np.maximum(wander.scale * (wander.mix @ np.array(parts)) * 1e-6, 0.0)
    return mixed_reach(np.sqrt(variances), np.full(variances.size, max(n - 4.0, 1.0)), wander.weight)
