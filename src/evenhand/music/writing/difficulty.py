"""How hard exercises are at a tempo, in figures of what the hands have to do each second.

Conventions: an exercise is repeated, so everything counts around the repeat; rests take time, and nothing is
asked of a hand in them. All components are a second's worth, so that the faster tempo is never the easier.
They are weighed and added to one ``load``, by which exercises stand in order. The weights are a convention
of Evenhand, no measurement: they order exercises, and say nothing of a player. Arrays have shape (m, n): m
exercises of n struck notes at the same written times.

Put exercises in order, easy to hard, and say of each in words why it stands where it stands.

Conventions: rates are times a second, said to one digit. What is said is the component (``difficulty``) that
weighs most in the step from the one before.

The hand changes of an exercise: which hands follow each other, a few notes at a time.

Conventions: a hand change of length k is the hands of k struck notes in a row, such as RLL, taken around the
repeat: an exercise of n notes holds n of them, some of them twice. An exercise shorter than k is gone round
as often as it takes. A rest breaks it: over a rest there is time to think. Values, accents and ornaments
don't count.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import WrongOptions
from evenhand.music.exercise import HANDS, Exercise, Hand, Tempo

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

COMPONENTS = ("hand", "run", "heights", "ornaments", "mixed", "unfamiliar")
WEIGHTS = np.array([1.0, 0.5, 0.5, 1.0, 0.25, 0.25])
WEAK_HAND_FACTOR = 1.2  # the weaker hand's strokes count for more
LONGEST_RUN = 8  # a longer run counts as this; one hand's alone, around the repeat, has no end
FAMILIAR_NOTES = 6
FAMILIAR = ("RL", "RRLL", "RLRRLRLL")  # common practice: singles, doubles and paradiddles come first


@dataclass(frozen=True, slots=True)
class Difficulty:
    """What one exercise asks for at a tempo.

    ``hand`` is the one that has more to do, ``hand_rate`` its strokes a second. ``run_hand`` plays
    ``run_notes`` in a row at ``run_rate`` strokes a second, the run that asks for most (1 where no hand has
    two in a row; more than ``LONGEST_RUN`` count as one more). The rest is times a second: a hand's
    height changes (accent to tap or back), graces and buzzes, changes of the runs' length, and hand changes
    of six notes that are not in singles, doubles or paradiddles. ``weighed`` are the components, weighed;
    ``load`` is their sum.
    """

    hand: Hand
    hand_rate: float
    run_hand: Hand
    run_notes: int
    run_rate: float
    height_changes: float
    ornaments: float
    run_changes: float
    unfamiliar: float
    weighed: tuple[float, ...]

    @property
    def load(self) -> float:
        """What exercises are put in order by; no measure of a player."""
        return sum(self.weighed)


@dataclass(frozen=True, slots=True)
class Batch:
    """Exercises alike in time.

    ``starts_s`` has shape (n,), seconds from the top; ``length_s`` is one repetition.
    """

    is_left: Bools
    accented: Bools
    ornaments: Ints
    starts_s: Floats
    length_s: float


@dataclass(frozen=True, slots=True)
class Demands:
    """The components of a batch, one row an exercise; ``parts`` has shape (m, 6), a second, unweighed."""

    parts: Floats
    hand_rates: Floats  # (m, 2), right and left
    run_hand: Ints  # (m,), 0 right, 1 left
    run_notes: Ints
    run_rate: Floats

    @property
    def loads(self) -> Floats:
        """Shape (m,), what exercises are put in order by.

        Returns
        -------
        Of shape (m,).
        """
        loads: Floats = self.parts @ WEIGHTS
        return loads


def difficulties(exercises: Sequence[Exercise], tempo: Tempo, weak_hand: Hand = "L") -> list[Difficulty]:
    """Say what exercises ask of the hands at a tempo, in their order."""
    alike: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for place, exercise in enumerate(exercises):
        alike[_in_time(exercise)].append(place)
    found: dict[int, Difficulty] = {}
    for places in alike.values():
        demands = demands_of(_batch([exercises[place] for place in places], tempo), weak_hand)
        found.update(zip(places, rows_of(demands, weak_hand), strict=True))
    return [found[place] for place in range(len(exercises))]


def demands_of(batch: Batch, weak_hand: Hand = "L") -> Demands:
    """Work out the components of a batch of exercises."""
    m, n = batch.is_left.shape
    factors = np.array([1.0, WEAK_HAND_FACTOR] if weak_hand == "L" else [WEAK_HAND_FACTOR, 1.0])
    left = batch.is_left.sum(axis=1)
    rates = np.stack([n - left, left], axis=1) / batch.length_s
    strain, runs = _runs(batch, factors)
    parts = np.zeros((m, len(COMPONENTS)))
    parts[:, 0] = (rates * factors).max(axis=1)
    parts[:, 1] = strain
    parts[:, 2] = _height_changes(batch) / batch.length_s
    parts[:, 3] = batch.ornaments / batch.length_s
    parts[:, 4] = _run_changes(batch.is_left) / batch.length_s
    parts[:, 5] = _unfamiliar(batch.is_left) / batch.length_s
    return Demands(parts, rates, *runs)


def _in_time(exercise: Exercise) -> tuple[object, ...]:
    """Return what two exercises share if they are alike in time (whole numbers: quicker than fractions)."""
    return tuple([(note.value.as_integer_ratio(), note.hand is None) for note in exercise.notes])


def _batch(exercises: Sequence[Exercise], tempo: Tempo) -> Batch:
    """Put exercises alike in time into arrays."""
    first = exercises[0]
    struck = [[exercise.notes[p] for p in first.struck] for exercise in exercises]
    starts = np.array([float(first.starts[p]) for p in first.struck]) * tempo.whole_note_s
    return Batch(
        is_left=np.array([[note.hand == "L" for note in notes] for notes in struck]),
        accented=np.array([[note.accent for note in notes] for notes in struck]),
        ornaments=np.array([sum(len(note.graces) + note.buzz for note in notes) for notes in struck]),
        starts_s=starts,
        length_s=float(first.length) * tempo.whole_note_s,
    )


def rows_of(demands: Demands, weak_hand: Hand = "L") -> list[Difficulty]:
    """Take the exercises of a batch one by one."""
    factors = (1.0, WEAK_HAND_FACTOR) if weak_hand == "L" else (WEAK_HAND_FACTOR, 1.0)
    busier = np.argmax(demands.hand_rates * factors, axis=1)
    columns = (
        busier,
        demands.hand_rates[np.arange(busier.size), busier],
        demands.run_hand,
        demands.run_notes,
        demands.run_rate,
        *demands.parts.T[2:],
        demands.parts * WEIGHTS,
    )
    return [
        Difficulty(
            HANDS[hand], rate, HANDS[run_hand], notes, run_rate, up_down, graces, mixed, new, tuple(load)
        )
        for hand, rate, run_hand, notes, run_rate, up_down, graces, mixed, new, load in zip(
            *(column.tolist() for column in columns), strict=True
        )
    ]


def _runs(batch: Batch, factors: Floats) -> tuple[Floats, tuple[Ints, Ints, Floats]]:
    """Find the run that asks for most: (notes - 1) times its rate, shape (m,); and its hand, notes and rate.

    The exercise is walked through twice, so that a run over the repeat is met whole; the run that is under
    way at the top counts from where it began, and so not before the first change of hands.
    """
    m, n = batch.is_left.shape
    notes, began = np.ones(m, dtype=np.int64), np.full(m, batch.starts_s[0])
    strain, hand, longest, rate = np.zeros(m), np.zeros(m, np.int64), np.ones(m, np.int64), np.zeros(m)
    whole = np.zeros(m, dtype=np.bool_)  # whether the run under way was seen to begin
    for step in range(1, 2 * n + 1):
        at, before = step % n, (step - 1) % n
        time_s = batch.starts_s[at] + batch.length_s * (step // n)
        goes_on = batch.is_left[:, at] == batch.is_left[:, before]
        notes, began = np.where(goes_on, notes + 1, 1), np.where(goes_on, began, time_s)
        whole |= ~goes_on
        with np.errstate(divide="ignore", invalid="ignore"):
            own_rate = np.where(whole & (notes > 1), (notes - 1) / (time_s - began), 0.0)
        asks = (np.minimum(notes, LONGEST_RUN) - 1) * own_rate * factors[batch.is_left[:, at].astype(int)]
        more = (asks > strain * (1 + 1e-9)) | ((asks >= strain * (1 - 1e-9)) & (notes > longest))
        strain = np.where(more, asks, strain)
        hand = np.where(more, batch.is_left[:, at], hand)
        longest, rate = np.where(more, notes, longest), np.where(more, own_rate, rate)
    return _without_end(batch, factors, (strain, hand, np.minimum(longest, LONGEST_RUN + 1), rate))


def _without_end(
    batch: Batch, factors: Floats, runs: tuple[Floats, Ints, Ints, Floats]
) -> tuple[Floats, tuple[Ints, Ints, Floats]]:
    """Count the run of an exercise for one hand, which the repeat never ends, as one of the longest told."""
    strain, hand, longest, rate = runs
    left = batch.is_left[:, 0].astype(np.int64)
    alone = (batch.is_left == batch.is_left[:, :1]).all(axis=1)
    own_rate = batch.is_left.shape[1] / batch.length_s
    strain = np.where(alone, (LONGEST_RUN - 1) * own_rate * factors[left], strain)
    longest = np.where(alone, LONGEST_RUN + 1, longest)
    return strain, (np.where(alone, left, hand), longest, np.where(alone, own_rate, rate))


def _height_changes(batch: Batch) -> Ints:
    """Count how often a hand goes from an accent to a tap or back, once around, shape (m,)."""
    m, n = batch.is_left.shape
    changes = np.zeros(m, dtype=np.int64)
    if not batch.accented.any():
        return changes
    rows = np.arange(m)
    last = np.full((m, 2), -1)  # each hand's last blow: 1 an accent, 0 a tap, -1 none yet
    for step in range(2 * n):
        hand, accent = batch.is_left[:, step % n].astype(int), batch.accented[:, step % n]
        if step >= n:
            changes += last[rows, hand] != accent
        last[rows, hand] = accent
    return changes


def _run_changes(is_left: Bools) -> Ints:
    """Count how often a run is followed by one of another length, once around, shape (m,)."""
    m, n = is_left.shape
    changes, length, before = np.zeros(m, np.int64), np.ones(m, np.int64), np.zeros(m, np.int64)
    for step in range(1, 3 * n + 1):
        ends = is_left[:, step % n] != is_left[:, (step - 1) % n]
        if step > 2 * n:
            changes += ends & (length != before)
        before = np.where(ends, length, before)
        length = np.where(ends, 1, length + 1)
    return changes


def _unfamiliar(is_left: Bools) -> Ints:
    """Count the hand changes of six notes that are not in singles, doubles or paradiddles, shape (m,)."""
    n = is_left.shape[1]
    known = np.zeros(2**FAMILIAR_NOTES, dtype=np.bool_)
    for text in FAMILIAR:
        for other in (False, True):
            hands = np.array([[(hand == "L") != other for hand in text]])
            known[_windows(hands, FAMILIAR_NOTES)] = True
    familiar = known[_windows(is_left, FAMILIAR_NOTES)].sum(axis=1)
    return np.asarray(n - familiar, dtype=np.int64)


def _windows(is_left: Bools, notes: int) -> Ints:
    """Write as one number the hands of every ``notes`` notes in a row, around the repeat, shape (m, n)."""
    codes = np.zeros(is_left.shape, dtype=np.int64)
    for ahead in range(notes):
        codes = codes * 2 + np.roll(is_left, -(ahead % is_left.shape[1]), axis=1)
    return codes


SAME_LOAD = 1e-9  # loads closer than this are one and the same


def easy_to_hard(difficulties: Sequence[Difficulty]) -> list[int]:
    """Return the places of exercises from easy to hard; those alike stay as they stood."""
    return sorted(range(len(difficulties)), key=lambda place: round(difficulties[place].load, 6))


SHORTEST, LONGEST = 2, 16


def hand_changes(exercise: Exercise, k: int) -> Counter[str]:
    """Count an exercise's hand changes of k notes, once around.

    >>> from fractions import Fraction
    >>> from evenhand.music.exercise import Note
    >>> sorted(hand_changes(Exercise(tuple(Note(h, Fraction(1, 8)) for h in "RLL")), 2).items())
    [('LL', 1), ('LR', 1), ('RL', 1)]
    """
    if not SHORTEST <= k <= LONGEST:
        raise WrongOptions(got=f"hand changes of {k} notes", must_be=f"{SHORTEST} to {LONGEST} notes")
    hands = "".join(note.hand or "-" for note in exercise.notes)
    round_and_round = hands * (1 + -(-(k - 1) // len(hands)))
    found = Counter(round_and_round[at : at + k] for at in range(len(hands)))
    for broken in [window for window in found if "-" in window]:
        del found[broken]
    return found


def hand_changes_at(exercise: Exercise, position: int, before: int, after: int) -> str | None:
    """Return the hand change around one note, or None where a rest breaks it or the note is none.

    >>> from fractions import Fraction
    >>> from evenhand.music.exercise import Note
    >>> hand_changes_at(Exercise(tuple(Note(h, Fraction(1, 8)) for h in "RLRR")), 0, 2, 1)
    'RRRL'
    """
    notes = exercise.notes
    if not 0 <= position < len(notes):
        return None
    around = range(position - before, position + after + 1)
    window = "".join(notes[at % len(notes)].hand or "-" for at in around)
    return None if "-" in window else window
