"""Players for tests: what a perfect ear would have heard of them, without any sound.

``heard_of("RLRR LRLL", late_ms={"L": 8})`` plays the two-level model: a timekeeper, and a delay of the hand
at every blow. Times in ms unless a name says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.music.exercise import Exercise, Hand, Note, Tempo
from evenhand.music.text import parse_exercise
from evenhand.take import Clock, Heard, Hit, MissedNote

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Noise = Literal["normal", "heavy", "skewed"]
NOBODY_MISSED: frozenset[tuple[int, int]] = frozenset()
FAST = "1/16=480"  # 125 ms a note


@dataclass(frozen=True)
class Player:
    """A player: every figure is the one behind the blows, not the one that some take shows."""

    clock: Clock = "smooth"
    late_ms: Mapping[Hand, float] = field(default_factory=dict)
    hand_ms: Mapping[Hand, float] = field(default_factory=lambda: {"R": 4.0, "L": 5.0})
    timekeeper_ms: float = 0.0
    correction: float = 0.3  # of the timekeeper's asynchrony, from note to note, against a click
    noise: Noise = "normal"
    level_db: Mapping[Hand, float] = field(default_factory=lambda: {"R": -12.0, "L": -12.0})
    level_sd_db: Mapping[Hand, float] = field(default_factory=lambda: {"R": 1.2, "L": 1.6})
    second_db: Mapping[Hand, float] = field(default_factory=dict)
    second_early_ms: Mapping[Hand, float] = field(default_factory=dict)
    accent_db: float = 8.0
    grace_gap_ms: float = 30.0
    grace_gap_sd_ms: float = 4.0
    grace_db: float = -14.0
    grace_sd_db: float = 1.5
    hurry: float = 0.0  # share by which the tempo grows from start to end
    tiring_ms: float = 0.0  # added to each hand's spread by the end
    fading_db: float = 0.0  # added to the level by the end
    confidence: float = 1.0


def written(text: str, value: str = "1/16") -> Exercise:
    """Read an exercise of one note value, or one that opens with a value of its own."""
    return parse_exercise(text if ":" in text else f"{value}: {text}")


def heard_of(
    exercise: Exercise | str,
    *,
    repetitions: int = 16,
    tempo: str = FAST,
    seed: int = 0,
    missed: frozenset[tuple[int, int]] = NOBODY_MISSED,
    **changes: Any,
) -> Heard:
    """Return what was heard of a player who plays an exercise so many times.

    ``changes`` are fields of ``Player``; ``missed`` holds (repetition, position).
    """
    notes = written(exercise) if isinstance(exercise, str) else exercise
    rng = np.random.default_rng(seed)
    return play(notes, Tempo.parse(tempo), repetitions, Player(**changes), rng, missed)


def play(
    exercise: Exercise,
    tempo: Tempo,
    repetitions: int,
    who: Player,
    rng: np.random.Generator,
    missed: frozenset[tuple[int, int]] = NOBODY_MISSED,
) -> Heard:
    """Play, and hear perfectly."""
    at = np.tile(np.array(exercise.struck), repetitions)
    repetition = np.repeat(np.arange(1, repetitions + 1), len(exercise.struck))
    starts = np.array([float(s) for s in exercise.starts])
    whole_notes = starts[at] + (repetition - 1) * float(exercise.length)
    asynchrony = _asynchronies(exercise, at, who, rng)
    bend = 1 - who.hurry * (whole_notes / max(whole_notes[-1], 1e-9) - 1) / 2
    time_ms = 1000 + whole_notes * bend * tempo.whole_note_s * 1000 + asynchrony
    level = _levels(exercise, at, who, rng)
    keep = [k for k in range(at.size) if (int(repetition[k]), int(at[k])) not in missed]
    deviation = np.zeros(at.size)
    deviation[keep] = smooth_deviations(time_ms[keep], whole_notes[keep])
    hits: list[Hit] = []
    for k in keep:
        note = exercise.notes[int(at[k])]
        main = Hit(
            time_s=float(time_ms[k] / 1000),
            level_db=float(level[k]),
            confidence=who.confidence,
            hand=note.hand,
            repetition=int(repetition[k]),
            position=int(at[k]),
            asynchrony_ms=float(asynchrony[k]) if who.clock == "click" else None,
            deviation_ms=float(deviation[k]),
            written=float(whole_notes[k]),
        )
        hits += [*_graces(note, main, who, rng), main]
    misses = tuple(MissedNote(r, p) for r, p in sorted(missed))
    return Heard(tuple(hits), misses, clock=who.clock, tempo_bpm=tempo.bpm)


def _noise(kind: Noise, rng: np.random.Generator, n: int) -> Floats:
    """Draw noise of mean 0 and variance 1."""
    if kind == "heavy":
        return np.asarray(rng.standard_t(6, n) / np.sqrt(1.5))
    if kind == "skewed":
        return np.asarray((rng.gamma(4.0, 1.0, n) - 4.0) / 2.0)  # skewness 1
    return rng.standard_normal(n)


def _by_hand(exercise: Exercise, at: Ints, figures: Mapping[Hand, float]) -> Floats:
    """Return each hit's figure by its hand, 0 where none is given."""
    return np.array([figures.get(note.hand or "R", 0.0) for note in exercise.notes])[at]


