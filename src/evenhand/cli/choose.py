"""``evenhand exercises choose``: what loads what the last takes showed to be weak."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.files import STDOUT, check_places, write_text
from evenhand.domain.cautions import EXERCISES_CAUTION
from evenhand.errors import WrongOptions

if TYPE_CHECKING:  # these bring numpy, which the help need not wait for
    from evenhand.application.choose_exercises import ChosenSet

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
TempoOption = Annotated[
    str, typer.Option("--tempo", metavar="TEMPO", help="The tempo that easy and hard are judged at.")
]
WeakHandOption = Annotated[
    Literal["R", "L"],
    typer.Option("--weak-hand", help="Whose strokes count for more when judging easy and hard."),
]
JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write the choice as JSON; - for stdout."),
]
OutOption = Annotated[
    Path | None, typer.Option("--out", metavar="BOOK.txt", help="Write the chosen as a book of exercises.")
]


def choose(
    book: BookArgument,
    more_takes: MoreTakesArgument = None,
    takes: TakesOption = None,
    count: CountOption = 6,
    tempo: TempoOption = "1/4=90",
    weak_hand: WeakHandOption = "L",
    json: JsonOption = None,
    out: OutOption = None,
) -> None:
    """Choose exercises for what the last takes showed weak.

    They load what was weak, and come easy to hard.
    """
    heard = [*(takes or []), *(more_takes or [])]
    check_places(json, out, reads=(book, *heard))
    if not heard:
        raise WrongOptions(got="no takes", must_be="one or more, such as --takes heard/*.json")
    from evenhand.application.choose_exercises import choose_exercises
    from evenhand.application.heard_findings import read_takes
    from evenhand.application.keep_book import read_books
    from evenhand.domain.tempo import Tempo

    chosen = choose_exercises(
        read_books([book]), read_takes(heard), Tempo.parse(tempo), count=count, weak_hand=weak_hand
    )
    _give(chosen, json, out)


def _give(chosen: ChosenSet, json: Path | None, out: Path | None) -> None:
    """Write what was asked for, and say the rest."""
    if json is not None:
        write_text(json, chosen.json)
    if out is not None:
        write_text(out, chosen.book)
    if STDOUT in {json, out}:
        return
    from evenhand.craft.text import print_exercise

    for note in chosen.notes:
        typer.echo(note)
    for each in chosen.chosen:
        title = f"  {each.entry.title}" if each.entry.title else ""
        typer.echo(f"  {print_exercise(each.entry.exercise)}{title}\n      {each.reason}")
    if chosen.chosen:
        typer.echo(f"\n{EXERCISES_CAUTION}")
