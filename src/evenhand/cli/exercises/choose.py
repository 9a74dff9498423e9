"""Exercises chosen: for what the last takes showed weak, or the fewest that hold a list's hand changes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.options import BookOutOption, JsonOption, JudgedTempoOption, WeakHandOption
from evenhand.cli.results import check_places, give
from evenhand.errors import WrongOptions
from evenhand.report.words.figures import EXERCISES_CAUTION
from evenhand.report.words.remarks import all_remarks

if TYPE_CHECKING:
    from evenhand.acts.exercises.choose import ChosenSet
    from evenhand.acts.exercises.cover import Covered, Shares
    from evenhand.music.book import Entry


BookArgument = Annotated[
    Path,
    typer.Argument(
        metavar="BOOK.txt", exists=True, help="A text file of one exercise a line, or a folder of them."
    ),
]
MoreTakesArgument = Annotated[
    list[Path] | None, typer.Argument(metavar="[TAKE.json]...", help="More takes, as a shell lists them.")
]
TakesOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--takes", metavar="TAKE.json...", help="Takes that were heard, as evenhand listen --json wrote them."
    ),
]
CountOption = Annotated[int, typer.Option("--count", metavar="N", min=1, help="How many to choose, at most.")]


def choose(
    book: BookArgument,
    more_takes: MoreTakesArgument = None,
    takes: TakesOption = None,
    count: CountOption = 6,
    tempo: JudgedTempoOption = "1/4=90",
    weak_hand: WeakHandOption = "L",
    json: JsonOption = None,
    out: BookOutOption = None,
) -> None:
    """Choose exercises for what the last takes showed weak.

    They load what was weak, and come easy to hard.
    """
    heard = [*(takes or []), *(more_takes or [])]
    check_places(json, out, reads=(book, *heard))
    if not heard:
        raise WrongOptions(got="no takes", must_be="one or more, such as --takes heard/*.json")
    from evenhand.acts.exercises.books import read_books
    from evenhand.acts.exercises.choose import choose_exercises
    from evenhand.acts.takes.findings import read_takes
    from evenhand.music.exercise import Tempo

    chosen = choose_exercises(
        read_books([book]), read_takes(heard), Tempo.parse(tempo), count=count, weak_hand=weak_hand
    )
    if give((json, lambda: chosen.json), (out, lambda: chosen.book)):
        _say_chosen(chosen)


def _say_chosen(chosen: ChosenSet) -> None:
    for note in all_remarks(chosen.notes):
        typer.echo(note)
    for each in chosen.chosen:
        _say_one(each.entry, f"\n      {each.reason}")
    if chosen.chosen:
        typer.echo(f"\n{EXERCISES_CAUTION}")


ListArgument = Annotated[
    list[Path],
    typer.Argument(
        metavar="LIST.txt...",
        exists=True,
        help="Books: text files of one exercise a line, or folders of them.",
    ),
]
ChangesOption = Annotated[
    int,
    typer.Option(
        "--changes",
        metavar="K",
        help="How many notes in a row make a hand change, around the repeat: 2 to 16.",
    ),
]
TimeOption = Annotated[
    float,
    typer.Option("--time-limit", metavar="SECONDS", help="How long to look for fewer, or for a proof."),
]
SharesOption = Annotated[
    bool,
    typer.Option("--show-shares", help="Show what the first few hold, the easiest few, and the best few."),
]


def cover(
    books: ListArgument,
    changes: ChangesOption,
    tempo: JudgedTempoOption = "1/4=90",
    weak_hand: WeakHandOption = "L",
    time_limit: TimeOption = 20.0,
    show_shares: SharesOption = False,  # noqa: FBT002 - a switch
    json: JsonOption = None,
    out: BookOutOption = None,
) -> None:
    """Choose the fewest that hold all hand changes of a list.

    They come easy to hard.
    """
    check_places(json, out, reads=books)
    from evenhand.acts.exercises.books import read_books
    from evenhand.acts.exercises.cover import cover_list
    from evenhand.music.exercise import Tempo

    covered = cover_list(
        read_books(books),
        changes,
        Tempo.parse(tempo),
        weak_hand=weak_hand,
        time_limit_s=time_limit,
        show_shares=show_shares,
    )
    if give((json, lambda: covered.json), (out if covered.chosen else None, lambda: covered.book)):
        _say_covered(covered)


def _say_covered(covered: Covered) -> None:
    typer.echo(_headline(covered))
    for entry, rank in zip(covered.chosen, covered.ranks, strict=True):
        _say_one(entry, f"   {rank}")
    if covered.shares is not None:
        _say_shares(covered.shares, covered.of)
    if covered.chosen:
        typer.echo(f"\n{EXERCISES_CAUTION}")


def _headline(covered: Covered) -> str:
    from evenhand.report.words.exercises import covering_words

    needed = None if covered.optimal else covered.bound
    return covering_words(
        len(covered.chosen), covered.listed, changes=covered.of, notes=covered.changes, needed=needed
    )


def _say_one(entry: Entry, why: str) -> None:
    """Say one exercise, its title, and why it is among them or where."""
    from evenhand.music.text import print_exercise

    title = f"  {entry.title}" if entry.title else ""
    typer.echo(f"  {print_exercise(entry.exercise)}{title}{why}")


def _say_shares(shares: Shares, of: int) -> None:
    """Set out what few hold, row by row until all hold all."""
    typer.echo(f"\n  hand changes held, of {of}:")
    typer.echo(f"  {'exercises':>9}  {'first':>6}  {'easiest':>7}  {'one by one':>10}  {'best':>6}")
    for i, (first, easiest) in enumerate(zip(shares.first, shares.easiest, strict=True)):
        one_by_one = shares.greedy[min(i, len(shares.greedy) - 1)]
        best_i = min(i, len(shares.best) - 1)
        sure = " " if shares.proven[best_i] else "+"
        row = f"  {i + 1:>9}  {first:>6}  {easiest:>7}  {one_by_one:>10}  {shares.best[best_i]:>5}{sure}"
        typer.echo(row.rstrip())
        if first == easiest == one_by_one == of:
            break
    if not all(shares.proven):
        typer.echo("  + not proven: there may be a better choice of so many")
