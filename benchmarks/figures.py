"""The figures of a take from its truth, by the written definitions, and how far heard ones lie from them.

The timing of a blow is worked here on its own: against the click where it sounds through the playing, else
against a local straight line of time over written time (tricube weights, 16 notes to either side, stretch
by stretch).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from benchmarks.takes import BenchTake
from evenhand.measuring.measure import measure
from evenhand.measuring.values import Measure, Measures
from evenhand.music.exercise import Hand
from evenhand.synthesis.player import TrueHit
from evenhand.take import Clock, Heard, Hit

if TYPE_CHECKING:
    from benchmarks.judging import Matched

Floats = NDArray[np.float64]
HANDS: tuple[Hand, Hand] = ("R", "L")
REACH = 16
FIGURES = (
    "timing spread, ms",
    "interval spread, ms",
    "timing balance, ms",
    "level balance, dB",
    "level spread, dB",
    "double, second over first, dB",
    "double, short share",
    "accents over unaccented, dB",
    "flam gap, ms",
    "tempo, %",
)


def mains(take: BenchTake) -> list[TrueHit]:
    """Return the notes that were played, graces left out, in order."""
    return [hit for hit in take.truth.hits if not hit.grace]


def numbered(take: BenchTake, hits: Sequence[TrueHit]) -> tuple[Floats, Floats, Floats]:
    """Return each note's written time (whole notes), its number, and its unbroken stretch."""
    exercise = take.exercise
    starts = np.array([float(start) for start in exercise.starts])
    struck = {position: rank for rank, position in enumerate(exercise.struck)}
    repetition = np.array([hit.repetition for hit in hits]) - 1
    position = np.array([hit.position for hit in hits])
    written = repetition * float(exercise.length) + starts[position]
    number = repetition * len(struck) + np.array([struck[p] for p in position.tolist()])
    stopped_in = np.array([stop[0] - 1 for stop in take.recipe.varied.player.stops])
    stretch = (stopped_in[:, None] < repetition).sum(axis=0)
    return written, number.astype(np.float64), stretch.astype(np.float64)


def smooth(time_s: Floats, written: Floats, number: Floats, stretch: Floats) -> Floats:
    """Return where the smooth tempo has each note, seconds: a weighed line around each."""
    far = np.abs(number[:, None] - number[None, :]) / (REACH + 1)
    near = (far < 1) & (stretch[:, None] == stretch[None, :])
    weight = np.where(near, (1 - np.minimum(far, 1) ** 3) ** 3, 0.0)
    total = weight.sum(axis=1)
    mean_w, mean_t = weight @ written / total, weight @ time_s / total
    apart = written[None, :] - mean_w[:, None]
    bottom = (weight * apart**2).sum(axis=1)
    top = (weight * apart * (time_s[None, :] - mean_t[:, None])).sum(axis=1)
    slope = np.where(bottom > 1e-12, top / np.maximum(bottom, 1e-12), 0.0)
    return np.asarray(mean_t + slope * (written - mean_w))


def spread_errors_ms(take: BenchTake, found: Matched) -> tuple[float, ...]:
    """Return, by hand, how far the spread of the heard times lies from the true one, over the same hits.

    Every method is told which blow is which, and both spreads are worked by the same formula.
    """
    hits = mains(take)
    pairs = found.pairs
    heard = dict(zip(found.true_s[pairs[:, 0]].tolist(), found.heard_s[pairs[:, 1]].tolist(), strict=True))
    hits = [hit for hit in hits if hit.time_s in heard]
    if len(hits) < 6:
        return ()
    where = numbered(take, hits)
    true_s = np.array([hit.time_s for hit in hits])
    heard_s = np.array([heard[hit.time_s] for hit in hits])
    true_ms = 1000 * (true_s - smooth(true_s, *where))
    heard_ms = 1000 * (heard_s - smooth(heard_s, *where))
    right = np.array([hit.hand == "R" for hit in hits])
    errors = [
        abs(float(np.std(heard_ms[hand], ddof=1) - np.std(true_ms[hand], ddof=1)))
        for hand in (right, ~right)
        if hand.sum() > 2
    ]
    return tuple(errors)


