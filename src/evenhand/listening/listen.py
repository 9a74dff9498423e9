"""Hear a take: samples and exercise in, what was heard out.

This is the main path, stage by stage. Conventions: ``samples`` shape (n,), mono,
full scale 1.0; times in seconds from the first sample; nothing here reads a file,
a clock or a random number.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.exercise import Exercise
from evenhand.domain.heard import ExtraHit, Heard
from evenhand.domain.tempo import Tempo
from evenhand.listening.attack import time_hits
from evenhand.listening.bands import band_energies
from evenhand.listening.evidence import Candidates, echoes, extra_costs, gather, match_costs
from evenhand.listening.following import Evidence, follow
from evenhand.listening.novelty import SETTINGS, candidates, novelty
from evenhand.listening.score import Score
from evenhand.listening.second_look import Matched, as_followed, find_graces, find_skipped
from evenhand.listening.told import tell, tell_blind

ClickChoice = Literal["auto", "heard", "none"]
Progress = Callable[[float], None]


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
    energies = band_energies(samples, rate_hz)
    strength = novelty(energies)
    found = gather(energies, strength, candidates(strength))
    if exercise is None or tempo is None:
        strong = found.only(found.strength > SETTINGS.strong)
        return tell_blind(strong, time_hits(samples, rate_hz, strong.times_s))
    score = Score.of(exercise, tempo)
    path = follow(score, weigh(found, score))
    if path is None:
        return Heard(hits=())
    matched = as_followed(found, path)
    matched = find_skipped(matched, score, strength)
    matched = find_graces(matched, score, strength)
    return time_and_tell(samples, rate_hz, score, found, matched)


def time_and_tell(
    samples: NDArray[np.generic], rate_hz: int, score: Score, found: Candidates, matched: Matched
) -> Heard:
    """Time the notes and what was played besides, and put it into words."""
    loose = found.only(left_over(found, matched))
    rough = np.concatenate([matched.times_s, loose.times_s])
    order = np.argsort(rough, kind="stable")
    timed = time_hits(samples, rate_hz, rough[order])
    back = np.argsort(order, kind="stable")
    notes = timed.only(back[: len(matched.times_s)])
    others = timed.only(back[len(matched.times_s) :])
    extra = tuple(ExtraHit(t, level) for t, level in zip(others.times_s.tolist(), others.levels_db.tolist(), strict=True))
    return tell(score, matched, notes, extra, None)


def left_over(found: Candidates, matched: Matched) -> NDArray[np.bool_]:
    """Tell which candidates are blows that no note accounts for, between the first note and the last."""
    away = np.abs(found.times_s[:, None] - matched.times_s[None, :]).min(axis=1)
    inside = (found.times_s > matched.times_s[0]) & (found.times_s < matched.times_s[-1])
    return (found.strength > SETTINGS.strong) & (away > 0.012) & inside & ~echoes(found)


def weigh(found: Candidates, score: Score) -> Evidence:
    """Turn what is known of the candidates into costs."""
    start = np.where(np.arange(len(score)) == 0, 0.0, 6.0)
    return Evidence(
        found.times_s, extra_costs(found, score), match_costs(found, score), np.tile(start, (len(found), 1))
    )
