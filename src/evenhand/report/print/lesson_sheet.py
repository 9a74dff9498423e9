"""The lesson sheet: what a student takes home, and the data of its printed page.

Conventions: lengths in pt, but music's own px. A sheet's days hold turns, in the order they are to be played;
an exercise that comes on several days stands once, with each way it is to be practised. What is said is
decided here; the template places it. Each day's turns have boxes to tick.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from io import BytesIO

from evenhand.errors import UnprintableText
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.strokes.heights import StrokeClass, Unit
from evenhand.report.plots.markup import shortened
from evenhand.report.print.setting import (
    SETTER_PAPERS,
    WIDTHS_PT,
    Paper,
    one_line,
    paragraphs,
    printed_lines,
    set_pages,
)
from evenhand.report.words.figures import PRACTICE_CAUTION, count, day_words, duration, span_words
from evenhand.report.words.practice import by_day, listed_days, stroke_pieces, value_words

DEFAULT_TITLE = "This week’s practice"


@dataclass(frozen=True, slots=True)
class Task:
    """One way to practise an exercise; ``days`` counts from 0 and is empty where it is every day's.

    Where tempo or repetitions rise from day to day, ``bpm_by_day`` and ``times_by_day`` hold
    each day's (None where it is not played); ``tempo`` and ``repetitions`` are the first day's.
    """

    tempo: Tempo | None = None
    stroke: StrokeClass | None = None
    repetitions: int | None = None
    seconds: float | None = None
    rests_s: tuple[float, ...] = ()  # each that comes after it, rising
    days: tuple[int, ...] = ()
    bpm_by_day: tuple[float | None, ...] = ()
    times_by_day: tuple[int | None, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetExercise:
    """An exercise of the sheet with what to do."""

    exercise: Exercise
    text: str
    title: str = ""
    tasks: tuple[Task, ...] = ()
    why: str = ""

    @property
    def repetitions(self) -> int | None:
        """How often it is played in one go, where that is the same in all its tasks."""
        counts = {task.repetitions for task in self.tasks}
        counts |= {count for task in self.tasks for count in task.times_by_day if count is not None}
        return counts.pop() if len(counts) == 1 else None


@dataclass(frozen=True, slots=True)
class Turn:
    """One exercise's turn on one day, by its place on the sheet from 0."""

    exercise: int
    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class SheetDay:
    """A day to tick; ``seconds`` is all of it, rests too, where it is known."""

    name: str
    turns: tuple[Turn, ...]
    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class LessonSheet:
    """All that stands on a sheet but the music; a blank one has no exercises yet."""

    exercises: tuple[SheetExercise, ...] = ()
    days: tuple[SheetDay, ...] = ()
    title: str = DEFAULT_TITLE
    student: str = ""
    on: date | None = None
    words: str = ""
    link: str = ""
    unit: Unit = "in"
    paper: Paper = "a4"


_ERROR_LEVEL = "m"  # a seventh of it may be hidden by a fold or a stain


def qr_picture(address: str) -> str:
    """Return an address as a QR code in SVG, one unit a module.

    Leave four modules of white paper around it (ISO/IEC 18004).

    Raises
    ------
    UnprintableText
        Where the address is too long for a code.
    """
    import segno

    try:
        code = segno.make_qr(address, error=_ERROR_LEVEL, boost_error=False)
    except segno.DataOverflowError as error:
        got = f"an address of {len(address):,} characters is too long for a QR code"
        raise UnprintableText(got=got) from error
    svg = BytesIO()
    code.save(
        svg, kind="svg", border=0, xmldecl=False, nl=False, omitsize=True, svgclass=None, lineclass=None
    )
    return svg.getvalue().decode()


DAYS_A_TABLE = 7
MOST_BOXES = 4  # more turns a day are boxed once and counted
LONGEST_NAME = 60  # letters


def tick_tables(sheet: LessonSheet) -> list[dict[str, object]]:
    """Return a table for each week of the sheet's days."""
    weeks = [sheet.days[first : first + DAYS_A_TABLE] for first in range(0, len(sheet.days), DAYS_A_TABLE)]
    return [
        _table(sheet, week, number if len(weeks) > 1 else 0) for number, week in enumerate(weeks, start=1)
    ]


def _table(sheet: LessonSheet, days: Sequence[SheetDay], week: int) -> dict[str, object]:
    here = {turn.exercise for day in days for turn in day.turns}
    rows = [_row(index, each, days) for index, each in enumerate(sheet.exercises) if index in here]
    return {
        "name": f"Week {week}, to tick" if week else "To tick",
        "days": [day.name for day in days],
        "rows": [*rows, *_order(days), *_total(days)],
    }


