"""A folder of recordings heard, up to ten thousand: broken off it goes on, and a table has them all.

A list in the folder says what each recording is: ``file,exercise,tempo[,click,student,stroke,recorded]``;
``recorded`` is a day, or a moment. Without a list all recordings are of one exercise, or are heard blind.

Conventions: what becomes of a take is written down in a journal beside the results as soon as its result is
whole; a line is believed while the recording's size and time of change, what it is heard as, and the ear are
those of then. So a take is heard once, and one that brings its process down is set aside by name.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO

from evenhand.acts.documents import TableRow, read_rows
from evenhand.acts.takes.document import heard_take_of
from evenhand.acts.takes.figures import FIGURES, Row, figures_of
from evenhand.acts.takes.many import (
    MOST_TAKES,
    NEEDED,
    OPTIONAL,
    ListedResult,
    ListedTake,
    path_in,
    request_in,
    told_apart,
)
from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import BadDocument, BadList
from evenhand.music.strokes.heights import StrokeClass, stroke_class
from evenhand.take import EAR

LIST, JOURNAL, TABLE = "list.csv", "journal.jsonl", "heard.csv"
OF_STUDIO = ("student", "stroke", "recorded")
RECORDINGS = frozenset(
    {
        ".wav",
        ".flac",
        ".mp3",
        ".ogg",
        ".oga",
        ".opus",
        ".m4a",
        ".aac",
        ".aif",
        ".aiff",
        ".webm",
        ".mid",
        ".midi",
    }
    | {".mp4", ".mov", ".mkv", ".caf", ".amr", ".3gp", ".wma"}
)


@dataclass(frozen=True, slots=True)
class FolderTake:
    """A recording of a folder, and what the list says of it; ``recorded`` has a zone, or is None."""

    listed: ListedTake
    student: str = ""
    stroke: StrokeClass | None = None
    recorded: datetime | None = None


def read_folder_list(text: str, *, name: str, folder: Path) -> tuple[FolderTake, ...]:
    """Read a folder's list. Rows are counted as a spreadsheet counts them: the heading is row 1.

    Raises
    ------
    BadList
        Naming the row and the column of the first thing that cannot be read.
    """
    rows = read_rows(text, name=name, needed=NEEDED, optional=(*OPTIONAL, *OF_STUDIO), error=BadList)
    check_many(len(rows), name, "a heading and at least one row below it")
    listed = [_listed(row, folder) for row in rows]
    return tuple(
        FolderTake(take, row["student"].strip(), _stroke_in(row), _recorded_in(row))
        for take, row in zip(told_apart(listed), rows, strict=True)
    )


def _listed(row: TableRow, folder: Path) -> ListedTake:
    path = path_in(row, folder)
    return ListedTake(row.number, path, request_in(row), path.stem)


def folder_takes(folder: Path, request: TakeRequest) -> tuple[FolderTake, ...]:
    """List a folder's recordings by their names, all of them of one exercise, or to be heard blind."""
    paths = sorted(path for path in folder.iterdir() if path.suffix.lower() in RECORDINGS and path.is_file())
    check_many(len(paths), str(folder), "a folder with recordings in it")
    listed = [ListedTake(number, path, request, path.stem) for number, path in enumerate(paths, start=1)]
    return tuple(map(FolderTake, told_apart(listed)))


def check_many(found: int, where: str, must_be: str) -> None:
    """Refuse no takes, and more than are heard in one go."""
    if not found:
        raise BadList(where=where, got="no takes", must_be=must_be)
    if found > MOST_TAKES:
        raise BadList(where=where, got=f"more than {MOST_TAKES:,} takes", must_be="several folders")


def _stroke_in(row: TableRow) -> StrokeClass | None:
    found = stroke_class(row["stroke"].strip())
    if row["stroke"].strip() and found is None:
        row.fail("stroke", "full, half, tap, or nothing")
    return found


def _recorded_in(row: TableRow) -> datetime | None:
    if not row["recorded"].strip():
        return None
    try:
        return datetime.fromisoformat(row["recorded"].strip()).astimezone()
    except ValueError:
        row.fail("recorded", "a day or a moment, such as 2026-09-14 or 2026-09-14T17:30")


class Journal:
    """What became of the takes of a folder, line by line, so that a run that was broken off goes on."""

    def __init__(self, out: Path, *, afresh: bool = False) -> None:
        self._place = out / JOURNAL
        if afresh:
            self._place.unlink(missing_ok=True)
        self._known = {line["key"]: line for line in self._lines()}
        self._out = out

    def known(self, take: ListedTake) -> ListedResult | None:
        """Give what became of a take, where that still holds; its JSON stays in its file."""
        line = self._known.get(_key(take))
        if line is None or (line["reason"] is None and not (self._out / f"{take.stem}.json").is_file()):
            return None
        return ListedResult(take, None, line["reason"])

    def open(self) -> IO[str]:
        """Open it to write on; a line that a kill cut short is closed first."""
        cut = self._place.exists() and not self._place.read_bytes().endswith(b"\n")
        file = self._place.open("a", encoding="utf-8")
        if cut:
            file.write("\n")
        return file

    def note(self, file: IO[str], result: ListedResult) -> None:
        """Write down what became of a take, after its result stands in its place."""
        line = {"key": _key(result.listed), "reason": result.reason}
        self._known[line["key"] or ""] = line
        file.write(json.dumps(line) + "\n")
        file.flush()

    def _lines(self) -> Iterator[dict[str, str | None]]:
        if not self._place.exists():
            return
        with self._place.open(encoding="utf-8", errors="replace") as file:
            for text in file:
                try:
                    line = json.loads(text)
                except ValueError:  # a kill cut it short
                    continue
                if isinstance(line, dict) and {"key", "reason"} <= line.keys():
                    yield line


def _key(take: ListedTake) -> str:
    """Name a recording as it lies there, what it is heard as, and the ear."""
    try:
        state = take.path.stat()
        lies = f"{state.st_size} {state.st_mtime_ns}"
    except OSError:
        lies = "missing"
    asked = (take.request.exercise_text, take.request.tempo, take.request.click)
    return "|".join([take.stem, take.path.name, lies, *map(str, (*asked, EAR))])


OF_A_TAKE = ("file", "student", "exercise", "tempo", "click", "status", "reason", "seconds")
COLUMNS = (*OF_A_TAKE, *FIGURES)


def table_rows(takes: Sequence[FolderTake], journal: Journal, out: Path) -> Iterator[Row]:
    """Give a row for every take, in the list's order, by the names of ``COLUMNS``; read one at a time."""
    for take in takes:
        listed = take.listed
        asked = listed.request
        row: Row = dict.fromkeys(COLUMNS)
        row |= {"file": listed.path.name, "student": take.student, "click": asked.click, "status": "waiting"}
        row |= {"exercise": asked.exercise_text, "tempo": None if asked.tempo is None else str(asked.tempo)}
        result = journal.known(listed)
        if result is not None and result.reason is not None:
            row |= {"status": "failed", "reason": result.reason}
        elif result is not None:
            try:
                read = heard_take_of((out / f"{listed.stem}.json").read_bytes())
            except (BadDocument, OSError) as error:
                row |= {"status": "unreadable", "reason": str(error)}
            else:
                row |= {"status": "heard", "seconds": read.input.seconds, **figures_of(read)}
        yield row
