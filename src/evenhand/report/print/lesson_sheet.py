"""The lesson sheet: what a student takes home, and the data of its printed page.

A week's plan stands as columns, a day each, its blocks in the order they are practised; under them each
exercise is engraved once. Exercises without a plan share what to do, and have a box for each day.

Conventions: lengths in pt, but music's own px. A block counts in half minutes with the rest after it, shared
out so that a day's blocks add up to its sum as it is printed. What is said is decided here; the template
places it. A sticking letter is 9 pt or more, a grace's 7: what is read at arm's length (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from io import BytesIO

from evenhand.errors import UnprintableText
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.strokes.heights import StrokeClass, Unit
from evenhand.planning.practice import Block
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
from evenhand.report.words.figures import PRACTICE_CAUTION, count, day_words
from evenhand.report.words.practice import (
    BLOCK_NAMES,
    half_minutes_of,
    half_minutes_words,
    often_words,
    stroke_pieces,
    value_words,
)

DEFAULT_TITLE = "This week’s practice"


@dataclass(frozen=True, slots=True)
class SheetExercise:
    """An exercise of the sheet. ``stroke`` is where it is the same each time; ``purpose`` what it is for."""

    exercise: Exercise
    text: str
    title: str = ""
    stroke: StrokeClass | None = None
    purpose: str = ""


@dataclass(frozen=True, slots=True)
class SheetBlock:
    """One block of a day: an exercise by its place on the sheet from 0, and how it is played.

    ``seconds`` takes in the rest after it; ``stroke`` is given where the exercise has several in the week,
    ``how`` where it is the same notes played another way: slowly, in short goes.
    """

    exercise: int
    seconds: float
    tempo: Tempo
    repetitions: int
    goes: int = 1
    stroke: StrokeClass | None = None
    block: Block | None = None
    how: str = ""


@dataclass(frozen=True, slots=True)
class SheetDay:
    """One day's blocks in their order."""

    name: str
    blocks: tuple[SheetBlock, ...]


@dataclass(frozen=True, slots=True)
class Practice:
    """What is done with every exercise of a sheet without a plan; ``minutes`` a day are for all of them."""

    tempo: Tempo | None = None
    stroke: StrokeClass | None = None
    repetitions: int | None = None
    minutes: float | None = None
    days: int = 5


@dataclass(frozen=True, slots=True)
class LessonSheet:
    """All that stands on a sheet but the music; a blank one has no exercises yet.

    It has ``days`` from a plan, or ``practice`` for all exercises. ``story`` is the week in a few words.
    """

    exercises: tuple[SheetExercise, ...] = ()
    days: tuple[SheetDay, ...] = ()
    practice: Practice | None = None
    title: str = DEFAULT_TITLE
    studio: str = ""
    student: str = ""
    on: date | None = None
    words: str = ""
    story: str = ""
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


MARGIN_PT = 42.0
GUTTER_PT = 20.0
NUMBER_PT = 17.0  # the column of the exercises' numbers
PT_PER_PX = {False: 0.56, True: 0.49}  # by whether it is wide: sticking letters of 9 pt, graces of 7
LONG_LINES = 8  # an exercise of more lines may be broken over pages
FEW = 3  # so few exercises stand across the page
DAYS_A_TABLE = 7
LONGEST_FOOT = 50  # letters of a name or title at the foot
LONGEST_NAME = 60  # letters of a title in a day's column; the template lets it wrap
STEM_EM = 1.05  # a beat's note stands this high beside its figure


def music_px(sheet: LessonSheet, *, wide: bool) -> float:
    """Return how wide a line of music may be engraved, px: across the page, or in one of two columns."""
    page = WIDTHS_PT[sheet.paper] - 2 * MARGIN_PT
    column = page if wide else (page - GUTTER_PT) / 2
    return (column - NUMBER_PT) / PT_PER_PX[wide]


@dataclass(frozen=True, slots=True)
class BeatNote:
    """The note that gets the beat, drawn: its size as shares of a plain stem's height."""

    svg: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class SheetMusic:
    """An exercise's music; ``wide`` where it was engraved across the page."""

    engraved: EngravedExercise
    wide: bool


