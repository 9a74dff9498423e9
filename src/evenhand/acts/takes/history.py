"""A student's history: a folder of takes with a small table, ``takes.csv``.

The table has ``date,file,exercise,tempo`` and, if wanted, ``click``, ``stroke`` (tap, half,
full), ``kind`` (take, bounce) and ``hands``, the hand of each drop of a bounce test in their
order (``R,L,R``, or ``R L R``). A file is a recording, or a take's figures as
``evenhand listen --json`` wrote them. What was heard is kept in ``heard/`` beside the table, under
a name made of the recording's bytes and of what was asked, so that nothing is heard twice.

Which grip, or which hand, each drop was: typed in a row, or read from a small table.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from multiprocessing import get_context
from pathlib import Path

import evenhand
from evenhand.acts.takes.document import heard_take_of, json_text, past_take
from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.many import cores
from evenhand.acts.takes.request import Asked
from evenhand.errors import BadDocument, BadExercise, BadHistory, BadList, BadTempo, CannotHear, WrongOptions
from evenhand.music.strokes.heights import STROKE_CLASSES, StrokeClass
from evenhand.progress.history import History, PastBounce, PastTake
from evenhand.take import OpensTakes

COLUMNS = ("grip", "hand")
IGNORED = ("drop", "note")
HANDS = ("R", "L")
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
    try:
        lines = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True))
    except csv.Error as error:
        raise BadList(where=name, got=str(error), must_be="comma-separated values") from error
    rows = [(number, [cell.strip() for cell in row]) for number, row in enumerate(lines, start=1) if any(row)]
    if not rows:
        raise BadList(where=name, got="nothing", must_be="the heading grip or hand, and a row for each drop")
    heading = [cell.lower() for cell in rows[0][1]]
    _check_heading(heading, name)
    labels = tuple(
        _label(number, dict(zip(heading, cells, strict=False)), name) for number, cells in rows[1:]
    )
    if not labels:
        raise BadList(where=name, got="a heading alone", must_be="a row for each drop below it")
    return labels


def _check_heading(heading: list[str], name: str) -> None:
    """Refuse a heading that says neither grip nor hand, or something else besides."""
    unknown = [column for column in heading if column not in (*COLUMNS, *IGNORED)]
    if unknown or len(set(heading)) < len(heading) or not set(heading) & set(COLUMNS):
        got = f"the columns {', '.join(heading)}"
        raise BadList(where=f"{name}, row 1", got=got, must_be="grip or hand, and if wanted drop and note")


def _label(number: int, cells: dict[str, str], name: str) -> str:
    """Read one row."""
    hand = cells.get("hand", "").upper()
    if "hand" in cells and hand not in HANDS:
        raise BadList(where=f"{name}, row {number}, column hand", got=repr(cells["hand"]), must_be="R or L")
    grip = cells.get("grip", "")
    label = ", ".join(part for part in (hand, grip) if part)
    if not label or len(label) > LONGEST_LABEL:
        must_be = f"a name of 1 to {LONGEST_LABEL} characters"
        raise BadList(where=f"{name}, row {number}", got=repr(label), must_be=must_be)
    return label


TABLE = "takes.csv"
KEPT = "heard"
NEEDED = ("date", "file", "exercise", "tempo")
KNOWN = (*NEEDED, "click", "stroke", "kind", "hands")
KINDS = ("take", "bounce")
WORTH_WORKERS = 6  # takes to hear from which on all cores are used


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One row of the table."""

    row: int
    day: date
    path: Path
    asked: Asked
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
    rows = read_table(_table_text(folder), name=f"{folder.name}/{TABLE}", folder=folder)
    _hear_new([row for row in rows if row.kind == "take"], folder, opens, progress)
    takes: list[PastTake] = []
    bounces: list[PastBounce] = []
    left_out: list[str] = []
    for row in rows:
        try:
            if row.kind == "bounce":
                bounces.append(_bounce(row, opens))
            else:
                takes.append(_take(row, folder, opens))
        except CannotHear as error:
            left_out.append(str(error))
    takes.sort(key=lambda take: take.day)  # stable: within a day the table's order holds
    bounces.sort(key=lambda bounce: bounce.day)
    left_out += [f"{take.name}: it does not tell which hand is which" for take in takes if not take.clear]
    return History(tuple(takes), tuple(bounces), tuple(left_out), student or folder.name)


def _table_text(folder: Path) -> str:
    """Read the table as text."""
    try:
        return (folder / TABLE).read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        got, must_be = "bytes that are not text", "CSV as UTF-8 text"
        raise BadHistory(where=f"{folder.name}/{TABLE}", got=got, must_be=must_be) from error
    except OSError as error:
        must_be = f"a folder with the table {TABLE} in it"
        raise BadHistory(where=str(folder), got=error.strerror or str(error), must_be=must_be) from error


