"""What commands read: takes, lists of takes, a student's history, small files, days."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from evenhand.cli.results import shown
from evenhand.errors import BadList, BadText, WrongOptions

if TYPE_CHECKING:
    from evenhand.acts.takes.many import ListedTake
    from evenhand.progress.history import History
    from evenhand.progress.stages.path import PracticePath
    from evenhand.take import Progress

SMALL_BYTES, LIST_BYTES = 2_000_000, 16_000_000


@contextmanager
def hearing(take: Path) -> Iterator[Progress]:
    """Show how much of a take is heard; its decoder starts while the rest is loaded."""
    from evenhand.media.decoder import warm_up

    warm_up(take)
    with shown(f"hearing {take.name}") as progress:
        yield progress


def listed_takes(path: Path) -> Sequence[ListedTake]:
    """Read a list of takes; paths in it are relative to it."""
    from evenhand.acts.takes.many import read_list

    text = read_text(path, error=BadList, must_be="a list of takes as CSV", largest_bytes=LIST_BYTES)
    return read_list(text, name=path.name, folder=path.parent)


def students_takes(folder: Path) -> History:
    """Read a student's takes, hearing those that are new."""
    from evenhand.acts.takes.history import read_history
    from evenhand.media.open_take import open_take

    with shown(f"hearing what is new in {folder.name}") as progress:
        return read_history(folder, opens=open_take, progress=progress)


def read_stages(path: Path | None) -> PracticePath:
    """Read a path of the teacher's own, or take the common one."""
    if path is not None:
        from evenhand.acts.weeks.stages import read_path

        return read_path(path)
    from evenhand.progress.stages.path import COMMON_PATH

    return COMMON_PATH


def read_text(path: Path, *, error: type[BadText], must_be: str, largest_bytes: int = SMALL_BYTES) -> str:
    """Read a text file that somebody wrote: a table, a calibration."""
    from evenhand.acts.fields import read_text_file

    return read_text_file(path, error=error, largest_bytes=largest_bytes, must_be=must_be)


def read_day(text: str | None) -> date | None:
    """Read a day, where one is said.

    >>> read_day("2026-03-09")
    datetime.date(2026, 3, 9)
    """
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise WrongOptions(got=f"the date {text!r}", must_be="a day such as 2026-11-30") from error