def _row(index: int, each: SheetExercise, days: Sequence[SheetDay]) -> dict[str, object]:
    cells: list[object] = []
    for day in days:
        turns = [turn for turn in day.turns if turn.exercise == index]
        seconds = [turn.seconds for turn in turns if turn.seconds]
        if len(turns) > MOST_BOXES:
            cells.append({"boxes": 1, "text": f"× {len(turns)}"})
        else:
            text = duration(sum(seconds), "minutes") if seconds else ""
            cells.append({"boxes": len(turns), "text": text} if turns else None)
    return {
        "number": str(index + 1),
        "name": shortened(one_line(each.title) or each.text, LONGEST_NAME),
        "quiet": not each.title,
        "cells": cells,
    }


def _order(days: Sequence[SheetDay]) -> list[dict[str, object]]:
    """Say in which order, on the days where it is not the sheet's own."""
    orders = [[turn.exercise + 1 for turn in day.turns] for day in days]
    if all(order == sorted(set(order)) for order in orders):
        return []
    cells = [{"boxes": 0, "text": " ".join(map(str, order))} if order else None for order in orders]
    return [{"number": "", "name": "in this order", "quiet": True, "cells": cells}]


def _total(days: Sequence[SheetDay]) -> list[dict[str, object]]:
    """Add up each day, where its turns say what they take."""
    if not any(turn.seconds for day in days for turn in day.turns):
        return []
    cells = [{"boxes": 0, "text": duration(day.seconds, "minutes")} if day.seconds else None for day in days]
    return [{"number": "", "name": "in all, rests too", "quiet": True, "cells": cells}]


MARGIN_PT = 54.0
TASKS_PT = 116.0
GUTTER_PT = 18.0
LONG_LINES = 8  # an exercise of more lines may be broken over pages
PARTS = 4  # of a task: tempo, stroke, how much, rest
LONGEST_FOOT = 50  # letters of a name or title at the foot
STEM_EM = 1.05  # a beat's note stands this high beside its figure


@dataclass(frozen=True, slots=True)
class SheetSize:
    """One layout, for up to ``most`` exercises; the template has its other sizes."""

    name: str
    most: int  # exercises
    beside: bool  # what to do stands beside the music; else above it
    pt_per_px: float
    number_pt: float  # the column of the exercises' numbers


SIZES = (
    SheetSize("large", 2, beside=False, pt_per_px=0.6, number_pt=22.0),
    SheetSize("middle", 8, beside=True, pt_per_px=0.43, number_pt=18.0),
    SheetSize("small", 10_000, beside=True, pt_per_px=0.37, number_pt=17.0),
)


def size_of(sheet: LessonSheet) -> SheetSize:
    """Return the sizes that suit so many exercises: few are large, many are small."""
    return next(size for size in SIZES if len(sheet.exercises) <= size.most)


def music_px(sheet: LessonSheet) -> float:
    """Return how wide a line of music may be engraved, px."""
    size = size_of(sheet)
    beside = GUTTER_PT + TASKS_PT if size.beside else 0.0
    return (WIDTHS_PT[sheet.paper] - 2 * MARGIN_PT - size.number_pt - beside) / size.pt_per_px


@dataclass(frozen=True, slots=True)
class BeatNote:
    """The note that gets the beat, drawn: its size as shares of a plain stem's height."""

    svg: str
    width: float
    height: float


def lesson_sheet_pdf(
    sheet: LessonSheet, music: Sequence[EngravedExercise], beats: dict[Tempo, BeatNote]
) -> bytes:
    """Return the sheet as PDF.

    Parameters
    ----------
    sheet : LessonSheet
        What stands on it.
    music : sequence of EngravedExercise
        Each exercise's music, engraved at most ``music_px(sheet)`` wide.
    beats : mapping
        The drawn note of each tempo that one can be drawn for.

    Raises
    ------
    UnprintableText, CannotPrint
        Where a letter is in no font that is there, or the page cannot be set.
    """
    return set_pages("lesson_sheet.typ", sheet_data(sheet, music, beats))


