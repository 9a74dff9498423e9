"""What becomes of results: files that are whole or not there, lines on stderr, a line of progress."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Self

import typer

from evenhand.errors import CannotWrite, WrongOptions

Content = str | bytes

STDOUT = Path("-")


def check_places(*places: Path | None, reads: Iterable[Path | None] = ()) -> None:
    """Refuse places that cannot be written, one place for two results, and a place that is being read."""
    read = {path.resolve() for path in reads if path is not None}
    taken: set[Path] = set()
    for place in places:
        if place is None:
            continue
        check_place(place)
        real = place if place == STDOUT else place.resolve()
        if real in taken:
            raise WrongOptions(got=f"{place} as the place of two results", must_be="a place for each")
        if real in read:
            must_be = "another place: what is read is not written over"
            raise WrongOptions(got=f"{place} to write to, which is read", must_be=must_be)
        taken.add(real)


def check_place(path: Path | None) -> None:
    """Refuse a place that cannot be written before the work is done, not after."""
    if path is None or path == STDOUT:
        return
    if path.is_dir():
        raise CannotWrite(name=str(path), got="it is a folder")
    if not path.parent.is_dir():
        raise CannotWrite(name=str(path), got="there is no such folder")
    if not os.access(path.parent, os.W_OK):
        raise CannotWrite(name=str(path), got="the folder may not be written to")


def give(*results: tuple[Path | None, Callable[[], Content]]) -> bool:
    """Write each result that a place is named for; tell whether stdout is free for words.

    All are made before the first is written, so an error leaves nothing half done.
    """
    made = [(place, make()) for place, make in results if place is not None]
    for place, content in made:
        write(place, content)
    return all(place != STDOUT for place, _ in made)


def write(path: Path, content: Content) -> None:
    """Write a file in one step, or to stdout for ``-``.

    A file's name may hold bytes that are not text; what is written of it is UTF-8 all the same.
    """
    if isinstance(content, str):
        text = content.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
        if path == STDOUT:
            sys.stdout.write(text)
            sys.stdout.flush()
            return
        content = text.encode("utf-8")
    if path == STDOUT:
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    unfinished = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        if path.exists() and not path.is_file():  # /dev/null, a pipe: nothing may take its place
            path.write_bytes(content)
            return
        unfinished.write_bytes(content)
        unfinished.replace(path)
    except OSError as error:
        unfinished.unlink(missing_ok=True)
        raise CannotWrite(name=str(path), got=error.strerror or str(error)) from error


def make_folder(path: Path) -> None:
    """Make a folder for results, with those above it."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CannotWrite(name=str(path), got=error.strerror or str(error)) from error


def say_line(message: str) -> None:
    """Put one line on stderr; line breaks become spaces, and what a terminal would act on is taken out."""
    line = " ".join(message.split())
    sys.stderr.write(f"evenhand: {''.join(each if each.isprintable() else '?' for each in line)}\n")


SAID_EVERY_S, LOGGED_EVERY_S = 1.0, 60.0


class BatchLine:
    """How far a batch is, and between how long and how long it still takes, on stderr.

    A terminal has one line, written anew each second; a log gets a line a minute.
    """

    def __init__(self, what: str, total: int, weight: float) -> None:
        self._what, self._total, self._left = what, total, weight
        self._done: list[tuple[float, float]] = []
        self._said_s = time.monotonic()
        self._live = sys.stderr.isatty()

    def add(self, weight: float, *, at_s: float | None = None) -> None:
        """Count one that is done; ``at_s`` is when, by a clock that is always the same."""
        self._done.append((time.monotonic() if at_s is None else at_s, weight))
        self._left -= weight
        self.show()

    def show(self) -> None:
        """Show it, when it is time."""
        now_s = time.monotonic()
        if now_s - self._said_s < (SAID_EVERY_S if self._live else LOGGED_EVERY_S):
            return
        from evenhand.report.words.left import left_words, seconds_left

        self._said_s = now_s
        left = left_words(seconds_left(self._done, max(self._left, 0.0)))
        line = f"{self._what}: {len(self._done):,} of {self._total:,}, {left}"
        sys.stderr.write(f"\r{line}\x1b[K" if self._live else f"evenhand: {line}\n")
        sys.stderr.flush()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        if self._live:
            sys.stderr.write("\r\x1b[K")


PATIENCE_S = 0.7


@contextmanager
def shown(what: str, total: float = 1.0) -> Iterator[Callable[[float], None]]:
    """Give a function to be told how much of ``total`` is done.

    The line appears on stderr after a moment's patience, so a short take shows none.
    """
    if not sys.stderr.isatty():
        yield lambda _done: None
        return
    line = _ProgressLine(what, total)
    try:
        yield line.tell
    finally:
        line.end()


class _ProgressLine:
    """The progress line, made when it is first worth showing."""

    def __init__(self, what: str, total: float) -> None:
        self._what, self._total = what, total
        self._since_s = time.monotonic()
        self._end: Callable[[], None] | None = None
        self._update: Callable[[float], None] | None = None

    def tell(self, done: float) -> None:
        """Show how much is done."""
        if self._update is None and time.monotonic() - self._since_s > PATIENCE_S:
            self._start()
        if self._update is not None:
            self._update(done)

    def end(self) -> None:
        """Take the line away."""
        if self._end is not None:
            self._end()

    def _start(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

        bar = BarColumn(bar_width=32, style="dim", complete_style="none", finished_style="none")
        columns = (TextColumn("  {task.description}"), bar, TimeRemainingColumn(compact=True))
        progress = Progress(*columns, console=Console(stderr=True), transient=True)
        task = progress.add_task(self._what, total=self._total)
        progress.start()
        self._end = progress.stop
        self._update = lambda done: progress.update(task, completed=done)


def group_help(what: str) -> Callable[[typer.Context], None]:
    """Return what shows the help of a group of commands where none of them was named."""

    def show(context: typer.Context) -> None:
        if context.invoked_subcommand is None:
            typer.echo(context.get_help())

    show.__doc__ = what
    return show
