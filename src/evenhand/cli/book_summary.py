"""What a shelf of books holds, in the terminal: the exercises, and which of them are the same."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from evenhand.application.tidy_book import Same, TidyBook
from evenhand.cli.exercise_table import exercise_table, inked, say_all
from evenhand.craft.alike import Turn
from evenhand.pages.figures import count


def say(tidied: TidyBook, *, same: bool, listed: bool, written: Path | None) -> None:
    """Print what was asked for: the exercises, those that are the same, and how many there are."""
    say_all(_parts(tidied, same=same, listed=listed, written=written))


def _parts(tidied: TidyBook, *, same: bool, listed: bool, written: Path | None) -> Iterator[RenderableType]:
    shelf = tidied.shelf
    if listed and not same:
        if shelf.title:
            yield Text(f"\n{shelf.title}", style="bold")
        numbers = [str(number) for number in range(1, len(shelf.placed) + 1)]
        yield exercise_table([placed.entry for placed in shelf.placed], numbers)
        yield Text(" ")
    if same:
        for group in tidied.same:
            yield _group(group)
            yield Text(" ")
    yield Text(_counted(tidied, same=same, written=written))


def _group(same: Same) -> Table:
    """Set out exercises that are the same, each with its place and how it is got from the first."""
    table = Table.grid(padding=(0, 2))
    for style in (None, None, "dim", "dim"):
        table.add_column(overflow="fold", style=style)
    table.add_row(inked(same.first.entry), same.first.entry.title, str(same.first), "")
    for other, turn in same.others:
        table.add_row(inked(other.entry), other.entry.title, str(other), said(turn))
    return table


def said(turn: Turn) -> str:
    """Say how one exercise is got from another.

    >>> said(Turn(2, True))
    'the hands swapped, and begun 2 notes later'
    """
    later = f"begun {count(turn.notes_later, 'note')} later" if turn.notes_later else ""
    swapped = "the hands swapped" if turn.hands_swapped else ""
    return ", and ".join(each for each in (swapped, later) if each) or "note for note"


def _counted(tidied: TidyBook, *, same: bool, written: Path | None) -> str:
    """Count the exercises, and those that are the same as an earlier one."""
    again = sum(len(group.others) for group in tidied.same)
    said_of = f"{count(len(tidied.shelf.placed), 'exercise')} from {count(tidied.files, 'file')}"
    if written is not None:
        said_of += f" in {written}"
    if tidied.dropped:
        were = "was" if tidied.dropped == 1 else "were"
        return f"{said_of}; {tidied.dropped} dropped that {were} the same as an earlier one"
    if not again:
        return f"{said_of}, no two of them the same" if len(tidied.shelf.placed) > 1 else said_of
    hint = "" if same else " (--same lists them, --without-same drops them)"
    verb = "is" if again == 1 else "are"
    return f"{said_of}; {again} {verb} the same as an earlier one{hint}"