def sheet_data(
    sheet: LessonSheet, music: Sequence[EngravedExercise], beats: dict[Tempo, BeatNote]
) -> dict[str, object]:
    """Return what the template reads."""
    size = size_of(sheet)
    said = [part for part in (sheet.student, day_words(sheet.on, year=True) if sheet.on else "") if part]
    return {
        "title": " – ".join([sheet.title, *said]),
        "date": [sheet.on.year, sheet.on.month, sheet.on.day] if sheet.on else None,
        "heading": sheet.title,
        "student": sheet.student,
        "line": [*said[bool(sheet.student) :], *_load(sheet)],
        "foot": " · ".join(shortened(part, LONGEST_FOOT) for part in (*said, sheet.title)),
        "qr": _qr(sheet.link),
        "exercises": [_exercise(sheet, index, engraved, beats) for index, engraved in enumerate(music)],
        "tables": tick_tables(sheet),
        "caution": PRACTICE_CAUTION,
        "words": paragraphs(sheet.words),
        "paper": SETTER_PAPERS[sheet.paper],
        "margin": MARGIN_PT,
        "layout": size.name,
        "beside": size.beside,
        "gutter": GUTTER_PT,
        "tasks_width": TASKS_PT,
        "number_width": size.number_pt,
    }


def _load(sheet: LessonSheet) -> list[str]:
    """Say how much it is a day, where every day has the same."""
    played = [day for day in sheet.days if day.turns]
    days = f"{len(played)} days" if len(played) > 1 else "1 day"
    known = {duration(day.seconds, "seconds") if day.seconds else "" for day in played}
    if len(known) == 1 and "" not in known:
        return [f"{known.pop()} a day", days]
    return [days] if played else []


def _qr(link: str) -> dict[str, str] | None:
    if not link:
        return None
    return {"link": link, "svg": qr_picture(link), "words": f"QR code of the address {link}"}


def _exercise(
    sheet: LessonSheet, index: int, engraved: EngravedExercise, beats: dict[Tempo, BeatNote]
) -> dict[str, object]:
    each = sheet.exercises[index]
    return {
        "number": str(index + 1),
        "title": one_line(each.title),
        "why": one_line(each.why),
        "music": printed_lines(each.exercise, engraved, size_of(sheet).pt_per_px, repeat=each.repetitions),
        "long": len(engraved.lines) > LONG_LINES,
        "tasks": _tasks(sheet, each, beats),
    }


def _tasks(sheet: LessonSheet, each: SheetExercise, beats: dict[Tempo, BeatNote]) -> list[dict[str, object]]:
    """Say what to do: first what is the same each time, then by their days what differs."""
    ways = [_task_lines(task, sheet.unit, beats) for task in each.tasks]
    same = [all(lines[part] == ways[0][part] for lines in ways) for part in range(PARTS)]
    shared = [ways[0][part] for part in range(PARTS) if ways and same[part] and ways[0][part]]
    tasks: list[dict[str, object]] = [{"days": "", "lines": shared}] if shared else []
    if all(same):
        return tasks
    return tasks + [
        {
            "days": listed_days([sheet.days[day].name for day in task.days]),
            "lines": [lines[part] for part in range(PARTS) if lines[part] and not same[part]],
        }
        for task, lines in zip(each.tasks, ways, strict=True)
    ]


def _task_lines(task: Task, unit: Unit, beats: dict[Tempo, BeatNote]) -> list[list[object]]:
    """Say a task's tempo; its stroke and height; how often and how long; and the rest after it."""
    often = [_often(task)] if task.repetitions else []
    long = [duration(task.seconds, "seconds")] if task.seconds else []
    return [
        [_tempo(task.tempo, beats.get(task.tempo), task.bpm_by_day)] if task.tempo else [],
        [*stroke_pieces(task.stroke, unit)] if task.stroke else [],
        [*often, *long],
        [f"then {span_words(task.rests_s)} of rest"] if task.rests_s else [],
    ]


def _often(task: Task) -> str:
    """Say how often, day by day where that differs."""
    different = {count for count in task.times_by_day if count is not None}
    if len(different) < 2:
        return count(task.repetitions or 1, "repetition")
    return f"{by_day(task.times_by_day)} repetitions"


def _tempo(
    tempo: Tempo, beat: BeatNote | None, bpm_by_day: tuple[float | None, ...] = ()
) -> dict[str, object]:
    different = {bpm for bpm in bpm_by_day if bpm is not None}
    bpm = by_day(bpm_by_day) if len(different) > 1 else f"{tempo.bpm:g}"
    if beat is None:
        return {"note": None, "text": f"{tempo.beat.numerator}/{tempo.beat.denominator} = {bpm}"}
    width, height = (round(share * STEM_EM, 3) for share in (beat.width, beat.height))
    note = {"svg": beat.svg, "width": width, "height": height, "words": value_words(tempo.beat)}
    return {"note": note, "text": f"= {bpm}"}
