"""Where a folded picture's rows and columns lie, so that a page can play from any of them.

Conventions: px of each block's own viewBox, y downwards; seconds of the recording. A hit is
[time_s, row, position]; rows count from 0 in the picture's order, a row's repetition from 1.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from evenhand.measuring.values import HeardTake
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.music.exercise import Exercise
from evenhand.report.take.folded import TOP_PX
from evenhand.report.take.layout import Layout, bands_of, lay_out
from evenhand.report.take.rows import Row

TIME_DIGITS, PX_DIGITS = 4, 1
TAIL_SHARE = 0.5  # of a repetition: how long a last row goes on after its last hit, at most a second
MOST_TAIL_S = 1.0


def places_of(take: HeardTake, wide: EngravedExercise, narrow: EngravedExercise) -> dict[str, Any]:
    """Return a take's rows, hits, and their places in both layouts of its picture; empty where it has none.

    The engravings are those that the picture was drawn with.
    """
    laid = lay_out(take, wide, narrow)
    if laid is None:
        return {}
    return {
        "hands": [note.hand or "-" for note in laid.exercise.notes],
        "rows": _rows(laid.rows, take.input.seconds),
        "hits": [
            [round(mark.time_s, TIME_DIGITS), i, mark.position]
            for i, row in enumerate(laid.rows)
            for mark in row.marks
        ],
        "looks": {
            layout.look.key: _blocks(layout, laid.exercise, laid.rows) for layout in (laid.desk, laid.phone)
        },
    }


def factor_of(take: HeardTake, wide: EngravedExercise, narrow: EngravedExercise) -> float | None:
    """Return how many times wider than the music a take's picture draws time; None where it has none."""
    laid = lay_out(take, wide, narrow)
    return None if laid is None else laid.scale.factor


def _rows(rows: tuple[Row, ...], seconds: float) -> list[list[float]]:
    """Return each row's repetition, where it begins, and where it ends."""
    begins = [row.marks[0].time_s if row.marks else None for row in rows]
    out: list[list[float]] = []
    for i, row in enumerate(rows):
        first = begins[i]
        if first is None:
            out.append([row.repetition, -1.0, -1.0])
            continue
        last = row.marks[-1].time_s
        after = next((at for at in begins[i + 1 :] if at is not None), seconds)
        end = min(after, last + min(MOST_TAIL_S, max(0.15, TAIL_SHARE * (last - first))))
        out.append([row.repetition, round(first, TIME_DIGITS), round(end, TIME_DIGITS)])
    return out


def _blocks(layout: Layout, exercise: Exercise, rows: tuple[Row, ...]) -> list[dict[str, Any]]:
    """Return each line of music's columns and rows; a fold's room is shared out among its repetitions."""
    ys = _middles(layout, rows)
    half = round(layout.half_px, PX_DIGITS)
    return [
        {
            "xs": {
                str(position): round(x, PX_DIGITS)
                for position, x in layout.xs(line).items()
                if not exercise.notes[position].is_rest
            },
            "ys": [round(line.height + TOP_PX + y, PX_DIGITS) for y in ys],
            "half": half,
            "pitch": round(min(layout.pitch_px, _closest(ys, layout.pitch_px)), PX_DIGITS),
        }
        for line in layout.engraved.lines
    ]


def _middles(layout: Layout, rows: tuple[Row, ...]) -> list[float]:
    """Return the middle of each row, from the top of the rows."""
    out = []
    for band in bands_of(layout, rows):
        share = layout.pitch_px / len(band.rows)
        top = band.y - layout.pitch_px / 2
        out += [top + (i + 0.5) * share for i in range(len(band.rows))]
    return out


def _closest(ys: list[float], otherwise: float) -> float:
    return min((b - a for a, b in pairwise(ys)), default=otherwise)
