"""Questions of sound and touch: levels, doubles, accents, flams; and what every question is asked of.

A verdict sets a figure against what an ear can tell: plainly over it, plainly under it, or open.

Conventions: ms, minutes and dB; negative = weaker; balance is right minus left; ``hands`` are the hands that
the exercise writes; ``edge`` is the size from which a figure is heard, in the figure's unit; a verdict's
``times`` is the figure's size in edges.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from evenhand.measuring.pairs import double_starts
from evenhand.measuring.values import (
    AUDIBLE_LEVEL_DB,
    Evidence,
    Finding,
    FindingKind,
    Measure,
    Measures,
    Side,
    audible_ms,
    either_way,
    one_way,
)
from evenhand.music.exercise import HANDS, Exercise, Hand
from evenhand.take import Heard

SECONDS_A_MINUTE = 60.0


@dataclass(frozen=True)
class TakeFigures:
    """A take, its figures, and from where on a displacement is heard in it."""

    heard: Heard
    measures: Measures
    exercise: Exercise
    audible_ms: float
    minutes: float
    hands: tuple[Hand, ...]

    def positions(self, hand: Hand) -> tuple[int, ...]:
        """Return where a hand plays."""
        return tuple(p for p in self.exercise.struck if self.exercise.notes[p].hand == hand)

    def verdict(
        self, kind: FindingKind, measure: str, figure: Measure, hand: Hand, edge: float | None = None
    ) -> Verdict:
        """Judge a hand's figure, which may lie too far off to either side; by itself, in ms."""
        edge = self.audible_ms if edge is None else edge
        side = either_way(figure, edge)
        return Verdict(kind, side, measure, figure, edge, hand, self.positions(hand))

    def seconds(self, hand: Hand) -> tuple[int, ...]:
        """Return where a hand's doubles have their second note."""
        return tuple((p + 1) % len(self.exercise.notes) for p in double_starts(self.exercise).get(hand, ()))


def figures_of(heard: Heard, measures: Measures, exercise: Exercise) -> TakeFigures:
    """Gather what the questions are asked of."""
    times = [hit.time_s for hit in heard.hits]
    minutes = (max(times) - min(times)) / SECONDS_A_MINUTE if times else 0.0
    written = {note.hand for note in exercise.notes}
    hands = tuple(hand for hand in HANDS if hand in written)
    return TakeFigures(heard, measures, exercise, audible_ms(measures.interval_ms or 0.0), minutes, hands)


MOST_REPETITIONS = 100  # a longer take than this is not asked for


@dataclass(frozen=True, slots=True)
class Verdict:
    """One question asked of a take.

    ``figures`` are what is said beside ``figure``. Where small is wrong (``small_is_wrong``), over means
    under: too flat, too little.
    """

    kind: FindingKind
    side: Side
    measure: str
    figure: Measure
    edge: float
    hand: Hand | None = None
    positions: tuple[int, ...] = ()
    centre: float = 0.0
    small_is_wrong: bool = False
    figures: Mapping[str, Measure] = field(default_factory=dict)

    @property
    def size(self) -> float:
        """Return the figure's size, in its unit."""
        return abs((self.figure.value or 0.0) - self.centre)

    @property
    def times(self) -> float:
        """Return how far the figure is beyond its edge, as a ratio."""
        return self.edge / max(self.size, 1e-9) if self.small_is_wrong else self.size / self.edge

    def finding(self) -> Finding:
        """Return the finding where the figure is over its edge."""
        return Finding(self.kind, self._evidence(), figures=self.figures)

    def cannot_tell(self, repetitions: int) -> Finding:
        """Return the finding where the figure is open, with how many repetitions would tell."""
        would_tell = {"repetitions": self._would_tell(repetitions)}
        return Finding("cannot_tell", self._evidence(), self.kind, {**self.figures, **would_tell})

    def _would_tell(self, repetitions: int) -> Measure:
        """Return how many repetitions would tell; intervals shrink with the root of their number.

        Where it lies at the edge, not even as many as ``needs`` might tell, and there is no value.
        """
        low, high = self.figure.ci95 or (0.0, 0.0)
        away = abs(self.size - self.edge)
        most = max(MOST_REPETITIONS, 2 * repetitions)
        longer = ((high - low) / 2) ** 2 / max(away**2, 1e-12)
        if longer * repetitions > most:
            return Measure(None, repetitions, "repetitions", needs=most)
        needed = max(math.ceil(longer * repetitions), repetitions + 1)
        return Measure(needed, repetitions, "repetitions")

    def _evidence(self) -> Evidence:
        figure = self.figure
        return Evidence(
            self.measure, figure.value, figure.unit, figure.n, figure.ci95, self.edge, self.positions
        )


