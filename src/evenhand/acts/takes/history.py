"""A student's history: a folder of takes with a small table, ``takes.csv``.

The table has ``date,file,exercise,tempo`` and, if wanted, ``click``, ``stroke`` (tap, half,
full), ``kind`` (take, bounce) and ``hands``, the hand of each drop of a bounce test in their
order (``R,L,R``, or ``R L R``). A file is a recording, or a take's figures as
``evenhand listen --json`` wrote them. What was heard is kept in ``heard/`` beside the table, under
a name made of the recording's bytes and of what was asked, so that nothing is heard twice.

Which grip, or which hand, each drop was: typed in a row, or read from a small table.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from multiprocessing import get_context
from pathlib import Path

import evenhand
from evenhand.acts.documents import TableRow, read_rows, read_text_file
from evenhand.acts.takes.document import json_text, past_take
from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.many import cores, path_in, request_in
from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.seen import read_take, with_seen
from evenhand.errors import BadDocument, BadHistory, BadList, CannotHear, WrongOptions
from evenhand.music.exercise import HANDS
from evenhand.music.library.strokes import is_drops
from evenhand.music.strokes.heights import STROKE_CLASSES, StrokeClass, stroke_class
from evenhand.progress.history import History, PastBounce, PastTake
from evenhand.take import OpensTakes

COLUMNS = ("grip", "hand")
IGNORED = ("drop", "note")
LONGEST_LABEL = 60


def typed_grips(text: str) -> tuple[str, ...]:
    """Read grips with commas between.

    >>> typed_grips("fingertips, whole hand")
    ('fingertips', 'whole hand')
    """
    labels = tuple(part.strip() for part in text.split(","))
    if not all(labels) or any(len(label) > LONGEST_LABEL for label in labels):
        must_be = f"a name for each drop with commas between, of {LONGEST_LABEL} characters at most"
        raise WrongOptions(got=f"grips {text!r}", must_be=must_be)
    return labels


def typed_hands(text: str) -> tuple[str, ...]:
    """Read hands with commas between.

    >>> typed_hands("R,L, r")
    ('R', 'L', 'R')
    """
    hands = tuple(part.strip().upper() for part in text.split(","))
    if not all(hand in HANDS for hand in hands):
        raise WrongOptions(got=f"hands {text!r}", must_be="R or L for each drop with commas between")
    return hands


def table_labels(text: str, name: str) -> tuple[str, ...]:
    """Read a table with a heading, ``grip`` or ``hand`` or both, and a row for each drop in order."""
    must_be = "grip or hand, and if wanted drop and note"
    rows = read_rows(
        text, name=name, needed=(), optional=(*COLUMNS, *IGNORED), error=BadList, must_be=must_be
    )
    if not rows:
        raise BadList(where=name, got="a heading alone", must_be="a row for each drop below it")
    return tuple(_label(row) for row in rows)


def _label(row: TableRow) -> str:
    """Read one row."""
    hand = row["hand"].upper()
    if "hand" in row.cells and hand not in HANDS:
        row.fail("hand", "R or L")
    label = ", ".join(part for part in (hand, row["grip"]) if part)
    if not label or len(label) > LONGEST_LABEL:
        must_be = f"a name of 1 to {LONGEST_LABEL} characters"
        raise BadList(where=row.where, got=repr(label), must_be=must_be)
    return label


TABLE = "takes.csv"
KEPT = "heard"
NEEDED = ("date", "file", "exercise", "tempo")
OPTIONAL = ("click", "stroke", "kind", "hands")
KINDS = ("take", "bounce")
LARGEST_BYTES = 256 * 2**20
WORTH_WORKERS = 6  # takes to hear from which on all cores are used


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One row of the table."""

    row: int
    day: date
    path: Path
    request: TakeRequest
    stroke: StrokeClass | None
    kind: str
    hands: tuple[str, ...] = ()


def read_history(
    folder: Path,
    *,
    opens: OpensTakes,
    student: str = "",
    progress: Callable[[float], None] = lambda _done: None,
) -> History:
    """Read a student's folder, hearing what has not been heard yet.

    Raises
    ------
    BadHistory
        Naming the row and the column of the first thing that cannot be read. Nothing is
        heard until the whole table can be.
    """
    text = _text(folder / TABLE, f"a folder with the table {TABLE} in it, CSV as UTF-8 text")
    rows = read_table(text, name=f"{folder.name}/{TABLE}", folder=folder)
    _hear_new([row for row in rows if row.kind == "take" and not _is_drops(row)], folder, opens, progress)
    takes: list[PastTake] = []
    bounces: list[PastBounce] = []
    left_out: list[str] = []
    for row in rows:
        try:
            if row.kind == "bounce" or _is_drops(row):
                bounces.append(_bounce(row, opens))
            else:
                takes.append(_take(row, folder, opens))
        except CannotHear as error:
            left_out.append(str(error))
    takes.sort(key=lambda take: take.day)  # stable: within a day the table's order holds
    bounces.sort(key=lambda bounce: bounce.day)
    left_out += [f"{take.name}: it does not tell which hand is which" for take in takes if not take.clear]
    return History(tuple(takes), tuple(bounces), tuple(left_out), student or folder.name)


