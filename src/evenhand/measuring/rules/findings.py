"""From figures to findings, in the order of what to practise first.

A finding is only made where its whole interval lies beyond what an ear can tell. Where it straddles that, at
most two questions are named as open, with how many repetitions would tell.

Notes that get lost at one place, and evenness that ends at a tempo.

Conventions: a miss is a written note, between the first and the last played, that was not heard.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from statistics import median

import numpy as np

from evenhand.arrays import Floats
from evenhand.measuring.estimates import FEWEST, scatter_of, spread_of, wilson
from evenhand.measuring.hits import MainHits, group_means, main_hits
from evenhand.measuring.rules.sound import (
    SECONDS_A_MINUTE,
    TakeFigures,
    Verdict,
    accents,
    figures_of,
    flams,
    softer_hand,
    uneven_double,
    weak_second,
)
from evenhand.measuring.rules.time import (
    RUN_FROM_CLICK,
    changing_tempo,
    displaced_note,
    hand_behind,
    leaving_click,
    tiring,
    wandering,
)
from evenhand.measuring.values import (
    AUDIBLE_LEVEL_DB,
    ORDER,
    Evidence,
    Finding,
    Measure,
    Measures,
    audible_ms,
)
from evenhand.music.exercise import Exercise, Hand, Tempo
from evenhand.take import Heard, Remark

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
            evidence = Evidence("missed", k / n, "share", n, wilson(k, n), None, (row.position,))
            found.append(Finding("missed_note", evidence))
    return found


def _at_least(k: int, n: int, rate: float) -> float:
    """Return the binomial chance of k or more in n."""
    return sum(math.comb(n, j) * rate**j * (1 - rate) ** (n - j) for j in range(k, n + 1))


@dataclass(frozen=True)
class _Paces:
    """Tempo of each repetition, in beats a minute, and its number."""

    number: Floats
    bpm: Floats


def uneven_above(heard: Heard, exercise: Exercise, tempo: Tempo) -> list[Finding]:
    """Find a tempo above which a take that was played at several comes apart."""
    hits = main_hits(heard, exercise)
    paces = _paces(hits, tempo)
    if paces.bpm.size < 2 * FEWEST_REPETITIONS or paces.bpm.max() < TEMPO_STEP * paces.bpm.min():
        return []
    border = math.sqrt(float(paces.bpm.max() * paces.bpm.min()))
    slow, fast = paces.number[paces.bpm < border], paces.number[paces.bpm >= border]
    if min(slow.size, fast.size) < FEWEST_REPETITIONS:
        return []
    shortest = float(min(exercise.notes[p].value for p in exercise.struck)) / float(tempo.beat)
    sides = []
    for numbers in (slow, fast):
        rows = hits.sure_timing & np.isin(hits.repetition, numbers)
        bpm = median(paces.bpm[np.isin(paces.number, numbers)].tolist())
        spread = spread_of(scatter_of(hits.timing_ms[rows], hits.position[rows]), "ms")
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


def _paces(hits: MainHits, tempo: Tempo) -> _Paces:
    """Return each steady repetition's tempo: its own straight line of time over written time."""
    rows = np.flatnonzero(hits.sure_timing & np.isfinite(hits.written))
    numbers, group = np.unique(hits.repetition[rows], return_inverse=True)
    if not rows.size:
        return _Paces(np.zeros(0), np.zeros(0))
    counts = np.bincount(group)
    at, time_s = hits.written[rows], hits.time_s[rows]
    stretch = hits.stretch[rows].astype(np.float64)
    at, time_s, broken = (x - group_means(x, group)[group] for x in (at, time_s, stretch))
    size, rise = np.bincount(group, weights=at * at), np.bincount(group, weights=at * time_s)
    known = (counts >= 3) & (rise > 0) & (np.bincount(group, weights=broken**2) < 1e-9)
    beats = float(tempo.beat) * rise[known] / size[known]
    paces = _Paces(numbers[known].astype(np.float64), SECONDS_A_MINUTE / beats)
    if paces.bpm.size < 2:
        return paces
    change = np.abs(np.diff(np.log(paces.bpm))) > STEADY
    steady = ~(np.append(change, False) | np.append(False, change))
    return _Paces(paces.number[steady], paces.bpm[steady])


RULES: tuple[Callable[[TakeFigures], Iterator[Verdict]], ...] = (
    tiring,
    leaving_click,
    changing_tempo,
    wandering,
    displaced_note,
    hand_behind,
    uneven_double,
    weak_second,
    softer_hand,
    accents,
    flams,
)
MOST_OPEN = 2
WORTH_ASKING = 1.0  # in edges: an open figure that lies under its edge is left in peace


