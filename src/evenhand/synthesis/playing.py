"""How the invented player plays: exercise and tempo in, planned blows out.

Conventions: ``time_s`` in seconds of the take; ``level_db`` of a planned blow is
relative to the player's loudest kind of stroke (accents where there are any).
Repetitions count from 1, positions from 0.

Timing has two levels (Wing & Kristofferson 1973, Percept Psychophys 14:5-12): a
timekeeper whose intervals vary, and independent delays of each hand on top.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import WrongUse
from evenhand.music.exercise import Exercise, Hand, Note, Tempo, check_marks, other_hand
from evenhand.music.loudness import dynamics_db

BlowKind = Literal["note", "grace", "bounce", "extra"]
Floats = NDArray[np.float64]

BOUNCE_GAP_MS, BOUNCE_GAP_SD_MS = 27.5, 1.5  # multiple-bounce strokes, common practice
BOUNCE_LOSS_DB, MOST_BOUNCES = 3.5, 7
MOST_APART_MS = 6.0  # of both hands at once; further apart it is a flam (2 to 10 ms fuse: from memory)
SLOWEST_SHARE, FASTEST_SHARE = 0.3, 3.0  # of the asked tempo; no drift goes beyond


def _both(value: float) -> Mapping[Hand, float]:
    return {"R": value, "L": value}


@dataclass(frozen=True)
class Player:
    """How the invented player plays. The defaults are a decent player.

    ``stops`` holds (repetition, position, pause_s): the note at that position is not
    played any more; after the pause a new repetition opens at position 0.
    ``second_db`` and ``second_late_ms`` fall on every second note of a same-hand pair.
    ``drift_bpm_per_min`` is in beats of the tempo asked. ``correction`` is the share of
    the distance to the click that is made good at each note while following it.
    Where there are strong accents the others are ``strong_db`` softer; ghosts are ``ghost_db`` under a tap.
    ``fatigue_spread`` multiplies the spread by the end of the take, ``fatigue_db`` is
    the level lost by then. ``first_db`` falls on the first time through. ``miss_run`` is how many
    notes are missed in a row; the first ``misses_first`` notes of the take are not played.
    """

    timekeeper_sd_ms: float = 6.0
    hand_sd_ms: Mapping[Hand, float] = field(default_factory=lambda: _both(3.0))
    late_ms: Mapping[Hand, float] = field(default_factory=lambda: _both(0.0))
    level_db: Mapping[Hand, float] = field(default_factory=lambda: _both(0.0))
    level_sd_db: float = 1.0
    accent_db: float = 9.0
    strong_db: float = 3.0
    ghost_db: float = 9.0
    second_db: float = 0.0
    second_late_ms: float = 0.0
    drift_bpm_per_min: float = 0.0
    tempo_ratio: float = 1.0
    fatigue_spread: float = 1.0
    fatigue_db: float = 0.0
    first_db: float = 0.0
    miss_rate: float = 0.0
    miss_run: int = 1
    misses_first: int = 0
    extra_rate: float = 0.0
    grace_gap_ms: float = 30.0
    grace_gap_sd_ms: float = 3.0
    grace_db: float = -15.0
    stops: tuple[tuple[int, int, float], ...] = ()
    start_position: int = 0
    follow_click: bool = True
    correction: float = 0.25


@dataclass(frozen=True, slots=True)
class Blow:
    """One planned blow, or one that was left out."""

    time_s: float
    level_db: float
    hand: Hand
    repetition: int
    position: int
    kind: BlowKind = "note"


@dataclass(frozen=True, slots=True)
class Performance:
    """All blows in order of time; written notes left out; the tempo held at each tick."""

    blows: tuple[Blow, ...]
    missed: tuple[Blow, ...]
    tempo_curve: tuple[tuple[float, float], ...]
    end_s: float
    stretches: int


@dataclass(frozen=True, slots=True)
class _Step:
    """One written note or rest on the player's way through the exercise."""

    repetition: int
    position: int
    stretch: int


def perform(
    exercise: Exercise,
    tempo: Tempo,
    repetitions: int,
    player: Player,
    *,
    first_s: float,
    follows: bool,
    rng: np.random.Generator,
) -> Performance:
    """Plan every blow of a take.

    Parameters
    ----------
    exercise, tempo, repetitions
        What is asked. A broken repetition is played again: each stop adds one.
    first_s
        When the first note is due, seconds.
    follows
        Whether a click is there to be followed; else the player's own clock runs free.
    rng
        Randomness. Timing, level, misses and extras draw from streams of their own, so
        that changing one leaves the others as they are.
    """
    _check(exercise, repetitions, player)
    streams = dict(zip(("clock", "hand", "level", "miss", "extra", "grace"), rng.spawn(6), strict=True))
    way = list(_way(exercise, repetitions, player))
    ticks, bpm = _ticks(exercise, tempo, player, way, first_s, follows=follows, rng=streams["clock"])
    struck = [i for i, step in enumerate(way) if not exercise.notes[step.position].is_rest]
    mains = list(_mains(exercise, player, way, ticks=ticks, streams=streams))
    left_out = _left_out(player, way, struck, streams["miss"])
    blows: list[Blow] = []
    missed: list[Blow] = []
    for main, gone in zip(mains, left_out, strict=True):
        note = exercise.notes[main.position]
        graces = list(_graces(main, note, player, streams["grace"]))
        (missed if gone else blows).extend([*graces, main])
        if note.both and not gone:
            blows.append(_other_hand(main, player, streams["grace"]))
        if note.buzz and not gone:
            blows.extend(_bounces(main, float(note.value) * tempo.whole_note_s, streams["grace"]))
    blows.extend(_extras(player, mains, streams["extra"]))
    blows.sort(key=lambda blow: blow.time_s)
    end_s = float(ticks[-1]) + float(exercise.notes[way[-1].position].value) * tempo.whole_note_s
    curve = tuple((float(t), float(b)) for t, b in zip(ticks, bpm, strict=True))
    return Performance(tuple(blows), tuple(missed), curve, end_s, way[-1].stretch + 1)


