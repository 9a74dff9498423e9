"""What stands on a lesson sheet: exercises, what to do with each, and days to tick.

Conventions: a sheet's days hold turns, in the order they are to be played; an exercise
that comes on several days stands once, with each way it is to be practised.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from io import BytesIO

from evenhand.errors import UnprintableText
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.strokes.heights import StrokeClass, Unit
from evenhand.report.print.setting import Paper

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
