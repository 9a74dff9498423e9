"""Hear a take: samples and exercise in, what was heard out.

This is the main path, stage by stage. Conventions: ``samples`` shape (n,), mono,
full scale 1.0; times in seconds from the first sample; nothing here reads a file,
a clock or a random number.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.exercise import Exercise
from evenhand.domain.heard import ExtraHit, Heard
from evenhand.domain.tempo import Tempo
from evenhand.listening.attack import Timed, time_hits
from evenhand.listening.bands import band_energies
from evenhand.listening.cutting import Samples, rows
from evenhand.listening.doubts import (
    NOTHING_LIKE_IT,
    fits_otherwise,
    other_tempos,
    tempo_warning,
    unlike_exercise,
)
from evenhand.listening.evidence import (
    Candidates,
    beat_costs,
    counted_in_costs,
    echoes,
    extra_costs,
    gather,
    match_costs,
    start_costs,
    unlike,
)
from evenhand.listening.following import HIDDEN, Evidence, Path, follow
from evenhand.listening.following import SETTINGS as SETTLED
from evenhand.listening.clicks import HeardClick, find_click, without_click
from evenhand.listening.novelty import SETTINGS, Novelty, candidates, novelty
from evenhand.listening.score import Score
from evenhand.listening.second_look import Matched, as_followed, find_graces, find_skipped, graces_among
from evenhand.listening.told import tell, tell_blind

ClickChoice = Literal["auto", "heard", "none"]
Progress = Callable[[float], None]

_BEGUN_ELSEWHERE = 6.0  # nats, for beginning anywhere but at the top
_NEARLY_ALL, _FEW_WANTING, _MANY_WANTING = 0.9, 0.04, 0.08
_ENOUGH = 0.85  # of the clear candidates taken for notes
_CLEAR_STRENGTH = 2.8  # novelty that speaks for itself
_LEAST_GAIN = 2.5  # nats by which the attack's shape must explain the sound of a faint hit
_CLICK_NEAR_S, _CLICK_LASTS_S = 0.012, 0.06
_CLICK_REST = 0.15  # of the energy: less left than this is no stroke


def listen(
    samples: NDArray[np.generic],
    rate_hz: int,
    *,
    exercise: Exercise | None = None,
    tempo: Tempo | None = None,
    click: ClickChoice = "auto",
    progress: Progress | None = None,
) -> Heard:
    """Hear one take."""
    moved, found = moments(samples, rate_hz)
    beat_s = None if tempo is None else tempo.beat_s
    clicking = None if click == "none" else find_click(samples, rate_hz, found, beat_s)
    if clicking is not None:
        cleaned = without_click(samples, rate_hz, clicking)
        moved, found = moments(cleaned, rate_hz)
        found = found.only(~only_click(samples, cleaned, rate_hz, found, clicking))
        samples = cleaned
    if exercise is None or tempo is None:
        strong = found.only(found.strength > SETTINGS.strong)
        return tell_blind(strong, time_hits(samples, rate_hz, strong.times_s))
    score = Score.of(exercise, tempo)
    heard = follow_take(samples, rate_hz, score, moved, found, clicking)
    if heard.unlike is None:
        return heard
    for other in other_tempos(tempo):
        again = follow_take(samples, rate_hz, Score.of(exercise, other), moved, found, clicking)
        if again.unlike is None and len(again.hits) >= 0.8 * (len(heard.hits) + len(heard.extra)):
            warning = f"The tempo given was {tempo}; the take fits {other}, and is heard so."
            return replace(again, warnings=(*again.warnings, warning))
    strong = found.only(found.strength > SETTINGS.strong)
    blind = tell_blind(strong, time_hits(samples, rate_hz, strong.times_s))
    return replace(blind, unlike=heard.unlike, clicks_s=heard.clicks_s)


def follow_take(
    samples: NDArray[np.generic],
    rate_hz: int,
    score: Score,
    moved: Novelty,
    found: Candidates,
    click: HeardClick | None,
) -> Heard:
    """Follow the player through the exercise, look again where notes are wanting, and tell."""
    followed = best_path(score, found, click)
    if followed is None:
        return Heard(hits=(), unlike=NOTHING_LIKE_IT)
    path, seen, evidence = followed
    matched = as_followed(seen, path)
    matched = find_skipped(matched, score, moved.strength)
    matched = find_graces(matched, score, moved.strength)
    heard = time_and_tell(samples, rate_hz, score, found, matched, click)
    return with_doubts(heard, score, evidence, path)


def listen_to_blows(
    times_s: NDArray[np.float64],
    levels_db: NDArray[np.float64],
    *,
    exercise: Exercise | None = None,
    tempo: Tempo | None = None,
) -> Heard:
    """Hear a take whose blows are known already, as from an electronic pad.

    Parameters
    ----------
    times_s, levels_db : shape (n_blows,), times rising
    """
    n = len(times_s)
    blows = Candidates(
        np.asarray(times_s, dtype=np.float64),
        np.full(n, 9.0),
        np.asarray(levels_db, dtype=np.float64),
        np.zeros((n, 1)),
    )
    exact = Timed(blows.times_s, blows.level_db, np.ones(n, dtype=bool), np.zeros(n), np.full(n, 99.0))
    if exercise is None or tempo is None:
        return tell_blind(blows, exact)
    score = Score.of(exercise, tempo)
    followed = best_path(score, blows, None)
    if followed is None:
        return Heard(hits=(), unlike=NOTHING_LIKE_IT)
    path, _, evidence = followed
    matched, used = graces_among(as_followed(blows, path), score, blows.times_s, path.candidates)
    between = (blows.times_s > matched.times_s[0]) & (blows.times_s < matched.times_s[-1])
    loose = np.setdiff1d(np.flatnonzero(between), used)
    extra = tuple(ExtraHit(float(times_s[i]), float(levels_db[i])) for i in loose)
    heard = tell(score, matched, exact.only(used), extra, None)
    return with_doubts(heard, score, evidence, path)


def with_doubts(heard: Heard, score: Score, evidence: Evidence, path: Path) -> Heard:
    """Add what cannot be told for sure."""
    return replace(
        heard,
        ambiguity=fits_otherwise(score, evidence, path),
        unlike=unlike_exercise(score, heard),
        warnings=(*heard.warnings, *tempo_warning(score.tempo, heard)),
    )


def moments(samples: NDArray[np.generic], rate_hz: int) -> tuple[Novelty, Candidates]:
    """Find the moments at which something begins to sound."""
    energies = band_energies(samples, rate_hz)
    heard = novelty(energies)
    return heard, gather(energies, heard, candidates(heard))


def only_click(
    samples: Samples, cleaned: NDArray[np.float32], rate_hz: int, found: Candidates, click: HeardClick
) -> NDArray[np.bool_]:
    """Tell which candidates are but the rest of a click: taking it out took most of them away."""
    since = found.times_s[:, None] - click.times_s[None, :]
    near = np.flatnonzero(((since > -_CLICK_NEAR_S) & (since < _CLICK_LASTS_S)).any(axis=1))
    first = np.round((found.times_s[near] - 0.002) * rate_hz).astype(np.intp)
    length = int(0.012 * rate_hz)
    was = rows(samples, first, length).astype(np.float64)
    left = rows(cleaned, first, length).astype(np.float64)
    out = np.zeros(len(found), dtype=bool)
    out[near] = left.var(axis=1) < _CLICK_REST * was.var(axis=1)
    return out


def _near(found: Candidates, click: HeardClick, within_s: float) -> NDArray[np.bool_]:
    """Tell which candidates stand at a click."""
    return np.asarray(np.abs(found.times_s[:, None] - click.times_s[None, :]).min(axis=1) < within_s)


def time_and_tell(
    samples: NDArray[np.generic],
    rate_hz: int,
    score: Score,
    found: Candidates,
    matched: Matched,
    click: HeardClick | None,
) -> Heard:
    """Time the notes and what was played besides, and put it into words."""
    loose = found.only(left_over(found, matched))
    rough = np.concatenate([matched.times_s, loose.times_s])
    order = np.argsort(rough, kind="stable")
    timed = time_hits(samples, rate_hz, rough[order])
    back = np.argsort(order, kind="stable")
    notes = timed.only(back[: len(matched.times_s)])
    others = timed.only(back[len(matched.times_s) :])
    extra = tuple(
        ExtraHit(t, level)
        for t, level in zip(others.times_s.tolist(), others.levels_db.tolist(), strict=True)
    )
    there = (matched.strength > _CLEAR_STRENGTH) | (notes.fit_gain > _LEAST_GAIN)
    return tell(score, matched.only(there), notes.only(np.flatnonzero(there)), extra, click)


def left_over(found: Candidates, matched: Matched) -> NDArray[np.bool_]:
    """Tell which candidates are blows that no note accounts for, between the first note and the last."""
    away = np.abs(found.times_s[:, None] - matched.times_s[None, :]).min(axis=1)
    inside = (found.times_s > matched.times_s[0]) & (found.times_s < matched.times_s[-1])
    return (found.strength > SETTINGS.strong) & (away > 0.012) & inside & ~echoes(found)


def best_path(
    score: Score, found: Candidates, click: HeardClick | None
) -> tuple[Path, Candidates, Evidence] | None:
    """Follow the player; look at faint candidates only where the clear ones leave notes wanting.

    Soft notes can lie hidden under the sound of loud ones all through a take; then a
    note that is not heard says little, and where much that was heard is left over, more
    notes are allowed to be unheard.
    """
    clear = found.only(found.strength > _CLEAR_STRENGTH)
    evidence = weigh(clear, score, click)
    path = follow(score, evidence)
    if path is not None and explained(path, clear) > _NEARLY_ALL and wanting(path) < _FEW_WANTING:
        return path, clear, evidence
    evidence = weigh(found, score, click)
    path = follow(score, evidence)
    if path is None:
        return None
    if explained(path, found) < _ENOUGH or wanting(path) > _MANY_WANTING:
        gain = 1.1 if score.graces.any() else 1.04
        lenient = follow(score, weigh(found, score, click, HIDDEN.before), settings=HIDDEN)
        if lenient is not None and explained(lenient, found) > gain * explained(path, found):
            path = lenient
    return path, found, evidence


def wanting(path: Path) -> float:
    """Return the share of notes between the first and the last of each stretch that have no hit."""
    skipped = np.diff(path.notes)[np.diff(path.stretches) == 0] - 1
    return float(skipped.sum() / max(1, len(path.notes)))


def explained(path: Path, found: Candidates) -> float:
    """Return the share of the clear candidates that are taken for notes."""
    clear = found.strength > _CLEAR_STRENGTH
    return float(clear[path.candidates].sum() / max(1, (clear & ~echoes(found)).sum()))


def weigh(
    found: Candidates, score: Score, click: HeardClick | None, before: float = SETTLED.before
) -> Evidence:
    """Turn what is known of the candidates into costs.

    ``before`` is what a stroke before the beginning counts, as in the follower's settings.
    """
    strange = unlike(found)
    if click is not None:  # what is left of a click colours the hit on top of it
        strange = np.where(_near(found, click, _CLICK_NEAR_S), 0.0, strange)
    extra = extra_costs(found, score, strange)
    match = match_costs(found, score, strange)
    start = np.tile(np.where(np.arange(len(score)) == 0, 0.0, _BEGUN_ELSEWHERE), (len(found), 1))
    if click is not None:
        start = start + start_costs(found, score, click)
        match = match + beat_costs(found, score, click)
    elif not score.graces.any():
        start = start + counted_in_costs(found, score, extra, before)
    return Evidence(found.times_s, extra, match, start)
