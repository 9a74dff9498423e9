"""The figures of a take by name: of each hand, of both, and over the whole take.

Conventions: one figure has one name, in the terminal, on a page and beside a finding.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from evenhand.measuring.values import AUDIBLE_LEVEL_DB, Measure, Measures, audible_ms
from evenhand.music.exercise import HAND_NAMES, Hand

NAMES: Mapping[str, str] = {
    "timing_mean_ms": "timing, mean",
    "timing_sd_ms": "timing, spread",
    "interval_sd_ms": "own intervals, spread",
    "level_mean_db": "level, mean",
    "level_sd_db": "level, spread",
    "hand_sd_ms": "own part of the spread",
    "second_minus_first_db": "doubles, second minus first",
    "short_share": "doubles, short share",
    "over_taps_db": "accents over unaccented",
    "gap_ms": "graces, ahead by",
    "grace_level_db": "graces, level",
    "balance.level_db": "right minus left, level",
    "balance.timing_ms": "right minus left, timing",
    "tempo_bpm": "tempo",
    "drift_bpm_per_min": "drift",
    "spread_trend_ms_per_min": "spread over the take",
    "level_trend_db_per_min": "level over the take",
    "timekeeper_sd_ms": "timekeeper, spread",
    "run_from_click_ms": "away from the click over the take",
    "timing_ms": "timing, against the hand's other notes",
    "missed": "missed, share",
    "height_mean_cm": "height before the hit, mean",
    "height_sd_cm": "height before the hit, spread",
    "rebound_mean_cm": "rebound, mean",
    "over_asked_cm": "height over what was asked",
    "balance.height_cm": "right minus left, height",
    "lifted": "rises that were lifted, share",
    "free": "rises that were free, share",
    "unsure": "rises that are unsure, share",
    "other_hand": "strokes by another hand than written, share",
}


@dataclass(frozen=True, slots=True)
class Figure:
    """One row: what it is, the measure, and what an ear can tell of it.

    ``key`` is one of ``NAMES``. ``audible_from`` is None where no threshold of hearing is known; ``about``
    is the value that means no difference. ``difference`` shows the sign.
    """

    key: str
    measure: Measure
    audible_from: float | None = None
    about: float = 0.0
    difference: bool = False
    trend: bool = False
    unaccented: bool = False

    @property
    def name(self) -> str:
        """What the figure is called."""
        return f"unaccented, {NAMES[self.key]}" if self.unaccented else NAMES[self.key]


def measure_words(name: str) -> str:
    """Call a measure by its place as its figure is called.

    >>> measure_words("hands.L.timing_mean_ms"), measure_words("balance.timing_ms")
    ('left hand, timing, mean', 'right minus left, timing')
    """
    *path, last = name.split(".")
    hand = next((f"{words} hand" for each, words in HAND_NAMES.items() if each in path), "")
    words = NAMES.get(name) or NAMES.get(last) or last.rpartition("_")[0].replace("_", " ") or last
    return ", ".join(part for part in (hand, words) if part)


def hand_figures(measures: Measures, hand: Hand) -> list[Figure]:
    """List what is of one hand; with accents, levels are of the unaccented."""
    found: list[Figure] = []
    audible, accented = audible_ms(measures.interval_ms), bool(measures.accents_over_taps_db)
    if (own := measures.hands.get(hand)) is not None:
        found += [
            Figure("timing_mean_ms", own.timing_mean_ms, audible, difference=True),
            Figure("timing_sd_ms", own.timing_sd_ms, audible),
            Figure("interval_sd_ms", own.interval_sd_ms, audible),
            Figure("level_mean_db", own.level_mean_db, unaccented=accented),
            Figure("level_sd_db", own.level_sd_db, AUDIBLE_LEVEL_DB, unaccented=accented),
            *_known("hand_sd_ms", own.hand_sd_ms),
        ]
    if (over := measures.accents_over_taps_db.get(hand)) is not None:
        found.append(Figure("over_taps_db", over, AUDIBLE_LEVEL_DB, difference=True))
    if (double := measures.doubles.get(hand)) is not None:
        edge = audible / (2 * measures.interval_ms) if measures.interval_ms else None
        louder, share = double.second_minus_first_db, double.short_share
        found.append(Figure("second_minus_first_db", louder, AUDIBLE_LEVEL_DB, difference=True))
        found.append(Figure("short_share", share, edge, about=0.5))
    if (grace := measures.graces.get(hand)) is not None:
        found.append(Figure("gap_ms", grace.gap_ms))
        found.append(Figure("grace_level_db", grace.level_db, difference=True))
    return found


def balance_figures(measures: Measures) -> list[Figure]:
    """List how the hands stand to each other."""
    level, timing = measures.balance_level_db, measures.balance_timing_ms
    audible = audible_ms(measures.interval_ms)
    return [
        Figure("balance.level_db", level, AUDIBLE_LEVEL_DB, difference=True),
        Figure("balance.timing_ms", timing, audible, difference=True),
    ]


def course_figures(measures: Measures) -> list[Figure]:
    """List what is of the whole take: its tempo, and how it goes on."""
    return [
        Figure("tempo_bpm", measures.tempo_bpm),
        *_known("drift_bpm_per_min", measures.drift_bpm_per_min, trend=True),
        *_known("spread_trend_ms_per_min", measures.spread_trend_ms_per_min, trend=True),
        *_known("level_trend_db_per_min", measures.level_trend_db_per_min, trend=True),
        *_known("timekeeper_sd_ms", measures.timekeeper_sd_ms),
    ]


def _known(name: str, measure: Measure | None, *, trend: bool = False) -> list[Figure]:
    return [] if measure is None else [Figure(name, measure, difference=trend, trend=trend)]
