"""``evenhand exercises library``: tracks to practise from, and what belongs to a stage."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.options import BookOutOption, JsonOption, read_stages
from evenhand.cli.results import check_places, give
from evenhand.report.words.figures import count

if TYPE_CHECKING:
    from rich.console import RenderableType

    from evenhand.acts.exercises.library import LibraryChoice

TrackOption = Annotated[
    list[str] | None,
    typer.Option("--track", metavar="NAME", help="Only this track; may be given again. Without it, all."),
]
StageOption = Annotated[
    str | None, typer.Option("--stage", metavar="NAME", help="Only what belongs to this stage of the path.")
]
PathFileOption = Annotated[
    Path | None,
    typer.Option("--path", metavar="FILE", exists=True, dir_okay=False, help="A path of your own (TOML)."),
]


def library(
    track: TrackOption = None,
    stage: StageOption = None,
    path: PathFileOption = None,
    json: JsonOption = None,
    out: BookOutOption = None,
) -> None:
    """List exercises to practise from, in tracks, easy to hard.

    With --stage, what belongs to that stage, with the tempos of the quarter that it allows. What is written
    with --out is a book: it can be printed, chosen from, and put into a studio.
    """
    check_places(json, out)
    from evenhand.acts.exercises.library import from_library
    from evenhand.music.book import print_book

    found = from_library(track or (), path=read_stages(path) if stage else None, stage=stage)
    is_free = give((json, lambda: found.json), (out, lambda: print_book(found.book)))
    if json is None and out is None:
        _show(found)
    elif is_free:
        places = " and in ".join(str(place) for place in (out, json) if place is not None)
        typer.echo(f"{count(len(found.exercises), 'exercise')} in {places}")


def _show(found: LibraryChoice) -> None:
    """Print a table for each track."""
    from evenhand.cli.tables.exercises import exercise_table, say_all
    from evenhand.cli.tables.figures import bold
    from evenhand.music.book import Entry

    blocks: list[RenderableType] = []
    for name, some in groupby(found.exercises, key=lambda each: each.track):
        listed = list(some)
        bounds = [found.tempos(each) for each in listed]
        beside = [f"1/4 = {pair[0]:.0f} to {pair[1]:.0f}" if pair else "" for pair in bounds]
        numbers = [str(each.place) for each in listed]
        entries = [Entry(each.exercise, each.title) for each in listed]
        blocks += [bold(name), exercise_table(entries, numbers, beside)]
    say_all(blocks)