def _check(exercise: Exercise, repetitions: int, player: Player) -> None:
    check_marks(exercise, frozenset({"rim, cross-stick or foot"}), "the simulated player")
    if not exercise.struck:
        raise WrongUse("exercise: got no notes; must have at least one note that is struck.")
    if repetitions < 1:
        raise WrongUse(f"repetitions: got {repetitions}; must be 1 or more.")
    if not 0 <= player.start_position < len(exercise.notes):
        raise WrongUse(
            f"start_position: got {player.start_position}; must be 0 to {len(exercise.notes) - 1}, "
            "a position of the exercise."
        )
    for repetition, position, pause_s in player.stops:
        earliest = player.start_position + 1 if repetition == 1 else 1
        if repetition < 1 or not earliest <= position < len(exercise.notes) or pause_s < 0:
            raise WrongUse(
                f"stops: got repetition {repetition}, position {position}, pause {pause_s:g} s; must be a "
                f"repetition from 1, a position from {earliest} to {len(exercise.notes) - 1} and no negative "
                "pause."
            )


def _way(exercise: Exercise, repetitions: int, player: Player) -> Iterator[_Step]:
    """Walk the exercise as it is played: from the start position, around, back at each stop."""
    breaks = {(repetition, position) for repetition, position, _ in player.stops}
    position, stretch, repetition, last = player.start_position, 0, 1, repetitions
    while repetition <= last:
        if (repetition, position) in breaks:
            repetition, position, stretch, last = repetition + 1, 0, stretch + 1, last + 1
            continue
        yield _Step(repetition, position, stretch)
        position += 1
        if position == len(exercise.notes):
            repetition, position = repetition + 1, 0


