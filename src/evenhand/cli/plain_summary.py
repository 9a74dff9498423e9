"""How a summary of lines and one small table is printed."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

WIDEST = 100


def say_parts(summary: RenderableType) -> None:
    """Print a summary on stdout, no wider than reads well."""
    console = Console(highlight=False, soft_wrap=False)
    console.width = min(console.width, WIDEST) if sys.stdout.isatty() else WIDEST
    console.print(summary)


def figures_table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    """Set rows of figures under their heads; a column without anything in it is left out."""
    kept = [i for i in range(len(heads)) if any(row[i] for row in rows)]
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for i in kept:
        table.add_column(heads[i], no_wrap=False, overflow="fold")
    for row in rows:
        table.add_row(*(Text(row[i]) for i in kept))
    return table
