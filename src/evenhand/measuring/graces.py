"""Flams and drags: how far ahead the grace note is, and how much weaker.

Conventions: the gap is from the grace note to its main note in ms, positive; of a drag the first of the two
graces is measured (it opens the ornament), of a flam its only one. The level is the grace's less its
main note's in dB (a drag: the mean of its graces), negative = weaker. Both go by the hand of the main note.
"""

from __future__ import annotations

import numpy as np

from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.heard import Heard, Hit
from evenhand.domain.measures import GraceMeasures
from evenhand.measuring.estimates import mean_measure

SURE_ENOUGH = 0.2  # confidence below which an ornament is left out


def graces(heard: Heard, exercise: Exercise) -> dict[Hand, GraceMeasures]:
    """Measure the ornaments of each hand that has any written; only those heard whole count."""
    wanted = {p: len(note.graces) for p, note in enumerate(exercise.notes) if note.graces}
    if not wanted:
        return {}
    ornaments = _ornaments(heard, wanted)
    out: dict[Hand, GraceMeasures] = {}
    hands: tuple[Hand, Hand] = ("R", "L")
    for hand in hands:
        own = [(main, ahead) for main, ahead in ornaments if main.hand == hand]
        if any(exercise.notes[p].hand == hand for p in wanted):
            at = np.array([main.position or 0 for main, _ in own], dtype=np.int64)
            gap = [1000 * (main.time_s - ahead[0].time_s) for main, ahead in own]
            level = [sum(g.level_db for g in ahead) / len(ahead) - main.level_db for main, ahead in own]
            out[hand] = GraceMeasures(
                gap_ms=mean_measure(np.array(gap), at, "ms"), level_db=mean_measure(np.array(level), at, "dB")
            )
    return out


def _ornaments(heard: Heard, wanted: dict[int, int]) -> list[tuple[Hit, list[Hit]]]:
    """Return main notes with all their graces, each in order of time."""
    ahead: dict[tuple[int | None, int | None, int], list[Hit]] = {}
    mains: list[Hit] = []
    for hit in sorted(heard.hits, key=lambda h: h.time_s):
        if hit.position not in wanted or hit.confidence < SURE_ENOUGH:
            continue
        if hit.grace:
            ahead.setdefault((hit.repetition, hit.position, hit.stretch), []).append(hit)
        else:
            mains.append(hit)
    pairs = [(main, ahead.get((main.repetition, main.position, main.stretch), [])) for main in mains]
    return [(m, g) for m, g in pairs if len(g) == wanted[m.position or 0] and g[-1].time_s < m.time_s]
