"""Questions of sound and touch: levels, doubles, accents, flams.

Conventions: dB; negative = weaker; balance is right minus left.
"""

from __future__ import annotations

from collections.abc import Iterator

from evenhand.measuring.pairs import double_starts
from evenhand.measuring.rules.questions import TakeFigures, Verdict
from evenhand.measuring.values import AUDIBLE_LEVEL_DB, FindingKind, either_way, one_way
from evenhand.music.exercise import Hand

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