def find(heard: Heard, measures: Measures, exercise: Exercise, tempo: Tempo) -> tuple[Finding, ...]:
    """Say what was heard in a take, and what to practise.

    Parameters
    ----------
    heard, measures
        The take's hits, and the figures measured from them.
    exercise, tempo
        What is written, and the tempo given.

    Returns
    -------
    tuple of Finding
        What to practise first comes first; what is open and what is even come last.
    """
    if heard.unlike is not None:
        return (Finding("unlike_exercise", remark=heard.unlike),)
    take = figures_of(heard, measures, exercise)
    verdicts = [verdict for question in RULES for verdict in question(take)]
    missed = missed_notes(measures)
    tempos = uneven_above(heard, exercise, tempo)
    first: list[Finding] = []
    if heard.ambiguity is not None:  # which hand is which is not known: nothing is said of a hand
        first = [Finding("two_alignments", remark=heard.ambiguity)]
        verdicts = [v for v in verdicts if v.hand is None]
        missed = []
    verdicts = _without_explained(verdicts, take)
    over = sorted((v for v in verdicts if v.side == "over"), key=lambda v: (ORDER[v.kind], -v.times))
    faults = [verdict.finding() for verdict in over] + missed + tempos
    faults.sort(key=lambda finding: ORDER[finding.kind])
    open_ones = _open(verdicts, take)
    alone = not (first or faults or open_ones)
    last = [*open_ones, *([] if first else _even(verdicts, take, alone=alone))]
    return (*first, *faults, *(last or ([] if faults or first else [_too_few(take)])))


def _without_explained(verdicts: list[Verdict], take: TakeFigures) -> list[Verdict]:
    """Leave out what follows from something that is said already.

    Away from the click, every hand is early or late and wanders; single displaced notes displace their hand.
    """
    if any(v.measure == RUN_FROM_CLICK and v.side == "over" for v in verdicts):
        verdicts = [v for v in verdicts if not v.measure.endswith(("timing_sd_ms", "timing_mean_ms"))]
    moved = {
        p: v.hand
        for v in verdicts
        if v.side == "over" and v.measure.endswith(("short_share", "positions.timing_ms"))
        for p in v.positions
    }
    if not moved:
        return verdicts
    behind = _behind_without(moved, take)
    return [v for v in verdicts if not _is_explained(v, set(moved.values()), behind, take)]


def _is_explained(verdict: Verdict, hands: set[Hand | None], behind_ms: float, take: TakeFigures) -> bool:
    """Tell whether a verdict on whole hands comes from single notes that have a finding of their own."""
    if verdict.kind == "wandering_hand":
        return verdict.side == "open" and verdict.hand in hands
    whole = verdict.measure == "balance.timing_ms" or verdict.measure.endswith("timing_mean_ms")
    return whole and verdict.side == "over" and behind_ms < take.audible_ms


def _behind_without(moved: Mapping[int, Hand | None], take: TakeFigures) -> float:
    """Return how far the hands stand apart in their other notes, ms."""
    means = []
    for hand in take.hands:
        rows = [r for r in take.measures.positions if r.hand == hand and r.position not in moved]
        known = [r.timing_ms.value for r in rows if r.timing_ms.value is not None]
        if not known:
            return 0.0
        means.append(sum(known) / len(known))
    return max(means) - min(means)


def _open(verdicts: list[Verdict], take: TakeFigures) -> list[Finding]:
    """Name the most important questions that the take leaves open."""
    open_ones = [v for v in verdicts if v.side == "open" and v.times >= WORTH_ASKING]
    open_ones.sort(key=lambda v: (ORDER[v.kind], -v.times))
    repetitions = max(len({hit.repetition for hit in take.heard.hits}), 1)
    return [verdict.cannot_tell(repetitions) for verdict in open_ones[:MOST_OPEN]]


def _even(verdicts: list[Verdict], take: TakeFigures, *, alone: bool) -> list[Finding]:
    """Say in what the take is even to the ear: where the hands stand, how they scatter, how loud they are.

    Only where nothing else is said (``alone``) is there something to practise: one is not to go faster, too.
    """
    sides = {verdict.measure: verdict.side for verdict in verdicts}
    measures = take.measures
    timing, level = measures.balance_timing_ms, measures.balance_level_db
    name, figure, edge = "balance.level_db", level, AUDIBLE_LEVEL_DB
    figures = {}
    spreads = [f"hands.{hand}.timing_sd_ms" for hand in take.hands]
    if len(take.hands) == 2 and _all_under(sides, "balance.timing_ms", *spreads):
        name, figure, edge = "balance.timing_ms", timing, take.audible_ms
        scatter = {f"{hand} scatters by": measures.hands[hand].timing_sd_ms for hand in take.hands}
        figures = {"timing": timing, **scatter}
    if _all_under(sides, "balance.level_db"):
        figures["level"] = level
    if not figures:
        return []
    evidence = Evidence(name, figure.value, figure.unit, figure.n, figure.ci95, edge, take.exercise.struck)
    return [Finding("even", evidence, figures=figures, practise=alone)]


def _all_under(sides: Mapping[str, str], *names: str) -> bool:
    """Tell whether all of these lie plainly under what is heard."""
    return all(sides.get(name) == "under" for name in names)


def _too_few(take: TakeFigures) -> Finding:
    """Return that there is too little to judge, or nothing that stands out."""
    n = len(take.heard.hits)
    fewest = min((sum(hit.hand == hand for hit in take.heard.hits) for hand in take.hands), default=0)
    too_few = Remark("too few hits", {"n": n, "fewest": FEWEST})
    return Finding("cannot_tell", remark=too_few if fewest < FEWEST else Remark("nothing stands out"))
