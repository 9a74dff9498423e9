"""Weigh the candidates, and find the way through the exercise that they allow.

Conventions: costs in nats; arrays over candidates, rising in time.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from evenhand.listening.click_types import HeardClick
from evenhand.listening.evidence import (
    Candidates,
    beat_costs,
    bounces,
    echoes,
    extra_costs,
    just_before_costs,
    match_costs,
    start_costs,
    unlike,
)
from evenhand.listening.following import HIDDEN, SETTINGS, Evidence, Path, check_size, follow
from evenhand.listening.novelty import SETTINGS as NOVELTY
from evenhand.listening.places import away_s
from evenhand.listening.score import Score

CLEAR_STRENGTH = NOVELTY.clear
_BEGUN_ELSEWHERE = 3.5  # nats, for beginning anywhere but at the top
_NEARLY_ALL, _FEW_WANTING, _MANY_WANTING = 0.9, 0.04, 0.08
_MOST_BACK = 24
_ENOUGH = 0.85  # of the clear candidates taken for notes
_AT_A_CLICK_S = 0.012
_NEVER = 1e5


Span = tuple[float, float]  # from when to when, seconds


def best_path(
    score: Score,
    found: Candidates,
    click: HeardClick | None,
    trusted: Span | None = None,
    *,
    from_s: float | None = None,
) -> tuple[Path, Candidates, Evidence] | None:
    """Follow the player; look at faint candidates only where the clear ones leave notes wanting.

    Soft notes can lie hidden under the sound of loud ones all through a take; then a
    note that is not heard says little, and where much that was heard is left over, more
    notes are allowed to be unheard. ``trusted`` is when the sound says nothing of whether it is
    playing; ``from_s`` is the blow that the exercise is known to begin with.
    """
    check_size(len(found), len(score))
    found = found.only(~bounces(found, score))
    if from_s is not None:
        found = found.only(found.times_s >= from_s)
    clear = found.only(found.strength > CLEAR_STRENGTH)
    evidence = weigh(clear, score, click, trusted=trusted, from_s=from_s)
    path = follow(score, evidence)
    if path is not None and explained(path, clear) > _NEARLY_ALL and wanting(path) < _FEW_WANTING:
        return path, clear, evidence
    evidence = weigh(found, score, click, trusted=trusted, from_s=from_s)
    settings = replace(SETTINGS, back=look_back(found, score))
    path = follow(score, evidence, settings=settings)
    if path is None:
        return None
    if explained(path, found) < _ENOUGH or wanting(path) > _MANY_WANTING:
        gain = 1.1 if score.graces.any() else 1.04
        lenient = follow(score, evidence, settings=replace(HIDDEN, back=settings.back))
        if lenient is not None and explained(lenient, found) > gain * explained(path, found):
            path = lenient
    return path, found, evidence


def look_back(found: Candidates, score: Score) -> int:
    """Return how many candidates may lie between a note and the next: more where there is much noise."""
    starts = np.append(score.starts, score.starts[0] + score.length)
    longest_s = 1.2 * float(np.diff(starts).max()) * score.tempo.whole_note_s
    within = np.searchsorted(found.times_s, found.times_s + longest_s) - np.arange(len(found))
    most = int(np.percentile(within, 90)) if len(found) else 0
    return int(np.clip(most + 1, SETTINGS.back, _MOST_BACK))


def wanting(path: Path) -> float:
    """Return the share of notes between the first and the last of each stretch that have no hit."""
    skipped = np.diff(path.notes)[np.diff(path.stretches) == 0] - 1
    return float(skipped.sum() / max(1, len(path.notes)))


def explained(path: Path, found: Candidates) -> float:
    """Return the share of the clear candidates that are taken for notes."""
    clear = found.strength > CLEAR_STRENGTH
    return float(clear[path.candidates].sum() / max(1, (clear & ~echoes(found)).sum()))


def weigh(
    found: Candidates,
    score: Score,
    click: HeardClick | None,
    *,
    trusted: Span | None = None,
    from_s: float | None = None,
) -> Evidence:
    """Turn what is known of the candidates into costs; ``trusted`` and ``from_s`` as in ``best_path``."""
    strange = unlike(found)
    if click is not None:  # what is left of a click colours the hit on top of it
        strange = np.where(away_s(found.times_s, click.times_s) < _AT_A_CLICK_S, 0.0, strange)
    if trusted is not None:
        strange = np.where((found.times_s >= trusted[0]) & (found.times_s < trusted[1]), 0.0, strange)
    extra = extra_costs(found, score, strange)
    match = match_costs(found, score, strange)
    start = np.tile(np.where(np.arange(len(score)) == 0, 0.0, _BEGUN_ELSEWHERE), (len(found), 1))
    if click is not None:
        start = start + start_costs(found, score, click)
        match = match + beat_costs(found, score, click)
    else:
        start = start + just_before_costs(found, score, strange)
    if from_s is not None:
        start = np.full_like(start, _NEVER)
        start[np.abs(found.times_s - from_s).argmin() if len(found) else slice(0), 0] = 0.0
    return Evidence(found.times_s, extra, match, start)
