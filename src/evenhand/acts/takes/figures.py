"""The figures of a heard take as one row of a table: what was counted, and every measure with its range.

Conventions: a measure is four columns, named by its place in a take's JSON (docs/json.md): its value, of how
many (``_n``), and its 95 % range (``_low``, ``_high``). A cell that is not there (too few to judge) is None.
docs/table.md says what each column is, and in which unit.
"""

from __future__ import annotations

from evenhand.acts.takes.document import measures_with_places
from evenhand.measuring.values import HeardTake

Row = dict[str, object]

OF_HANDS = (  # a measure's place in a take's JSON (docs/json.md), with a hand for the star
    ("hands.*.timing_mean_ms", "ms"),
    ("hands.*.timing_sd_ms", "ms"),
    ("hands.*.interval_sd_ms", "ms"),
    ("hands.*.level_mean_db", "dB"),
    ("hands.*.level_sd_db", "dB"),
    ("timekeeper.hand_sd_ms.*", "ms"),
    ("doubles.*.second_minus_first_db", "dB"),
    ("doubles.*.short_share", "share"),
    ("accents.*.over_taps_db", "dB"),
    ("graces.*.gap_ms", "ms"),
    ("graces.*.level_db", "dB"),
)
MEASURES = {
    "tempo_bpm": "bpm",
    "drift_bpm_per_min": "bpm/min",
    "balance.level_db": "dB",
    "balance.timing_ms": "ms",
    "fatigue.spread_trend_ms_per_min": "ms/min",
    "fatigue.level_trend_db_per_min": "dB/min",
    "timekeeper.timekeeper_sd_ms": "ms",
    **{place.replace("*", hand): unit for place, unit in OF_HANDS for hand in ("R", "L")},
}
COUNTED = ("hits", "missed", "hidden", "extra")


def column_name(place: str) -> str:
    """Name the column of a measure.

    >>> column_name("hands.R.timing_sd_ms")
    'hands_R_timing_sd_ms'
    """
    return place.replace(".", "_")


FIGURES = (
    *("asked_bpm", "ear", "clock", "clear", *COUNTED, "findings"),
    *(f"{column_name(place)}{end}" for place in MEASURES for end in ("", "_n", "_low", "_high")),
)


def figures_of(read: HeardTake) -> Row:
    """Give a take's figures, by the names of ``FIGURES``."""
    heard = read.heard
    row: Row = {name: len(getattr(heard, name)) for name in COUNTED}
    row |= {
        "asked_bpm": None if read.tempo is None else read.tempo.bpm,
        "ear": heard.ear,
        "clock": heard.clock,
        "clear": None if read.exercise is None else heard.clear,
        "findings": " ".join(finding.kind for finding in read.findings),
    }
    for place, found in measures_with_places(read.measures).items():
        name = column_name(place)
        low, high = found.ci95 or (None, None)
        row |= {name: found.value, f"{name}_n": found.n, f"{name}_low": low, f"{name}_high": high}
    return row