def lesson_sheet_pdf(sheet: LessonSheet, music: Sequence[SheetMusic], beats: dict[Tempo, BeatNote]) -> bytes:
    """Return the sheet as PDF.

    Parameters
    ----------
    sheet : LessonSheet
        What stands on it.
    music : sequence of SheetMusic
        Each exercise's music, engraved at most ``music_px(sheet, wide=...)`` wide.
    beats : mapping
        The drawn note of each tempo that one can be drawn for.

    Raises
    ------
    UnprintableText, CannotPrint
        Where a letter is in no font that is there, or the page cannot be set.
    """
    return set_pages("lesson_sheet.typ", sheet_data(sheet, music, beats))


def sheet_data(
    sheet: LessonSheet, music: Sequence[SheetMusic], beats: dict[Tempo, BeatNote]
) -> dict[str, object]:
    """Return what the template reads."""
    sheet, music = _as_drawn(sheet, music)
    said = [part for part in (sheet.student, day_words(sheet.on, year=True) if sheet.on else "") if part]
    weeks = [sheet.days[first : first + DAYS_A_TABLE] for first in range(0, len(sheet.days), DAYS_A_TABLE)]
    return {
        "title": " – ".join([sheet.title, *said]),
        "date": [sheet.on.year, sheet.on.month, sheet.on.day] if sheet.on else None,
        "heading": sheet.title,
        "studio": one_line(sheet.studio),
        "student": sheet.student,
        "line": [*said[bool(sheet.student) :], *_load(sheet)],
        "foot": " · ".join(shortened(part, LONGEST_FOOT) for part in (*said, sheet.title)),
        "qr": _qr(sheet.link),
        "story": one_line(sheet.story),
        "words": paragraphs(sheet.words),
        "weeks": [[_day(sheet, day, beats) for day in week] for week in weeks],
        "how": _how(sheet, beats),
        "ticks": sheet.practice.days if sheet.practice else 0,
        "exercises": _in_rows([_exercise(sheet, *each) for each in enumerate(music)]),
        "caution": PRACTICE_CAUTION,
        "paper": SETTER_PAPERS[sheet.paper],
        "margin": MARGIN_PT,
        "gutter": GUTTER_PT,
        "number_width": NUMBER_PT,
    }


def _as_drawn(sheet: LessonSheet, music: Sequence[SheetMusic]) -> tuple[LessonSheet, Sequence[SheetMusic]]:
    """Put exercises in the order in which they are drawn, so that their numbers run down the page."""
    rows = _in_rows([{"wide": each.wide, "place": place} for place, each in enumerate(music)])
    order = [int(str(each["place"])) for row in rows for each in row]
    drawn = {place: number for number, place in enumerate(order)}
    days = tuple(
        replace(day, blocks=tuple(replace(each, exercise=drawn[each.exercise]) for each in day.blocks))
        for day in sheet.days
    )
    exercises = tuple(sheet.exercises[place] for place in order)
    return replace(sheet, exercises=exercises, days=days), [music[place] for place in order]


def _load(sheet: LessonSheet) -> list[str]:
    """Say how much it is a day, where every day has the same."""
    if sheet.practice:
        minutes, days = sheet.practice.minutes, sheet.practice.days
        known = {half_minutes_words(2 * minutes)} if minutes else set()
    else:
        played = [day for day in sheet.days if day.blocks]
        known = {half_minutes_words(sum(_half_minutes(day))) for day in played}
        days = len(played)
    each = [f"{known.pop()} a day"] if len(known) == 1 else []
    return [*each, count(days, "day")] if days else []


def _qr(link: str) -> dict[str, str] | None:
    if not link:
        return None
    return {"link": link, "svg": qr_picture(link), "words": f"QR code of the address {link}"}


# ------------------------------------------------------------------ a day's column


