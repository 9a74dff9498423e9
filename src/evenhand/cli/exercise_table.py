"""Exercises as a quiet table in the terminal, a line each; the two hands in their inks."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.cli.figure_table import INKS
from evenhand.craft.text import print_exercise
from evenhand.domain.book import Entry

WIDE = 400  # where nobody watches, a line stays one line, so that it can be searched


def say_all(parts: Iterable[RenderableType]) -> None:
    """Print the parts on stdout, one under another."""
    console = Console(highlight=False, soft_wrap=False)
    indented = Group(*(Padding(part, (0, 2), expand=False) for part in parts))
    if sys.stdout.isatty():
        console.print(indented)
        return
    console.width = WIDE
    with console.capture() as captured:
        console.print(indented)
    sys.stdout.write("".join(f"{line.rstrip()}\n" for line in captured.get().splitlines()))


def exercise_table(entries: Sequence[Entry], lead: Sequence[str]) -> Table:
    """Set out exercises with their titles, under their sections; ``lead`` stands before each."""
    table = Table.grid(padding=(0, 2))
    table.add_column(style="dim", justify="right", no_wrap=True)
    table.add_column(overflow="fold", max_width=44)
    table.add_column(overflow="fold")
    section = ""
    for entry, before in zip(entries, lead, strict=True):
        if entry.section != section:
            section = entry.section
            table.add_row("", "", "")
            table.add_row("", Text(section, style="bold"), "")
        table.add_row(before, Text(entry.title), inked(entry))
    return table


def inked(entry: Entry) -> Text:
    """Write an exercise with its hands in their inks."""
    text = Text(print_exercise(entry.exercise))
    text.highlight_regex(r"[rR]", INKS["R"])
    text.highlight_regex(r"[lL]", INKS["L"])
    return text
