"""``evenhand hear-again``: all takes heard again by the ear of now, and what it hears otherwise."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.options import DataOption, JsonOption
from evenhand.cli.results import BatchLine, check_places, give, shown
from evenhand.cli.studio.serve import data_folder
from evenhand.cli.studio.settings import DatabaseOption, ObjectsOption, StudioOption, backing_of
from evenhand.errors import WrongOptions
from evenhand.report.words.figures import count

if TYPE_CHECKING:
    from evenhand.studio.store.layout import Backing
    from evenhand.studio.store.studio import Studio
    from evenhand.studio.whole.again import TakeAgain, Which

LOOKS_S = 1.0  # until it looks again how far the workers are
EVERY = "all"

OneStudentOption = Annotated[
    str | None, typer.Option("--student", metavar="NAME", help="Only this student's takes: a name, or an id.")
]
SinceOption = Annotated[
    str | None, typer.Option("--since", metavar="DAY", help="Only takes recorded since, such as 2026-09-01.")
]
WorkersOption = Annotated[
    int,
    typer.Option(
        "--workers",
        metavar="N",
        min=0,
        help="Processes that hear, as long as this command runs; 0: only the workers that run elsewhere.",
    ),
]
CsvOption = Annotated[
    Path | None,
    typer.Option("--csv", metavar="FILE", allow_dash=True, help="Write a row a take; - for stdout."),
]
TakeOverOption = Annotated[
    list[str] | None,
    typer.Option(
        "--take-over",
        metavar="TAKE",
        help="Hear nothing; show the new version of a take: its id, or all (but those with corrections).",
    ),
]
GoBackOption = Annotated[
    list[str] | None,
    typer.Option(
        "--go-back", metavar="TAKE", help="Hear nothing; show the old version again: an id, or all."
    ),
]
StopOption = Annotated[
    bool, typer.Option("--stop", help="Hear nothing more: what still waits to be heard again is let go.")
]


def hear_again(
    data: DataOption = None,
    database: DatabaseOption = None,
    objects: ObjectsOption = None,
    studio: StudioOption = None,
    student: OneStudentOption = None,
    since: SinceOption = None,
    workers: WorkersOption = 1,
    json: JsonOption = None,
    csv: CsvOption = None,
    take_over: TakeOverOption = None,
    go_back: GoBackOption = None,
    stop: StopOption = False,  # noqa: FBT002 - a switch
) -> None:
    """Hear again what an older ear heard, and compare.

    Nothing that is shown changes: the new version is kept beside the old one until you take it over, and you
    can go back. No take is heard twice: broken off, run it again and it goes on. It may run while the studio
    is open, and whoever practises meanwhile is heard first.
    """
    check_places(json, csv)
    if sum(map(bool, (take_over, go_back, stop))) > 1:
        raise WrongOptions(got="two of --take-over, --go-back and --stop", must_be="one at a time")
    from evenhand.studio.store.studio import Studio

    folder = data or data_folder()
    backing = backing_of(folder, database, objects, studio)
    with Studio.open(folder, backing=backing) as kept:
        if stop or take_over or go_back:
            typer.echo(_changed(kept, take_over, go_back))
            return
        which = _which(kept, student, since)
        _ask(kept, which)
        with hearing_here(folder, backing, workers):
            _wait(kept)
        _report(kept, which, json, csv)


def _which(studio: Studio, student: str | None, since: str | None) -> Which:
    """Read which takes are meant."""
    from evenhand.studio.whole.again import Which

    try:
        day = None if since is None else date.fromisoformat(since)
    except ValueError:
        raise WrongOptions(got=f"--since {since}", must_be="a day, such as 2026-09-01") from None
    return Which(None if student is None else _student_id(studio, student), day)


def _student_id(studio: Studio, called: str) -> str:
    """Find the one student that is called so."""
    from evenhand.studio.whole.folder import ONE_STUDENT, called_so

    found = called_so(studio.students.all(archived=None), called)
    if len(found) != 1:
        raise WrongOptions(got=f"--student {called}, of whom there are {len(found)}", must_be=ONE_STUDENT)
    return found[0].id


def _changed(studio: Studio, over: list[str] | None, back: list[str] | None) -> str:
    """Exchange versions, or let go of what waits; say what was done."""
    from evenhand.studio.whole.again import go_back, take_over
    from evenhand.take import EAR

    if over:
        with shown("taking over") as progress:
            done, left = take_over(studio, None if EVERY in over else over, progress)
        kept = (
            f" Left for their corrections: {count(left, 'take')}; name one to take it over." if left else ""
        )
        return f"{count(done, 'take')} taken over: what ear {EAR} heard is shown now.{kept}"
    if back:
        with shown("going back") as progress:
            done = go_back(studio, None if EVERY in back else back, progress)
        return f"{count(done, 'take')} gone back: what was shown before is shown again."
    return f"{count(studio.hearings.take_back(EAR), 'take')} let go that waited to be heard again."


def _ask(studio: Studio, which: Which) -> None:
    from evenhand.studio.whole.again import ask_again
    from evenhand.take import EAR

    with shown("looking for takes of older ears") as progress:
        asked = ask_again(studio, which, progress)
    typer.echo(f"To be heard by ear {EAR}: {count(asked, 'take')} more.", err=True)


@contextmanager
def hearing_here(folder: Path, backing: Backing, workers: int) -> Iterator[None]:
    """Let workers of this command's own hear for a while, where some are wanted."""
    if workers == 0:
        yield
        return
    from evenhand.studio.work.pool import WorkerPool

    with WorkerPool(folder, workers, backing=backing):
        yield


def _wait(studio: Studio) -> None:
    """Wait until all is heard; show how far it is."""
    from evenhand.take import EAR

    counts, seen = studio.hearings.counts(EAR), studio.data.now()
    total = counts["waiting"] + counts["hearing"]
    told = set[str]()
    with BatchLine("heard again", total, studio.hearings.left_s(EAR)) as line:
        while counts["waiting"] + counts["hearing"]:
            time.sleep(LOOKS_S)
            for take_id, at, seconds in studio.hearings.finished(EAR, seen):
                if take_id not in told:
                    line.add(seconds, at_s=at.timestamp())
                told.add(take_id)
                seen = at
            line.show()
            counts = studio.hearings.counts(EAR)


def _report(studio: Studio, which: Which, json: Path | None, csv: Path | None) -> None:
    """Say what is heard otherwise, in sum and take by take."""
    from evenhand.studio.whole.again import SumAgain, compared

    found: list[TakeAgain] = []
    summed = SumAgain()
    with shown("comparing") as progress:
        for take in compared(studio, which, progress):
            summed.add(take)
            found.append(take)
    from evenhand.cli.tables.again import as_csv, as_json, say

    if give((json, lambda: as_json(found, summed)), (csv, lambda: as_csv(found))):
        names = {each.id: each.name for each in studio.students.all(archived=None)}
        say(found, summed, names)
