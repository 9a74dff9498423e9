"""The short tables of ``docs/benchmark.md``: a line a measure, a column a method."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from benchmarks.figures import FIGURES
from benchmarks.printing import rows, shown
from benchmarks.running import OURS, Result
from benchmarks.summing import Row

MEASURES = (
    "F1 within 2 ms",
    "F1 within 5 ms",
    "F1 within 10 ms",
    "timing error, median ms",
    "timing error, p95 ms",
    "soft against loud, worst ms",
    "graces found",
    "strokes found at 18/s and more",
    "hand's spread, same hits, median ms",
    "hand's spread, same hits, p90 ms",
    "x real time, one core",
)
OWN = (
    "takes",
    "takes aligned wrong or lost",
    "  of these only the repetition",
    "  of these said so",
    "hits given the wrong hand",
    "level error, mean dB",
    "level error, p95 dB",
    "missed notes, precision",
    "missed notes, recall",
    "extra hits, precision",
    "extra hits, recall",
    "x real time, file to figures",
)
AGAINST_A_PERFECT_EAR = tuple(f"figure: {name}, {share}" for name in FIGURES for share in ("median", "p90"))


def as_markdown(sets: Mapping[str, Sequence[Result]]) -> str:
    """Lay out each set beside the libraries, then what only Evenhand says, and how far off it measures."""
    tables = {title: rows(results) for title, results in sets.items()}
    parts = [_beside(title, len(sets[title]), table) for title, table in tables.items()]
    ours = {title: table[OURS] for title, table in tables.items()}
    parts += [_table("Evenhand alone", OWN, ours)]
    parts += [_table("Figures against a perfect ear's", AGAINST_A_PERFECT_EAR, ours)]
    return "\n".join(parts)


def _beside(title: str, takes: int, table: Mapping[str, Row]) -> str:
    """Lay out one set."""
    clicks = {
        name: f"{shown(row['clicks heard as hits'])} of {shown(row['  of clicks that sound alone'])}"
        for name, row in table.items()
    }
    last = "| clicks that sound alone, heard as hits | " + " | ".join(clicks.values()) + " |\n"
    return _table(f"{title}: {takes} takes", MEASURES, table) + last


def _table(title: str, measures: Sequence[str], columns: Mapping[str, Row]) -> str:
    """Lay out some measures, a column each."""
    lines = [f"| {title} | " + " | ".join(columns) + " |", "|---" * (len(columns) + 1) + "|"]
    for measure in measures:
        cells = " | ".join(shown(row.get(measure)) for row in columns.values())
        lines.append(f"| {measure.strip().removeprefix('figure: ')} | {cells} |")
    return "\n".join(lines) + "\n"
