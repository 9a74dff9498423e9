r"""How answers are set out in the terminal: blocks of lines and tables, one under another.

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

from evenhand.music.exercise import HAND_NAMES, Hand

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
