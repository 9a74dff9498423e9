"""Hear takes on a machine that serves no pages: ``evenhand work``, on as many machines as are needed."""

from __future__ import annotations

import signal
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import typer

from evenhand.cli.studio.settings import (
    DatabaseOption,
    GraceOption,
    HearersOption,
    ObjectsOption,
    SharedFolderOption,
    TracesOption,
    checked_objects,
    postgres_address,
)
from evenhand.errors import WrongOptions
from evenhand.report.words.figures import count


def work(
    data: SharedFolderOption = None,
    database: DatabaseOption = None,
    objects: ObjectsOption = None,
    processes: HearersOption = 1,
    grace: GraceOption = 30.0,
    traces: TracesOption = False,  # noqa: FBT002 - a switch
) -> None:
    """Hear the takes that come in on another machine.

    They are those of a studio, or of a whole school, whose Postgres evenhand serve uses. It may run on any
    number of machines, and be ended or fail at any instant: no take is lost, and each is heard once.
    Ctrl-C or a termination signal ends it.
    """
    from evenhand.studio.store.layout import Backing
    from evenhand.studio.traces import switch_on
    from evenhand.studio.work.children import HELD, held
    from evenhand.studio.work.pool import WorkerPool

    url = postgres_address(database)
    if url is None:
        raise WrongOptions(got="no --database", must_be="the Postgres of evenhand serve: postgresql://...")
    backing = Backing(url, objects=checked_objects(objects, demo=False))
    if traces:
        switch_on()
    with _place(data, objects) as place, held():
        pool = WorkerPool(place, processes, backing=backing)
        pool.start(sweeps=False)
        typer.echo(f"{count(processes, 'process', 'processes')} waiting for takes. Ctrl-C ends it.")
        signal.sigwait(HELD)
        typer.echo("Ending; the takes in hand are finished first.")
        pool.stop(grace_s=grace)
    typer.echo(f"Ended. {count(int(sum(pool.hearing.times()[:-1])), 'take')} heard.")


@contextmanager
def _place(data: Path | None, objects: str | None) -> Iterator[Path]:
    """Give the studio's folder where recordings lie in it, or else one to work in, which goes again."""
    if data is not None:
        yield data
    elif objects is None:
        must_be = "--data with the studio's folder, which this machine shares, or --objects"
        raise WrongOptions(got="neither --data nor --objects", must_be=must_be)
    else:
        with tempfile.TemporaryDirectory(prefix="evenhand-work-", ignore_cleanup_errors=True) as folder:
            yield Path(folder)
