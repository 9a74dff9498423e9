"""A line that shows how far a long job is; it comes only where someone watches, and goes again."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

PATIENCE_S = 0.7


@contextmanager
def shown(what: str, total: float = 1.0) -> Iterator[Callable[[float], None]]:
    """Give a function to be told how much of ``total`` is done.

    The line appears on stderr after a moment's patience, so a short take shows none.
    """
    if not sys.stderr.isatty():
        yield lambda _done: None
        return
    line = _Line(what, total)
    try:
        yield line.tell
    finally:
        line.end()


class _Line:
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
