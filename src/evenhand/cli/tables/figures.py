r"""How answers are set out in the terminal: blocks, one under another; and a take's figures.

Two inks, blue for the right hand and rust for the left, each readable on dark and on light;
shape before colour: ``/`` leans as the right hand's stick does, ``\`` as the left's.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.measuring.values import Measure, Measures, PositionMeasures
from evenhand.music.exercise import HAND_NAMES, HANDS, Exercise, Hand
from evenhand.report.words.figures import decimals_for, interval_words, plain, signed
from evenhand.report.words.measures import Figure, balance_figures, course_figures, hand_figures

WIDEST = 100
INDENT = 2
INKS: Mapping[Hand, str] = {"R": "#4f86c6", "L": "#c2622c"}
STICKS: Mapping[Hand, str] = {"R": "/", "L": "\\"}


def blocks(*each: Iterable[RenderableType]) -> RenderableType:
    """Set blocks one under another, an empty line around each that has anything in it."""
    lines: list[RenderableType] = [""]
    for block in each:
        inside = list(block)
        lines += [*inside, ""] if inside else []
    return Padding(Group(*lines), (0, INDENT))


def say_blocks(*each: Iterable[RenderableType]) -> None:
    """Print blocks on stdout, no wider than reads well."""
    console = readable_console()
    console.print(blocks(*each))


def readable_console() -> Console:
    """Return stdout, no wider than reads well."""
    console = Console(highlight=False, soft_wrap=False)
    console.width = min(console.width, WIDEST) if sys.stdout.isatty() else WIDEST
    return console


def bold(text: str) -> Text:
    """Write what matters most."""
    return Text(text, style="bold")


def quiet(*texts: str) -> list[Text]:
    """Write what is read last, a line each."""
    return [Text(text, style="dim") for text in texts if text]


def plain_lines(texts: Iterable[str]) -> list[Text]:
    """Write lines as they are."""
    return [Text(text) for text in texts]


def warned(texts: Iterable[str]) -> list[Text]:
    """Write what to be careful with."""
    return [Text(f"! {text}") for text in texts]


def where_it_is(what: str, place: Path | None) -> list[Text]:
    """Say where a picture, a chart or a report was written; nothing where none was."""
    return [] if place is None else [Text(f"The {what} is in {place}")]


def inked(text: str) -> Text:
    """Write an exercise with its hands in their inks."""
    written = Text(text)
    for hand, ink in INKS.items():
        written.highlight_regex(rf"[{hand}{hand.lower()}]", ink)
    return written


def hand_head(hand: Hand) -> Text:
    """Head a hand's column: its stick and its name, in its ink."""
    return Text(f"{STICKS[hand]} {HAND_NAMES[hand]}", style=f"bold {INKS[hand]}")


def figures_table(
    heads: Sequence[str | Text], rows: Iterable[Sequence[str | Text]], *, numbers: Sequence[int] = ()
) -> Table:
    """Set rows under their heads, without boxes; ``numbers`` are the columns that are set to the right."""
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="dim")
    for i, head in enumerate(heads):
        at_right = i in numbers
        table.add_column(head, justify="right" if at_right else "left", no_wrap=at_right, overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) if isinstance(cell, str) else cell for cell in row))
    return table


def without_empty_columns(
    heads: Sequence[str], rows: Sequence[Sequence[str]]
) -> tuple[list[str], list[list[str]]]:
    """Leave out the columns that have nothing in them."""
    kept = [i for i in range(len(heads)) if any(row[i] for row in rows)]
    return [heads[i] for i in kept], [[row[i] for i in kept] for row in rows]


UNITLESS = ("", "share", "ratio")
NOTE_COLUMN, LABEL_COLUMN = 6, 12

SIDE_BY_SIDE_WIDTH = 96
LABEL_WIDTH = 27
KEY = "each: the figure; the range it lies in with 95 % certainty; from how many hits or pairs"

Cells = tuple[str, str, str]


