"""What exercises ask of the hands in a second, as arrays: many of them at once.

Conventions: an exercise is repeated, so everything counts around the repeat; rests take time, and nothing is
asked of a hand in them. Where a note lasts ``PAUSE`` times the shortest or longer there is time to think:
what changes over it does not count. All components are a second's worth, so that the faster tempo is never
the easier. Arrays have shape (m, n): m exercises of n struck notes at the same written times.

Why each component is there is said in docs/choosing.md; the weights are a convention of Evenhand, no
measurement, and the same for all. A table of what teachers give before what holds them to it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from evenhand.music.exercise import Hand

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

COMPONENTS = ("hand", "run", "stretch", "heights", "ornaments", "mixed", "unfamiliar", "rhythm", "lead")
WEIGHTS = np.array([1.0, 0.5, 0.1, 0.4, 0.75, 0.25, 0.25, 0.25, 0.1])
WEAK_HAND_FACTOR = 1.2  # the weaker hand's strokes count for more
LONGEST_STRETCH = 32  # notes without a pause; more count as so many
LONGEST_RUN = 8  # a longer run counts as this; one hand's alone, around the repeat, has no end
PAUSE = 1.99  # times the shortest step: twice as long, rounding aside
ALIKE = 1.01  # steps that differ by less are one note value
FAMILIAR_NOTES = 6
FAMILIAR = ("RL", "RRLL", "RLRRLRLL")  # common practice: singles, doubles and paradiddles come first


@dataclass(frozen=True, slots=True)
class Batch:
    """Exercises alike in time.

    ``starts_s`` has shape (n,), seconds from the top; ``length_s`` is one repetition. ``graced`` has shape
    (2, m, n): where a right, a left grace stands before a note; None where there are none.
    """

    is_left: Bools
    accented: Bools
    ornaments: Ints
    starts_s: Floats
    length_s: float
    graced: Bools | None = None


@dataclass(frozen=True, slots=True)
class Demands:
    """The components of a batch, one row an exercise; ``parts`` has shape (m, 9), a second, unweighed."""

    parts: Floats
    hand_rates: Floats  # (m, 2), right and left
    run_hand: Ints  # (m,), 0 right, 1 left
    run_notes: Ints
    run_rate: Floats
    stretch_notes: int
    note_rate: float

    @property
    def loads(self) -> Floats:
        """Shape (m,), what exercises are put in order by.

        Returns
        -------
        Of shape (m,).
        """
        loads: Floats = self.parts @ WEIGHTS
        return loads


def demands_of(batch: Batch, weak_hand: Hand = "L") -> Demands:
    """Work out the components of a batch of exercises."""
    factors = np.array([1.0, WEAK_HAND_FACTOR] if weak_hand == "L" else [WEAK_HAND_FACTOR, 1.0])
    rates = _rates(batch)
    strain, runs = _runs(batch, factors)
    step_s, stretch_notes = _stretch(batch)
    quick = _steps(batch) < PAUSE * step_s
    parts = np.empty((batch.is_left.shape[0], len(COMPONENTS)))
    parts[:, 0] = (rates * factors).max(axis=1)
    parts[:, 1] = strain
    parts[:, 2] = np.log2(stretch_notes) / step_s
    parts[:, 3] = _height_changes(batch, factors) / batch.length_s
    parts[:, 4] = batch.ornaments / batch.length_s
    parts[:, 5] = _run_changes(batch.is_left, quick) / batch.length_s
    parts[:, 6] = _unfamiliar(batch.is_left, quick) / batch.length_s
    parts[:, 7] = _value_changes(batch) / batch.length_s
    parts[:, 8] = _led_by(batch.is_left, weak_hand) * rates.max(axis=1)
    return Demands(parts, rates, *runs, stretch_notes, 1 / step_s)


def _rates(batch: Batch) -> Floats:
    """Find each hand's strokes a second in its fastest three strokes in a row, shape (m, 2).

    The exercise is walked through three times, so that a hand with one stroke is met three times.
    """
    m, n = batch.is_left.shape
    hands = np.stack([~batch.is_left, batch.is_left], axis=2)
    if batch.graced is not None:
        hands |= np.moveaxis(batch.graced, 0, 2)
    rates, last, before = np.zeros((m, 2)), np.full((m, 2), np.nan), np.full((m, 2), np.nan)
    for step in range(3 * n):
        at, time_s = step % n, batch.starts_s[step % n] + batch.length_s * (step // n)
        plays = hands[:, at]
        rates = np.where(plays, np.fmax(rates, 2 / (time_s - before)), rates)
        before, last = np.where(plays, last, before), np.where(plays, time_s, last)
    return rates


def _steps(batch: Batch) -> Floats:
    """Return the seconds from each note to the next, around the repeat, shape (n,)."""
    return np.diff(batch.starts_s, append=batch.starts_s[0] + batch.length_s)


def _stretch(batch: Batch) -> tuple[float, int]:
    """Return the shortest step, and how many notes follow each other by it without a pause."""
    steps = _steps(batch)
    shortest = float(steps.min())
    quick = np.tile(steps < shortest * ALIKE, 2)
    longest = now = 0
    for each in quick.tolist():
        now = now + 1 if each else 0
        longest = max(longest, now)
    return shortest, LONGEST_STRETCH if longest == quick.size else min(longest + 1, LONGEST_STRETCH)


def _value_changes(batch: Batch) -> int:
    """Count how often a quick step is followed by a quick one of another length, once around."""
    steps = _steps(batch)
    quick, before = steps < PAUSE * steps.min(), np.roll(steps, 1)
    other = np.abs(steps / before - 1) > ALIKE - 1
    return int((other & quick & np.roll(quick, 1)).sum())


def _led_by(is_left: Bools, weak_hand: Hand) -> Bools:
    """Tell where the weaker hand plays the first note, and the repeat not the other's, shape (m,)."""
    half = is_left.shape[1] // 2
    over = is_left.shape[1] % 2 == 0
    goes = (is_left[:, :half] != is_left[:, half : 2 * half]).all(axis=1) & over
    led: Bools = (is_left[:, 0] == (weak_hand == "L")) & ~goes
    return led


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