def read_table(text: str, *, name: str, folder: Path) -> tuple[HistoryRow, ...]:
    """Read the table. Rows are counted as a spreadsheet counts them: the heading is row 1."""
    rows = read_rows(text, name=name, needed=NEEDED, optional=OPTIONAL, error=BadHistory)
    return tuple(_row(row, folder) for row in rows)


def _row(row: TableRow, folder: Path) -> HistoryRow:
    kind = row["kind"] or "take"
    if kind not in KINDS:
        row.fail("kind", " or ".join(KINDS))
    path, request = path_in(row, folder), request_in(row)
    if kind == "take" and request.blind:
        raise BadHistory(where=row.where, got="a take without exercise and tempo", must_be="both")
    stroke = stroke_class(row["stroke"])
    if row["stroke"] and stroke is None:
        row.fail("stroke", ", ".join(STROKE_CLASSES))
    return HistoryRow(row.number, _day(row), path, request, stroke, kind, _hands(row))


def _day(row: TableRow) -> date:
    try:
        return date.fromisoformat(row["date"])
    except ValueError:
        row.fail("date", "a day such as 2026-11-30")


def _hands(row: TableRow) -> tuple[str, ...]:
    """Read the hand of each drop."""
    if not row["hands"]:
        return ()
    try:
        return typed_hands(",".join(row["hands"].replace(",", " ").split()))
    except WrongOptions as error:
        row.fail("hands", error.must_be, error.got)


def _hear_new(
    rows: Sequence[HistoryRow], folder: Path, opens: OpensTakes, progress: Callable[[float], None]
) -> None:
    """Hear on all cores what is not kept yet, where there is much of it; a failure is met again, alone."""
    new = [row for row in rows if row.path.suffix != ".json" and not _kept_place(row, folder).exists()]
    if len(new) < WORTH_WORKERS or cores() < 2:
        return
    with ProcessPoolExecutor(cores(), mp_context=get_context("spawn")) as pool:
        jobs = [pool.submit(_heard_text, row, folder, opens) for row in new]
        for done, job in enumerate(jobs, start=1):
            with suppress(CannotHear):
                job.result()
            progress(done / len(new))


def _take(row: HistoryRow, folder: Path, opens: OpensTakes) -> PastTake:
    """Read one take's figures, hearing it first where that has not been done."""
    text = (
        _text(row.path, "what evenhand listen --json wrote, UTF-8 text")
        if row.path.suffix == ".json"
        else _heard_text(row, folder, opens)
    )
    try:
        heard, seen = read_take(text)
        return with_seen(past_take(heard, row.day, row.stroke), seen)
    except BadDocument as error:
        got = f"{row.path.name}, which holds no take's figures: {error.got}"
        must_be = f"a recording, or {error.must_be}"
        raise BadHistory(where=f"row {row.row}, column file", got=got, must_be=must_be) from error


def _text(path: Path, must_be: str) -> str:
    return read_text_file(path, error=BadHistory, largest_bytes=LARGEST_BYTES, must_be=must_be)


def _heard_text(row: HistoryRow, folder: Path, opens: OpensTakes) -> str:
    """Return a take's figures as JSON text, from those kept or by hearing it now."""
    place = _kept_place(row, folder)
    with suppress(OSError, UnicodeDecodeError):
        return place.read_text(encoding="utf-8")
    text = json_text(hear_take(row.path, row.request, opens=opens))
    with suppress(OSError):  # a folder that cannot be written to is heard again next time
        place.parent.mkdir(exist_ok=True)
        unfinished = place.with_suffix(".part")
        unfinished.write_text(text, encoding="utf-8")
        unfinished.replace(place)
    return text


def _kept_place(row: HistoryRow, folder: Path) -> Path:
    """Name the file that keeps what was heard, by the recording's bytes and by what was asked."""
    request = row.request
    key = hashlib.sha256(
        f"{evenhand.__version__}|{request.exercise_text}|{request.tempo}|{request.click}|".encode()
    )
    if row.path.is_file():  # a device would be read for ever
        with suppress(OSError), row.path.open("rb") as file:
            while block := file.read(1 << 20):
                key.update(block)
    return folder / KEPT / f"{row.path.stem}.{key.hexdigest()[:16]}.json"


def _is_drops(row: HistoryRow) -> bool:
    """Tell whether a recording is of an exercise of drops."""
    return row.request.exercise is not None and is_drops(row.request.exercise) and row.path.suffix != ".json"


def _bounce(row: HistoryRow, opens: OpensTakes) -> PastBounce:
    from evenhand.acts.takes.drops import with_hands
    from evenhand.acts.takes.tests import hear_bounce

    drops = hear_bounce(row.path, row.hands, opens=opens).drops
    exercise, tempo = row.request.exercise, row.request.tempo
    if not row.hands and exercise is not None and tempo is not None and is_drops(exercise):
        drops = with_hands(drops, exercise, tempo)
    return PastBounce(row.day, row.path.name, drops)