def figure_table(measures: Measures, *, width: int) -> Group:
    """Set out the figures, each with its 95 % range and its count: by hand, then of both.

    Where there is width the hands stand side by side, else one above the other.
    """
    hands = [[hand] for hand in HANDS] if width < SIDE_BY_SIDE_WIDTH else [list(HANDS)]
    tables = [
        _table([hand_head(hand) for hand in some], [hand_figures(measures, hand) for hand in some])
        for some in hands
    ]
    both = [*balance_figures(measures), *course_figures(measures)]
    tables.append(_table([Text("both", style="dim")], [both]))
    return Group(*(part for table in tables for part in (table, "")), Text(KEY, style="dim"))


def _table(heads: list[Text], columns: list[list[Figure]]) -> Table:
    """Set out figures under their heads, without boxes."""
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False)
    table.add_column("", no_wrap=True, min_width=LABEL_WIDTH)
    for head in heads:
        table.add_column(head, justify="right", no_wrap=True, min_width=10)
        table.add_column("95 % range", style="dim", no_wrap=True, min_width=14)
        table.add_column("from", style="dim", no_wrap=True, min_width=4)
    by_name = [{figure.name: figure for figure in column} for column in columns]
    for name in dict.fromkeys(name for column in by_name for name in column):
        table.add_row(name, *(cell for column in by_name for cell in _cells(column.get(name))))
    return table


def note_strip(exercise: Exercise, measures: Measures, middle_db: float, *, width: int) -> Group:
    """Set out the exercise note by note: its sticks, and how late and how loud each is on average.

    ``middle_db`` is the take's middle level, which levels are told against.
    """
    by_position = {each.position: each for each in measures.positions}
    if not by_position:
        return Group()
    per_line = max(4, (width - LABEL_COLUMN) // NOTE_COLUMN)
    lines: list[str | Table] = []
    for start in range(0, len(exercise.notes), per_line):
        stop = min(start + per_line, len(exercise.notes))
        lines += ["", _strip(exercise, by_position, range(start, stop), middle_db)]
    return Group(*lines, Text("late: mean; level: mean, against the take's middle", style="dim"))


def _strip(
    exercise: Exercise, by_position: Mapping[int, PositionMeasures], positions: range, level_db: float
) -> Table:
    """Set out one line of notes."""
    table = Table.grid()
    table.add_column(style="dim", width=LABEL_COLUMN, no_wrap=True)
    for _ in positions:
        table.add_column(justify="right", width=NOTE_COLUMN, no_wrap=True)
    notes = [exercise.notes[position] for position in positions]
    found = [by_position.get(position) for position in positions]
    sticks = [
        Text(f"{'>' if note.accent else ''}{STICKS[note.hand]}", style=f"bold {INKS[note.hand]}")
        if note.hand is not None
        else Text("-", style="dim")
        for note in notes
    ]
    table.add_row("", *sticks)
    table.add_row("late ms", *(_short(each.timing_ms if each else None, 0.0, 0) for each in found))
    table.add_row("level dB", *(_short(each.level_db if each else None, level_db, 1) for each in found))
    if any(each is not None and each.missed for each in found):
        table.add_row("missed", *(str(each.missed) if each and each.missed else "" for each in found))
    return table


def _short(measure: Measure | None, middle: float, decimals: int) -> str:
    """Write a figure as it stands to the middle, without its interval."""
    if measure is None or measure.value is None:
        return ""
    return signed(measure.value - middle, decimals)


def _cells(figure: Figure | None) -> Cells:
    """Write a figure, its interval and its count; too few is said."""
    if figure is None:
        return "–", "", ""
    measure = figure.measure
    if measure.value is None:
        return "too few", "", f"{measure.n}{f' of {measure.needs}' if measure.needs else ''}"
    decimals = decimals_for(measure.unit)
    value = (signed if figure.difference else plain)(measure.value, decimals)
    interval = "" if measure.ci95 is None else interval_words(measure.ci95, decimals)
    return with_unit(value, measure.unit), interval, f"{measure.n}"


def with_unit(figure: str, unit: str) -> str:
    """Write a figure with its unit, where it has one.

    >>> with_unit("6.2", "ms"), with_unit("0.49", "share")
    ('6.2 ms', '0.49')
    """
    return figure if unit in UNITLESS else f"{figure} {unit}"