def true_heard(take: BenchTake) -> Heard:
    """Return what a perfect ear would have heard of a take."""
    hits = mains(take)
    written, number, stretch = numbered(take, hits)
    time_s = np.array([hit.time_s for hit in hits])
    deviation = 1000 * (time_s - smooth(time_s, written, number, stretch))
    clock, asynchrony = _clocked(take, time_s, written, stretch)
    place = {hit.time_s: i for i, hit in enumerate(hits)}
    out = []
    for hit in take.truth.hits:
        i = place.get(hit.time_s)
        main = min(int(np.searchsorted(time_s, hit.time_s)), len(hits) - 1)
        out.append(
            Hit(
                time_s=hit.time_s,
                level_db=hit.level_db,
                confidence=1.0,
                hand=hit.hand,
                repetition=hit.repetition,
                position=hit.position,
                grace=hit.grace,
                asynchrony_ms=None if i is None or clock == "smooth" else float(asynchrony[i]),
                deviation_ms=None if i is None else float(deviation[i]),
                stretch=int(stretch[main]),
                written=float(written[main]),
            )
        )
    truth = take.truth
    return Heard(tuple(out), truth.missed, truth.extras, truth.clicks_s, clock, truth.tempo_bpm)


def _clocked(take: BenchTake, time_s: Floats, written: Floats, stretch: Floats) -> tuple[Clock, Floats]:
    """Return the clock and each note's asynchrony to its click, ms; the grid is a line through all clicks."""
    clicks = np.array(take.truth.clicks_s)
    if not take.recipe.varied.scene.click_through or len(clicks) < 2 or clicks[-1] < time_s[len(time_s) // 2]:
        return "smooth", np.zeros(len(time_s))
    beat_s, first_s = np.polyfit(np.arange(len(clicks)), clicks, 1)
    beats = written / float(take.tempo.beat)
    off = (time_s - first_s) / beat_s - beats
    whole = np.zeros(len(time_s))
    for each in np.unique(stretch):
        whole[stretch == each] = np.round(np.median(off[stretch == each]))
    return "click", np.asarray(1000 * beat_s * (off - whole))


def figure_errors(take: BenchTake, heard: Heard) -> dict[str, float]:
    """Return how far each figure lies from what a perfect ear would have measured, of the worse hand."""
    said = _figures(measure(heard, take.exercise, take.tempo))
    true = _figures(measure(true_heard(take), take.exercise, take.tempo))
    errors: dict[str, float] = {}
    for (name, who), value in true.items():
        other = said.get((name, who))
        if other is not None:
            off = abs(other - value) / value * 100 if name == "tempo, %" else abs(other - value)
            errors[name] = max(errors.get(name, 0.0), off)
    return errors


def _figures(m: Measures) -> dict[tuple[str, str], float]:
    """Lay out a take's figures by name and hand; those that have a value."""
    rows: list[tuple[str, str, Measure]] = [
        ("timing balance, ms", "", m.balance_timing_ms),
        ("level balance, dB", "", m.balance_level_db),
        ("tempo, %", "", m.tempo_bpm),
    ]
    for hand, h in m.hands.items():
        rows += [("timing spread, ms", hand, h.timing_sd_ms), ("interval spread, ms", hand, h.interval_sd_ms)]
        rows += [("level spread, dB", hand, h.level_sd_db)]
    for hand, d in m.doubles.items():
        rows += [("double, second over first, dB", hand, d.second_minus_first_db)]
        rows += [("double, short share", hand, d.short_share)]
    rows += [("accents over unaccented, dB", hand, a) for hand, a in m.accents_over_taps_db.items()]
    rows += [("flam gap, ms", hand, g.gap_ms) for hand, g in m.graces.items()]
    return {(name, who): figure.value for name, who, figure in rows if figure.value is not None}
