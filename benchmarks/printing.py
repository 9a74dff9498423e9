"""The table in the terminal, and the same as JSON."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from benchmarks.judging import OwnScore
from benchmarks.running import OURS, Result
from benchmarks.summing import Row, summed
from benchmarks.takes import TakeSet

RATIO = "  as a ratio to librosa best"
CASE_COLUMNS = {
    "F1 2": "F1 within 2 ms",
    "F1 10": "F1 within 10 ms",
    "med ms": "timing error, median ms",
    "p95 ms": "timing error, p95 ms",
    "bias": "soft against loud, worst ms",
    "graces": "graces found",
    "lev p95": "level error, p95 dB",
    "spread": "hand's spread, same hits, p90 ms",
    "fig p90": "figure: timing spread, ms, p90",
    "miss P": "missed notes, precision",
    "miss R": "missed notes, recall",
    "xtra P": "extra hits, precision",
    "xtra R": "extra hits, recall",
    "click P": "clicks, precision",
    "click R": "clicks, recall",
    "on click": "clicks heard as hits",
    "wrong": "takes aligned wrong or lost",
}


def rows(results: Sequence[Result]) -> dict[str, Row]:
    """Sum every method over some takes."""
    names = list(dict.fromkeys(name for result in results for name in result.scores))
    seconds = [result.seconds for result in results]
    table = {name: summed([result.scores[name] for result in results], seconds) for name in names}
    best = (table.get("librosa best") or {}).get("x real time, one core")
    for row in table.values():
        for speed in [name for name in row if name.startswith("x real time")]:
            value = row[speed]
            row[f"{speed}{RATIO}"] = value / best if best and value else None
    return table


def shown(value: float | None) -> str:
    """Write a figure with three digits that matter; a dash where there is none."""
    if value is None:
        return "-"
    if value == round(value) or abs(value) >= 100:
        return f"{value:.0f}"
    digits = max(0, 2 - math.floor(math.log10(abs(value)))) if value else 0
    return f"{value:.{min(digits, 3)}f}"


def print_table(title: str, results: Sequence[Result]) -> None:
    """Print a line a measure, a column a method."""
    table = rows(results)
    measures = list(table[OURS])
    width = max(len(measure) for measure in measures)
    print(f"\n{title}: {len(results)} takes, {sum(r.seconds for r in results):.0f} s")
    print(" " * width + "".join(f"{name:>17}" for name in table))
    for measure in measures:
        print(f"{measure:<{width}}" + "".join(f"{shown(row.get(measure)):>17}" for row in table.values()))


def print_by_case(results: Sequence[Result]) -> None:
    """Print a line a case for Evenhand, and the takes that were aligned wrong."""
    print("\n" + f"{'case':<32}{'n':>3} " + "".join(f"{column:>9}" for column in CASE_COLUMNS))
    groups = {(r.recipe.of, r.recipe.case): r.recipe.case for r in results}
    for of, case in sorted(groups):
        own = [r for r in results if (r.recipe.of, r.recipe.case) == (of, case)]
        row = summed([r.scores[OURS] for r in own], [r.seconds for r in own])
        cells = "".join(f"{shown(row.get(measure)):>9}" for measure in CASE_COLUMNS.values())
        print(f"{of + ' ' + case:<32}{len(own):>3} {cells}")


def print_wrong(results: Sequence[Result]) -> None:
    """Name the takes that were aligned wrong or lost."""
    for result in results:
        own, recipe, v = result.scores[OURS].own, result.recipe, result.recipe.varied
        if own is not None and (own.aligned_wrong or own.lost):
            print(f"wrong: {recipe.of} {recipe.name}: {how_wrong(own)}")
            print(f"       {v.exercise} at {v.tempo}, x{v.repetitions}, seed {recipe.seed}")


def how_wrong(own: OwnScore) -> str:
    """Say how a take was aligned, and whether Evenhand said that it was not sure."""
    swapped = own.hands_wrong[0] / max(own.hands_wrong[1], 1)
    parts = ["lost"] if own.lost else []
    if own.shift is None:
        parts += ["no notes given"]
    else:
        parts += [f"{100 * own.wrong_share:.0f} % on other notes, most {own.shift:+d}"]
        parts += [f"{100 * swapped:.0f} % other hand"]
    parts += ["right but for the repetition"] if own.only_repetition else []
    parts += ["said so" if own.said_ambiguous or own.said_unlike else "not said"]
    return ", ".join(parts)


def as_json(sets: Mapping[TakeSet, Sequence[Result]], facts: dict[str, Any]) -> dict[str, Any]:
    """Lay out all figures, set by set and take by take."""
    return {
        **facts,
        "sets": {name: rows(results) for name, results in sets.items() if results},
        "takes": [
            {
                "set": r.recipe.of,
                "name": r.recipe.name,
                "case": r.recipe.case,
                "exercise": r.recipe.varied.exercise,
                "tempo": str(r.recipe.varied.tempo),
                "seed": r.recipe.seed,
                "seconds": r.seconds,
                "scores": {name: asdict(score) for name, score in r.scores.items()},
            }
            for results in sets.values()
            for r in results
        ],
    }
