"""The tables of a sheet's days: a box to tick for each turn of each exercise."""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.pages.practice_words import rounded_time
from evenhand.pages.sheet_contents import LessonSheet, SheetDay, SheetExercise
from evenhand.pages.typed_text import one_line, shortened

DAYS_A_TABLE = 7
MOST_BOXES = 4  # more turns a day are boxed once and counted
LONGEST_NAME = 60  # letters


def tick_tables(sheet: LessonSheet) -> list[dict[str, object]]:
    """Return a table for each week of the sheet's days."""
    weeks = [sheet.days[first : first + DAYS_A_TABLE] for first in range(0, len(sheet.days), DAYS_A_TABLE)]
    return [
        _table(sheet, week, number if len(weeks) > 1 else 0) for number, week in enumerate(weeks, start=1)
    ]


def _table(sheet: LessonSheet, days: Sequence[SheetDay], week: int) -> dict[str, object]:
    here = {turn.exercise for day in days for turn in day.turns}
    rows = [_row(index, each, days) for index, each in enumerate(sheet.exercises) if index in here]
    return {
        "name": f"Week {week}, to tick" if week else "To tick",
        "days": [day.name for day in days],
        "rows": [*rows, *_order(days), *_total(days)],
    }


def _row(index: int, each: SheetExercise, days: Sequence[SheetDay]) -> dict[str, object]:
    cells: list[object] = []
    for day in days:
        turns = [turn for turn in day.turns if turn.exercise == index]
        seconds = [turn.seconds for turn in turns if turn.seconds]
        if len(turns) > MOST_BOXES:
            cells.append({"boxes": 1, "text": f"× {len(turns)}"})
        else:
            text = rounded_time(sum(seconds)) if seconds else ""
            cells.append({"boxes": len(turns), "text": text} if turns else None)
    return {
        "number": str(index + 1),
        "name": shortened(one_line(each.title) or each.text, LONGEST_NAME),
        "quiet": not each.title,
        "cells": cells,
    }


def _order(days: Sequence[SheetDay]) -> list[dict[str, object]]:
    """Say in which order, on the days where it is not the sheet's own."""
    orders = [[turn.exercise + 1 for turn in day.turns] for day in days]
    if all(order == sorted(set(order)) for order in orders):
        return []
    cells = [{"boxes": 0, "text": " ".join(map(str, order))} if order else None for order in orders]
    return [{"number": "", "name": "in this order", "quiet": True, "cells": cells}]


def _total(days: Sequence[SheetDay]) -> list[dict[str, object]]:
    """Add up each day, where its turns say what they take."""
    if not any(turn.seconds for day in days for turn in day.turns):
        return []
    cells = [{"boxes": 0, "text": rounded_time(day.seconds)} if day.seconds else None for day in days]
    return [{"number": "", "name": "in all, rests too", "quiet": True, "cells": cells}]
