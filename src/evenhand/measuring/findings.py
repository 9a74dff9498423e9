"""From figures to findings, in the order of what to practise first.

A finding is only made where its whole interval lies beyond what an ear can tell. Where it straddles that, at
most two questions are named as open, with how many repetitions would tell.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from evenhand.domain.audible import AUDIBLE_LEVEL_DB
from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.findings import ORDER, Evidence, Finding
from evenhand.domain.heard import Heard
from evenhand.domain.measures import Measures
from evenhand.domain.remarks import Remark
from evenhand.domain.tempo import Tempo
from evenhand.measuring.asked import Asked, asked_of
from evenhand.measuring.asked_of_sound import accents, flams, softer_hand, uneven_double, weak_second
from evenhand.measuring.asked_of_time import (
    RUN_FROM_CLICK,
    changing_tempo,
    displaced_note,
    hand_behind,
    leaving_click,
    tiring,
    wandering,
)
from evenhand.measuring.estimates import FEWEST
from evenhand.measuring.lost_notes import missed_notes, uneven_above
from evenhand.measuring.verdicts import Verdict

QUESTIONS: tuple[Callable[[Asked], Iterator[Verdict]], ...] = (
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
    asked = asked_of(heard, measures, exercise)
    verdicts = [verdict for question in QUESTIONS for verdict in question(asked)]
    missed = missed_notes(measures)
    tempos = uneven_above(heard, exercise, tempo)
    first: list[Finding] = []
    if heard.ambiguity is not None:  # which hand is which is not known: nothing is said of a hand
        first = [Finding("two_alignments", remark=heard.ambiguity)]
        verdicts = [v for v in verdicts if v.hand is None]
        missed = []
    verdicts = _without_explained(verdicts, asked)
    over = sorted((v for v in verdicts if v.side == "over"), key=lambda v: (ORDER[v.kind], -v.times))
    faults = [verdict.finding() for verdict in over] + missed + tempos
    faults.sort(key=lambda finding: ORDER[finding.kind])
    open_ones = _open(verdicts, asked)
    alone = not (first or faults or open_ones)
    last = [*open_ones, *([] if first else _even(verdicts, asked, alone=alone))]
    return (*first, *faults, *(last or ([] if faults or first else [_too_few(asked)])))


def _without_explained(verdicts: list[Verdict], asked: Asked) -> list[Verdict]:
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
    behind = _behind_without(moved, asked)
    return [v for v in verdicts if not _is_explained(v, set(moved.values()), behind, asked)]


def _is_explained(verdict: Verdict, hands: set[Hand | None], behind_ms: float, asked: Asked) -> bool:
    """Tell whether a verdict on whole hands comes from single notes that have a finding of their own."""
    if verdict.kind == "wandering_hand":
        return verdict.side == "open" and verdict.hand in hands
    whole = verdict.measure == "balance_timing_ms" or verdict.measure.endswith("timing_mean_ms")
    return whole and verdict.side == "over" and behind_ms < asked.audible_ms


def _behind_without(moved: Mapping[int, Hand | None], asked: Asked) -> float:
    """Return how far the hands stand apart in their other notes, ms."""
    means = []
    for hand in asked.hands:
        rows = [r for r in asked.measures.positions if r.hand == hand and r.position not in moved]
        known = [r.timing_ms.value for r in rows if r.timing_ms.value is not None]
        if not known:
            return 0.0
        means.append(sum(known) / len(known))
    return max(means) - min(means)


def _open(verdicts: list[Verdict], asked: Asked) -> list[Finding]:
    """Name the most important questions that the take leaves open."""
    open_ones = [v for v in verdicts if v.side == "open" and v.times >= WORTH_ASKING]
    open_ones.sort(key=lambda v: (ORDER[v.kind], -v.times))
    repetitions = max(len({hit.repetition for hit in asked.heard.hits}), 1)
    return [verdict.cannot_tell(repetitions) for verdict in open_ones[:MOST_OPEN]]


def _even(verdicts: list[Verdict], asked: Asked, *, alone: bool) -> list[Finding]:
    """Say in what the take is even to the ear: where the hands stand, how they scatter, how loud they are.

    Only where nothing else is said (``alone``) is there something to practise: one is not to go faster, too.
    """
    sides = {verdict.measure: verdict.side for verdict in verdicts}
    measures = asked.measures
    timing, level = measures.balance_timing_ms, measures.balance_level_db
    name, figure, edge = "balance_level_db", level, AUDIBLE_LEVEL_DB
    figures = {}
    spreads = [f"hands.{hand}.timing_sd_ms" for hand in asked.hands]
    if len(asked.hands) == 2 and _all_under(sides, "balance_timing_ms", *spreads):
        name, figure, edge = "balance_timing_ms", timing, asked.audible_ms
        scatter = {f"{hand} scatters by": measures.hands[hand].timing_sd_ms for hand in asked.hands}
        figures = {"timing": timing, **scatter}
    if _all_under(sides, "balance_level_db"):
        figures["level"] = level
    if not figures:
        return []
    evidence = Evidence(name, figure.value, figure.unit, figure.n, figure.ci95, edge, asked.exercise.struck)
    return [Finding("even", evidence, figures=figures, practise=alone)]


def _all_under(sides: Mapping[str, str], *names: str) -> bool:
    """Tell whether all of these lie plainly under what is heard."""
    return all(sides.get(name) == "under" for name in names)


def _too_few(asked: Asked) -> Finding:
    """Return that there is too little to judge, or nothing that stands out."""
    n = len(asked.heard.hits)
    fewest = min((sum(hit.hand == hand for hit in asked.heard.hits) for hand in asked.hands), default=0)
    too_few = Remark("too few hits", {"n": n, "fewest": FEWEST})
    return Finding("cannot_tell", remark=too_few if fewest < FEWEST else Remark("nothing stands out"))