def _day(sheet: LessonSheet, day: SheetDay, beats: dict[Tempo, BeatNote]) -> dict[str, object]:
    halves = _half_minutes(day)
    blocks = [_block(sheet, *each, beats) for each in zip(day.blocks, halves, strict=True)]
    return {"name": day.name, "long": half_minutes_words(sum(halves)) if blocks else "", "blocks": blocks}


def _half_minutes(day: SheetDay) -> list[int]:
    return half_minutes_of([block.seconds for block in day.blocks])


def _block(
    sheet: LessonSheet, block: SheetBlock, halves: int, beats: dict[Tempo, BeatNote]
) -> dict[str, object]:
    each = sheet.exercises[block.exercise]
    stroke = _in_short(block.stroke, sheet.unit) if block.stroke else []
    return {
        "name": BLOCK_NAMES[block.block] if block.block else "",
        "record": block.block == "record",
        "long": half_minutes_words(halves),
        "number": str(block.exercise + 1),
        "title": shortened(one_line(each.title) or each.text, LONGEST_NAME),
        "lines": [
            [_tempo(block.tempo, beats.get(block.tempo)), often_words(block.repetitions, block.goes)],
            *([[block.how]] if block.how else []),
            *([stroke] if stroke else []),
        ],
    }


# ------------------------------------------------------------------ the exercises


def _how(sheet: LessonSheet, beats: dict[Tempo, BeatNote]) -> list[object]:
    """Say what is done with every exercise of a sheet without a plan."""
    practice = sheet.practice
    if practice is None:
        return []
    tempo: list[object] = [_tempo(practice.tempo, beats.get(practice.tempo))] if practice.tempo else []
    stroke = stroke_pieces(practice.stroke, sheet.unit) if practice.stroke else []
    return [*tempo, *stroke, *_how_much(practice, len(sheet.exercises))]


def _how_much(practice: Practice, exercises: int) -> list[str]:
    """Say how often in one go; and where minutes are given, that it is played again until they are over."""
    times = [f"{count(practice.repetitions, 'time')} in one go"] if practice.repetitions else []
    if not practice.minutes:
        return times
    again = ["rest, and again"] if times else []
    share = half_minutes_words(max(2 * practice.minutes / exercises, 1))
    return [*times, *again, f"about {share} {'each' if exercises > 1 else 'a day'}"]


def _exercise(sheet: LessonSheet, index: int, music: SheetMusic) -> dict[str, object]:
    each = sheet.exercises[index]
    return {
        "number": str(index + 1),
        "title": one_line(each.title),
        "stroke": _in_short(each.stroke, sheet.unit) if each.stroke and sheet.practice is None else [],
        "purpose": one_line(each.purpose),
        "music": printed_lines(each.exercise, music.engraved, PT_PER_PX[music.wide]),
        "long": len(music.engraved.lines) > LONG_LINES,
        "wide": music.wide,
    }


def _in_short(stroke: StrokeClass, unit: Unit) -> list[str]:
    """Name a stroke and its height in few words: a column is narrow."""
    named, *_, height = stroke_pieces(stroke, unit)
    return [named, height]


def _in_rows(exercises: Sequence[dict[str, object]]) -> list[list[dict[str, object]]]:
    """Put narrow exercises in pairs, the second from behind a wide one if need be; a wide one has its row."""
    rows: list[list[dict[str, object]]] = []
    waiting: list[dict[str, object]] | None = None
    for each in exercises:
        if each["wide"]:
            rows.append([each])
        elif waiting is None:
            waiting = [each]
            rows.append(waiting)
        else:
            waiting.append(each)
            waiting = None
    return rows


def _tempo(tempo: Tempo, beat: BeatNote | None) -> dict[str, object]:
    bpm = f"{tempo.bpm:g}"
    if beat is None:
        return {"note": None, "text": f"{tempo.beat.numerator}/{tempo.beat.denominator} = {bpm}"}
    width, height = (round(share * STEM_EM, 3) for share in (beat.width, beat.height))
    note = {"svg": beat.svg, "width": width, "height": height, "words": value_words(tempo.beat)}
    return {"note": note, "text": f"= {bpm}"}