def _ticks(
    exercise: Exercise,
    tempo: Tempo,
    player: Player,
    way: list[_Step],
    first_s: float,
    *,
    follows: bool,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:
    """Run the timekeeper over the way: when each step is due to it, and the tempo it held.

    The spread is that of an interval of the commonest length; others go by the root.
    """
    values = [float(exercise.notes[step.position].value / tempo.beat) for step in way]
    usual, pauses = float(np.median(values)), _pauses(player, way)
    noise_s = rng.standard_normal(len(way)) * player.timekeeper_sd_ms / 1000
    start_bpm = tempo.bpm * player.tempo_ratio
    ticks, tempos = np.empty(len(way)), np.empty(len(way))
    due = tick = first_s  # what the click says, what the player's clock says
    for i, beats in enumerate(values):
        if i in pauses:
            due, tick = _restart(due, tick, pauses[i], first_s, 60 / start_bpm, follows=follows)
        bpm = start_bpm + player.drift_bpm_per_min * (tick - first_s) / 60
        bpm = min(max(bpm, SLOWEST_SHARE * start_bpm), FASTEST_SHARE * start_bpm)
        ticks[i], tempos[i] = tick, bpm
        spread = math.sqrt(beats / usual) * _tiring(player, i / len(way))
        pull = player.correction * (tick - due) if follows else 0.0
        tick += 60 / bpm * beats + noise_s[i] * spread - pull
        due += 60 / start_bpm * beats
    return ticks, tempos


def _restart(
    due: float, tick: float, pause_s: float, first_s: float, beat_s: float, *, follows: bool
) -> tuple[float, float]:
    """Say when the player is in again: on the next beat where a click goes on, else when the pause ends."""
    if not follows:
        return tick + pause_s, tick + pause_s
    beat = math.ceil((due + pause_s - first_s) / beat_s - 1e-6)
    return first_s + beat * beat_s, first_s + beat * beat_s


def _pauses(player: Player, way: list[_Step]) -> dict[int, float]:
    """Find at which step each new stretch opens, and after how long a pause."""
    openings = [i for i in range(1, len(way)) if way[i].stretch != way[i - 1].stretch]
    pause_of = {(repetition + 1): pause_s for repetition, _, pause_s in player.stops}
    return {i: pause_of[way[i].repetition] for i in openings}


def _tiring(player: Player, progress: float) -> float:
    return 1 + (player.fatigue_spread - 1) * progress


def _mains(
    exercise: Exercise,
    player: Player,
    way: list[_Step],
    *,
    ticks: Floats,
    streams: Mapping[str, np.random.Generator],
) -> Iterator[Blow]:
    """Give every struck note its time and level."""
    seconds, meant_db = _seconds(exercise, way), _meant_db(exercise, player)
    delays_ms = streams["hand"].standard_normal(len(way)).tolist()
    level_noise_db = (streams["level"].standard_normal(len(way)) * player.level_sd_db).tolist()
    for i, step in enumerate(way):
        note = exercise.notes[step.position]
        if note.hand is None:
            continue
        progress = i / len(way)
        late_ms = player.late_ms[note.hand]
        late_ms += delays_ms[i] * player.hand_sd_ms[note.hand] * _tiring(player, progress)
        level_db = player.level_db[note.hand] + level_noise_db[i] - player.fatigue_db * progress
        level_db += meant_db[step.position]
        if step.repetition == 1:
            level_db += player.first_db
        if seconds[i]:
            level_db, late_ms = level_db + player.second_db, late_ms + player.second_late_ms
        yield Blow(float(ticks[i]) + late_ms / 1000, level_db, note.hand, step.repetition, step.position)


def _meant_db(exercise: Exercise, player: Player) -> list[float]:
    """Return how far under the loudest kind of stroke each position is meant."""
    strong = player.strong_db * any(note.strong for note in exercise.notes)
    tap = -(strong + player.accent_db) if exercise.has_accents else 0.0
    out = []
    for note, dynamic in zip(exercise.notes, dynamics_db(exercise), strict=True):
        kind = 0.0 if note.strong else -strong if note.accent else tap
        out.append(dynamic + kind - player.ghost_db * note.ghost)
    return out


def _seconds(exercise: Exercise, way: list[_Step]) -> list[bool]:
    """Tell which steps are the second of a same-hand pair: no rest and no stop between."""
    out = [False]
    for before, step in itertools.pairwise(way):
        hand = exercise.notes[step.position].hand
        same = hand is not None and exercise.notes[before.position].hand == hand
        out.append(same and before.stretch == step.stretch and not out[-1])
    return out


def _left_out(player: Player, way: list[_Step], struck: list[int], rng: np.random.Generator) -> list[bool]:
    """Draw the notes left out; the first and the last of a stretch are played, but for a late start."""
    drawn = rng.random(len(struck)) < player.miss_rate
    for _ in range(player.miss_run - 1):
        drawn[1:] |= drawn[:-1]
    stretches = [way[i].stretch for i in struck]
    last = len(struck) - 1
    return [
        k < player.misses_first
        or bool(drawn[k] and 0 < k < last and stretches[k - 1] == stretches[k] == stretches[k + 1])
        for k in range(len(struck))
    ]


def _graces(main: Blow, note: Note, player: Player, rng: np.random.Generator) -> Iterator[Blow]:
    """Place grace notes ahead of their main note, ``grace_gap_ms`` from blow to blow."""
    at = main.time_s
    out = []
    for hand in reversed(note.graces):
        at -= max(player.grace_gap_ms + player.grace_gap_sd_ms * rng.standard_normal(), 8.0) / 1000
        level_db = main.level_db + player.grace_db + rng.standard_normal() * player.level_sd_db
        out.append(Blow(float(at), float(level_db), hand, main.repetition, main.position, "grace"))
    yield from reversed(out)


def _other_hand(main: Blow, player: Player, rng: np.random.Generator) -> Blow:
    """Let the other hand strike at once, or nearly so: its blow is no note of its own."""
    apart_ms = abs(float(rng.standard_normal())) * math.hypot(*player.hand_sd_ms.values()) / 2
    level_db = main.level_db + float(rng.standard_normal()) * player.level_sd_db
    at = main.time_s + min(apart_ms, MOST_APART_MS) / 1000
    return Blow(at, level_db, other_hand(main.hand), main.repetition, main.position, "bounce")


def _bounces(main: Blow, value_s: float, rng: np.random.Generator) -> Iterator[Blow]:
    """Let a buzz stroke bounce on, each bounce weaker, for most of its written length."""
    at, level_db = main.time_s, main.level_db
    for _ in range(MOST_BOUNCES):
        at += float(BOUNCE_GAP_MS + BOUNCE_GAP_SD_MS * rng.standard_normal()) / 1000
        level_db -= BOUNCE_LOSS_DB
        if at > main.time_s + 0.8 * value_s:
            return
        yield Blow(at, level_db, main.hand, main.repetition, main.position, "bounce")


def _extras(player: Player, mains: list[Blow], rng: np.random.Generator) -> Iterator[Blow]:
    """Slip stray blows in between two written notes."""
    draws = rng.random((len(mains), 3))
    for before, after, (chance, place, softness) in zip(mains[:-1], mains[1:], draws[:-1], strict=True):
        if chance < player.extra_rate:
            at = before.time_s + (0.35 + 0.3 * float(place)) * (after.time_s - before.time_s)
            level_db = before.level_db - 2 - 10 * float(softness)
            hand = other_hand(before.hand)
            yield Blow(at, level_db, hand, before.repetition, before.position, "extra")