def read_table(text: str, *, name: str, folder: Path) -> tuple[HistoryRow, ...]:
    """Read the table. Rows are counted as a spreadsheet counts them: the heading is row 1."""
    rows = _cells(text, name)
    heading = [column.lower() for column in next(rows, (1, []))[1]]
    unknown = [column for column in heading if column not in KNOWN]
    lacking = [column for column in NEEDED if column not in heading]
    if unknown or lacking or len(set(heading)) < len(heading):
        got = f"the columns {', '.join(heading) or 'none'}"
        must_be = f"{','.join(NEEDED)} and, if wanted, click, stroke, kind, hands"
        raise BadHistory(where=f"{name}, row 1", got=got, must_be=must_be)
    return tuple(
        _row(number, dict(zip(heading, cells, strict=False)), name, folder) for number, cells in rows
    )


def _cells(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    heading = text.partition("\n")[0]
    delimiter = ";" if ";" in heading and "," not in heading else ","
    number = 0
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        for number, cells in enumerate(reader, start=1):
            if any(cell.strip() for cell in cells):
                yield number, [cell.strip() for cell in cells]
    except csv.Error as error:
        must_be = "comma-separated values, a cell with a comma inside double quotes"
        raise BadHistory(where=f"{name}, row {number + 1}", got=str(error), must_be=must_be) from error


def _row(number: int, cell: dict[str, str], name: str, folder: Path) -> HistoryRow:
    where = f"{name}, row {number}"
    kind = cell.get("kind") or "take"
    if kind not in KINDS:
        raise BadHistory(where=f"{where}, column kind", got=repr(kind), must_be=" or ".join(KINDS))
    if not cell.get("file") or "\0" in cell["file"]:
        raise BadHistory(where=f"{where}, column file", got="nothing", must_be="a recording's path")
    try:
        asked = Asked.read(cell.get("exercise"), cell.get("tempo"), cell.get("click", "auto"))
    except (BadExercise, BadTempo, WrongOptions) as error:
        raise BadHistory(where=where, got=str(error), must_be="an exercise with its tempo") from error
    if kind == "take" and asked.blind:
        raise BadHistory(where=where, got="a take without exercise and tempo", must_be="both")
    day, stroke = _day(cell.get("date", ""), where), _stroke(cell, where)
    return HistoryRow(number, day, folder / cell["file"], asked, stroke, kind, _hands(cell, where))


def _day(text: str, where: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        must_be = "a day such as 2026-11-30"
        raise BadHistory(where=f"{where}, column date", got=repr(text), must_be=must_be) from error


def _stroke(cell: dict[str, str], where: str) -> StrokeClass | None:
    text = cell.get("stroke", "")
    if not text:
        return None
    for known in STROKE_CLASSES:
        if text == known:
            return known
    must_be = ", ".join(STROKE_CLASSES)
    raise BadHistory(where=f"{where}, column stroke", got=repr(text), must_be=must_be)


def _hands(cell: dict[str, str], where: str) -> tuple[str, ...]:
    """Read the hand of each drop."""
    text = cell.get("hands", "")
    if not text:
        return ()
    try:
        return typed_hands(",".join(text.replace(",", " ").split()))
    except WrongOptions as error:
        raise BadHistory(where=f"{where}, column hands", got=error.got, must_be=error.must_be) from error


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
    text = _json_text(row) if row.path.suffix == ".json" else _heard_text(row, folder, opens)
    try:
        return past_take(heard_take_of(text), row.day, row.stroke)
    except BadDocument as error:
        got = f"{row.path.name}, which holds no take's figures: {error.got}"
        must_be = f"a recording, or {error.must_be}"
        raise BadHistory(where=f"row {row.row}, column file", got=got, must_be=must_be) from error


def _json_text(row: HistoryRow) -> str:
    try:
        return row.path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        got, must_be = f"{row.path.name}: {error}", "a file that can be read"
        raise BadHistory(where=f"row {row.row}, column file", got=got, must_be=must_be) from error


def _heard_text(row: HistoryRow, folder: Path, opens: OpensTakes) -> str:
    """Return a take's figures as JSON text, from those kept or by hearing it now."""
    place = _kept_place(row, folder)
    with suppress(OSError, UnicodeDecodeError):
        return place.read_text(encoding="utf-8")
    text = json_text(hear_take(row.path, row.asked, opens=opens))
    with suppress(OSError):  # a folder that cannot be written to is heard again next time
        place.parent.mkdir(exist_ok=True)
        unfinished = place.with_suffix(".part")
        unfinished.write_text(text, encoding="utf-8")
        unfinished.replace(place)
    return text


def _kept_place(row: HistoryRow, folder: Path) -> Path:
    """Name the file that keeps what was heard, by the recording's bytes and what was asked."""
    asked = row.asked
    key = hashlib.sha256(
        f"{evenhand.__version__}|{asked.exercise_text}|{asked.tempo}|{asked.click}|".encode()
    )
    if row.path.is_file():  # a device would be read for ever
        with suppress(OSError), row.path.open("rb") as file:
            while block := file.read(1 << 20):
                key.update(block)
    return folder / KEPT / f"{row.path.stem}.{key.hexdigest()[:16]}.json"


def _bounce(row: HistoryRow, opens: OpensTakes) -> PastBounce:
    from evenhand.acts.takes.bounce import hear_bounce

    heard = hear_bounce(row.path, row.hands, opens=opens)
    return PastBounce(row.day, row.path.name, heard.drops)