# Common practice, no published figure: an accent is struck from at least twice the height of a tap (twice the
# height is 3 dB if level follows striking speed), and from 3 to 12 inches is about 6 dB.
ACCENT_STANDS_OUT_DB, TAPS_LOW_DB = 3.0, 6.0
# Common practice, no published figure: a flam's notes lie about 20 to 35 ms apart; these are well outside.
FLAM_FLAT_MS, FLAM_WIDE_MS = 15.0, 50.0


def softer_hand(take: TakeFigures) -> Iterator[Verdict]:
    """Ask whether one hand is softer."""
    figure = take.measures.balance_level_db
    if figure.value is not None:
        hand: Hand = "L" if figure.value > 0 else "R"
        yield take.verdict("weak_hand", "balance.level_db", figure, hand, AUDIBLE_LEVEL_DB)


def weak_second(take: TakeFigures) -> Iterator[Verdict]:
    """Ask of each hand's doubles whether the second note is weaker."""
    for hand, double in take.measures.doubles.items():
        figure = double.second_minus_first_db
        if figure.value is not None and figure.value < 0:
            yield Verdict(
                "weak_second",
                one_way(figure, -AUDIBLE_LEVEL_DB),
                f"doubles.{hand}.second_minus_first_db",
                figure,
                AUDIBLE_LEVEL_DB,
                hand,
                take.seconds(hand),
            )


def uneven_double(take: TakeFigures) -> Iterator[Verdict]:
    """Ask of each hand's doubles whether the second note comes too soon or too late.

    The share alone would also change where the other hand is late; so the second note must itself be
    displaced against the first.
    """
    interval = take.measures.interval_ms
    for hand, double in take.measures.doubles.items():
        figure = double.short_share
        if figure.value is None or not interval:
            continue
        edge = take.audible_ms / (2 * interval)
        shift_ms = _second_shift_ms(take, hand)
        side = either_way(figure, edge, 0.5)
        crushed = figure.value < 0.5
        if side != "under" and (abs(shift_ms) < take.audible_ms or (shift_ms < 0) != crushed):
            side = "under"  # the share comes from how the hands stand to each other, and is said there
        yield Verdict(
            "uneven_double",
            side,
            f"doubles.{hand}.short_share",
            figure,
            edge,
            hand,
            take.seconds(hand),
            0.5,
        )


def _second_shift_ms(take: TakeFigures, hand: Hand) -> float:
    """Return how far the second notes come after their place, the first notes given, ms."""
    timing = {row.position: row.timing_ms.value for row in take.measures.positions}
    n = len(take.exercise.notes)
    shifts = [
        second - first
        for p in double_starts(take.exercise).get(hand, ())
        if (second := timing.get((p + 1) % n)) is not None and (first := timing.get(p)) is not None
    ]
    return sum(shifts) / len(shifts) if shifts else 0.0


def accents(take: TakeFigures) -> Iterator[Verdict]:
    """Ask of each hand whether its accents stand out, and if they do, whether its taps are low."""
    for hand, figure in take.measures.accents_over_taps_db.items():
        if figure.value is None or figure.ci95 is None:
            continue
        low, high = figure.ci95
        edge = ACCENT_STANDS_OUT_DB if figure.value < ACCENT_STANDS_OUT_DB else TAPS_LOW_DB
        flat: FindingKind = "accents_flat" if edge == ACCENT_STANDS_OUT_DB else "taps_high"
        floor = 0.0 if edge == ACCENT_STANDS_OUT_DB else ACCENT_STANDS_OUT_DB
        decided = high < edge and (low >= floor or flat == "accents_flat")
        yield Verdict(
            flat,
            "over" if decided else "under" if low >= edge else "open",
            f"accents.{hand}.over_taps_db",
            figure,
            edge,
            hand,
            tuple(p for p in take.positions(hand) if take.exercise.notes[p].accent),
            small_is_wrong=True,
        )


def flams(take: TakeFigures) -> Iterator[Verdict]:
    """Ask of each hand whether its flams are too flat or too wide (a drag may take twice the time)."""
    for hand, grace in take.measures.graces.items():
        figure = grace.gap_ms
        ornaments = [len(n.graces) for n in take.exercise.notes if n.graces and n.hand == hand]
        if figure.value is None or figure.ci95 is None or len(set(ornaments)) != 1:
            continue
        times = ornaments[0]
        flat = figure.value < FLAM_FLAT_MS * times * 2
        edge = (FLAM_FLAT_MS if flat else FLAM_WIDE_MS) * times
        low, high = figure.ci95
        over, under = (high < edge, low >= edge) if flat else (low > edge, high <= edge)
        yield Verdict(
            "flam_flat" if flat else "flam_wide",
            "over" if over else "under" if under else "open",
            f"graces.{hand}.gap_ms",
            figure,
            edge,
            hand,
            tuple(p for p in take.positions(hand) if take.exercise.notes[p].graces),
            small_is_wrong=flat,
        )
