"""The demonstration's studio: it opens at once, and is filled while one looks round in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from evenhand.cli.results import shown
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.studio.store.studio import Studio


DEMO_NAME, DEMO_PASSWORD = "Studio Fallowmere", "demo"


def open_demo(folder: Path) -> tuple[Studio, tuple[tuple[str, str], ...]]:
    """Open the demonstration studio, begun where there is none; with each student's new link."""
    from datetime import timedelta

    from evenhand.errors import StudioMissing
    from evenhand.studio.store.studio import Studio

    try:
        studio = Studio.open(folder)
    except StudioMissing:
        studio = _new_demo(folder)
    with studio.closed_by_an_error():
        if not studio.facts.demo:
            raise WrongOptions(
                got=f"--demo with a real studio in {folder}", must_be="an empty folder, or no --demo"
            )
        _begin(studio, folder)
        links = tuple(
            (student.name, studio.access.make_link(student.id, lasts=timedelta(days=7))[0])
            for student in studio.students.all()
        )
    return studio, links


def _new_demo(folder: Path) -> Studio:
    """Make the demonstration's studio, with nobody in it yet."""
    from evenhand.studio.store.layout import OURS
    from evenhand.studio.store.studio import Studio

    if folder.is_dir() and {each.name for each in folder.iterdir()} - OURS:
        raise WrongOptions(
            got=f"--demo with other files in {folder}", must_be="an empty folder, or a new one"
        )
    return Studio.create(folder, name=DEMO_NAME, password=DEMO_PASSWORD, demo=True)


def _begin(studio: Studio, folder: Path) -> None:
    """Take the students in, unless that was done; from then on it is being filled."""
    from evenhand.studio.demo.fill import begin_demo, filling_of, say_filling

    if filling_of(folder) is None and studio.students.all():
        return
    say_filling(folder, 0, 0)
    begin_demo(studio, studio.facts.created_at.astimezone())


@contextmanager
def being_filled(folder: Path) -> Iterator[None]:
    """Fill the demonstration while it is served, and show how far it is in the terminal."""
    from evenhand.studio.demo.fill import Filling, filling_of

    if filling_of(folder) is None:
        yield
        return
    typer.echo("Invented students play six weeks, and are heard: the pages fill meanwhile.")
    with ExitStack() as line:
        told: list[Callable[[float], None]] = []
        count = [0]

        def tell(done: int, of: int) -> None:
            count[0] = done
            if not told:
                told.append(line.enter_context(shown("playing and hearing", float(of))))
            told[0](float(done))

        def ended(error: BaseException | None) -> None:
            line.close()
            if error is None:
                typer.echo(f"The demonstration is filled: {count[0]} takes were played and heard.")
            else:
                typer.echo(f"The demonstration could not be filled ({error}). Started again, it goes on.")

        filling = Filling(folder, tell, ended)
        filling.start()
        try:
            yield
        finally:
            filling.stop()