def _asynchronies(exercise: Exercise, at: Ints, who: Player, rng: np.random.Generator) -> Floats:
    """Draw timekeeper plus hand, ms: free without a click, corrected from note to note against one."""
    keeper = who.timekeeper_ms * rng.standard_normal(at.size)
    if who.clock == "smooth":
        common = np.cumsum(keeper)
    else:
        common = np.zeros(at.size)
        now = who.timekeeper_ms * float(rng.standard_normal()) / np.sqrt(1 - (1 - who.correction) ** 2)
        for k, step in enumerate(keeper.tolist()):
            common[k] = now
            now = (1 - who.correction) * now + step
    spread = _by_hand(exercise, at, who.hand_ms) + who.tiring_ms * np.linspace(0, 1, at.size)
    late = _by_hand(exercise, at, who.late_ms)
    early = _by_hand(exercise, at, who.second_early_ms) * seconds(exercise)[at]
    return np.asarray(common + spread * _noise(who.noise, rng, at.size) + late - early)


def _levels(exercise: Exercise, at: Ints, who: Player, rng: np.random.Generator) -> Floats:
    """Draw levels, dB."""
    spread = _by_hand(exercise, at, who.level_sd_db) * _noise(who.noise, rng, at.size)
    weaker = _by_hand(exercise, at, who.second_db) * seconds(exercise)[at]
    accents = np.array([note.accent for note in exercise.notes])[at] * who.accent_db
    fading = who.fading_db * np.linspace(0, 1, at.size)
    return np.asarray(_by_hand(exercise, at, who.level_db) + spread + weaker + accents + fading)


def seconds(exercise: Exercise) -> Floats:
    """Mark the second notes of doubles with 1, shape (n_notes,)."""
    hands = [note.hand for note in exercise.notes]
    if len(hands) < 3:
        return np.zeros(len(hands))
    marks = [hands[p] is not None and hands[p - 1] == hands[p] != hands[p - 2] for p in range(len(hands))]
    return np.array(marks, dtype=np.float64)


def _graces(note: Note, main: Hit, who: Player, rng: np.random.Generator) -> list[Hit]:
    """Draw a main note's graces, evenly spread over the gap."""
    n = len(note.graces)
    if not n:
        return []
    gap = max(who.grace_gap_ms + who.grace_gap_sd_ms * float(rng.standard_normal()), 5.0)
    level = main.level_db + who.grace_db + who.grace_sd_db * float(rng.standard_normal())
    plain = replace(main, level_db=level, grace=True, asynchrony_ms=None, deviation_ms=None)
    return [
        replace(plain, time_s=main.time_s - gap * (n - k) / n / 1000, hand=hand)
        for k, hand in enumerate(note.graces)
    ]


def smooth_deviations(time_ms: Floats, whole_notes: Floats) -> Floats:
    """Return times less their local straight line over written time (tricube, 16 notes to either side)."""
    if time_ms.size < 3:
        return np.zeros(time_ms.size)
    steps = tuple(np.round(np.diff(whole_notes), 9).tolist())
    return np.asarray(_deviate(steps) @ (time_ms - time_ms[0]))


@lru_cache(maxsize=8)
def _deviate(steps: tuple[float, ...]) -> Floats:
    """Return the matrix from times to deviations: one weighted straight line a row, by pseudo-inverse."""
    at = np.concatenate([[0.0], np.cumsum(steps)])
    rows = np.eye(at.size)
    for i in range(at.size):
        near = np.arange(max(i - 16, 0), min(i + 17, at.size))
        root = (1 - (np.abs(near - i) / 17.0) ** 3) ** 1.5
        design = np.column_stack([np.ones(near.size), at[near] - at[i]]) * root[:, None]
        rows[i, near] -= np.linalg.pinv(design)[0] * root
    return rows