def _height_changes(batch: Batch, factors: Floats) -> Floats:
    """Count how often a hand goes from an accent to a tap or back, once around, shape (m,).

    An accent right after the same hand's tap counts twice: it must be lifted at once. The weaker hand's count
    for more, and what has time does not count.
    """
    m, n = batch.is_left.shape
    changes = np.zeros(m)
    if not batch.accented.any():
        return changes
    steps = _steps(batch)
    rows, quick = np.arange(m), steps < PAUSE * steps.min()
    last = np.full((m, 2), -1)  # each hand's last blow: 1 an accent, 0 a tap, -1 none yet or long ago
    for step in range(2 * n):
        hand, accent = batch.is_left[:, step % n].astype(int), batch.accented[:, step % n]
        if step >= n:
            before = last[rows, hand]
            turns = ((before >= 0) & (before != accent)).astype(np.int64)
            turns += (before == 0) & accent & (batch.is_left[:, step % n] == batch.is_left[:, (step - 1) % n])
            changes += turns * factors[hand]
        last[rows, hand] = accent
        if not quick[step % n]:
            last[:] = -1
    return changes


def _run_changes(is_left: Bools, quick: Bools) -> Ints:
    """Count how often a run is followed by one of another length, once around, shape (m,).

    Parameters
    ----------
    is_left
        Of shape (m, n).
    quick
        Whether a note is followed without a pause, shape (n,): a run after a pause follows none.
    """
    m, n = is_left.shape
    changes, length, before = np.zeros(m, np.int64), np.ones(m, np.int64), np.zeros(m, np.int64)
    for step in range(1, 3 * n + 1):
        ends = is_left[:, step % n] != is_left[:, (step - 1) % n]
        if not quick[(step - 1) % n]:
            ends = np.ones(m, dtype=np.bool_)
        if step > 2 * n:
            changes += ends & (before > 0) & (length != before)
        before = np.where(ends, length, before)
        length = np.where(ends, 1, length + 1)
        if not quick[(step - 1) % n]:
            before = np.zeros(m, np.int64)
    return changes


def _unfamiliar(is_left: Bools, quick: Bools) -> Ints:
    """Count the hand changes of six notes that are not in singles, doubles or paradiddles, shape (m,).

    Parameters
    ----------
    is_left
        Of shape (m, n).
    quick
        Whether a note is followed without a pause, shape (n,): over a pause there is no hand change.
    """
    n, known = is_left.shape[1], _familiar()
    unbroken = np.all([quick[(np.arange(n) + ahead) % n] for ahead in range(FAMILIAR_NOTES - 1)], axis=0)
    new = ~known[_windows(is_left, FAMILIAR_NOTES)] & unbroken
    return np.asarray(new.sum(axis=1), dtype=np.int64)


@cache
def _familiar() -> Bools:
    """Say of every hand change of six notes whether it is in singles, doubles or paradiddles, shape (64,)."""
    known = np.zeros(2**FAMILIAR_NOTES, dtype=np.bool_)
    for text in FAMILIAR:
        for other in (False, True):
            hands = np.array([[(hand == "L") != other for hand in text]])
            known[_windows(hands, FAMILIAR_NOTES)] = True
    return known


def _windows(is_left: Bools, notes: int) -> Ints:
    """Write as one number the hands of every ``notes`` notes in a row, around the repeat, shape (m, n)."""
    codes = np.zeros(is_left.shape, dtype=np.int64)
    for ahead in range(notes):
        codes = codes * 2 + np.roll(is_left, -(ahead % is_left.shape[1]), axis=1)
    return codes
