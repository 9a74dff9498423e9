"""Options that several commands share, and how what they name is read: takes, lists, histories, days."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.acts.takes.request import Click
from evenhand.cli.results import say_line, shown
from evenhand.errors import BadExercise, BadList, BadText, WrongOptions
from evenhand.music.strokes.heights import Unit

if TYPE_CHECKING:
    from evenhand.acts.takes.many import ListedTake
    from evenhand.progress.history import History
    from evenhand.progress.stages.path import PracticePath
    from evenhand.take import Progress


def finite(value: float | None) -> float | None:
    """Refuse what is no number: an option's range lets nan through."""
    if value is not None and not math.isfinite(value):
        raise typer.BadParameter(f"{value} is not a number.")
    return value


TakeArgument = Annotated[
    Path,
    typer.Argument(
        metavar="TAKE", exists=True, dir_okay=False, help="A recording, a video, or a Standard MIDI File."
    ),
]
ListArgument = Annotated[
    Path,
    typer.Argument(
        metavar="LIST.csv",
        exists=True,
        dir_okay=False,
        help="Columns file,exercise,tempo[,click]; paths relative to the list.",
    ),
]


def say_assumed(typed: str | list[str] | None) -> str | list[str] | None:
    """Say how exercises were read that were typed without a note value, or in small letters.

    Where several may be typed, each may have a title.
    """
    if not typed:
        return typed
    from evenhand.music.book import exercise_text
    from evenhand.music.text import assumed_in, parse_exercise, print_exercise

    for text in [typed] if isinstance(typed, str) else map(exercise_text, typed):
        with suppress(BadExercise):  # the command says what is wrong
            if assumed_in(text):
                say_line(f"the exercise was read as {print_exercise(parse_exercise(text))}")
    return typed


ExerciseOption = Annotated[
    str | None,
    typer.Option(
        "--exercise",
        metavar="TEXT",
        help="The exercise, such as '1/8: RLRR LRLL'.",
        callback=say_assumed,
    ),
]
BookOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--book", metavar="FILE", exists=True, help="A book of exercises; may be given more than once."
    ),
]
TempoOption = Annotated[
    str | None,
    typer.Option("--tempo", metavar="TEMPO", help="Note value and beats a minute, such as 1/8=70."),
]
NeededTempoOption = Annotated[
    str, typer.Option("--tempo", metavar="TEMPO", help="Note value and beats a minute, such as 1/4=120.")
]
JudgedTempoOption = Annotated[
    str, typer.Option("--tempo", metavar="TEMPO", help="The tempo that easy and hard are judged at.")
]
WeakHandOption = Annotated[
    Literal["R", "L"],
    typer.Option("--weak-hand", help="The weak hand; its strokes count for more in easy and hard."),
]
SeedOption = Annotated[
    int, typer.Option("--seed", metavar="N", min=0, help="The same seed gives the same result.")
]

JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write all of it as JSON; - for stdout."),
]
ReportOption = Annotated[
    Path | None, typer.Option("--report", metavar="FILE", help="Write the report, one HTML page.")
]
PictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE.svg", help="Draw it as a picture.")
]
BookOutOption = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="BOOK.txt", allow_dash=True, help="Write a book of exercises; - for stdout."
    ),
]
PdfOutOption = Annotated[Path, typer.Option("--out", metavar="FILE.pdf", help="Where the pages go.")]
PaperOption = Annotated[Literal["a4", "letter"], typer.Option("--paper", help="The paper's size.")]
StudentOption = Annotated[str, typer.Option("--student", metavar="NAME", help="Whom it is for.")]

HISTORY = typer.Option(
    "--history", metavar="DIR", exists=True, file_okay=False, help="The student's takes, with takes.csv."
)
HistoryOption = Annotated[Path | None, HISTORY]
NeededHistoryOption = Annotated[Path, HISTORY]
PathOption = Annotated[
    Path | None,
    typer.Option("--path", metavar="FILE.toml", exists=True, dir_okay=False, help="A path of your own."),
]
DataOption = Annotated[
    Path | None,
    typer.Option(
        "--data",
        metavar="DIR",
        file_okay=False,
        help="The studio's folder; your own data folder if not given.",
    ),
]
ZipOutOption = Annotated[Path, typer.Option("--out", metavar="FILE.zip", help="Where the file goes.")]

ClickOption = Annotated[
    Click,
    typer.Option("--click", help="Whether a click sounds in the recording: auto finds out by itself."),
]
PatternOption = Annotated[
    str,
    typer.Option(
        "--pattern",
        metavar="TEXT",
        help="Which clicks sound: beats, 2-and-4, offbeats, bar, bar/2, bar/4 or groups such as 3+3+2/8; "
        "then between=2, swing=2/3, plain, silent=2:2, drawn=1/4:7, fade=4:8.",
    ),
]
BeginsAtOption = Annotated[
    float | None,
    typer.Option(
        "--begins-at",
        metavar="SECONDS",
        min=0,
        callback=finite,
        help="Where the exercise's first note is; the nearest hit.",
    ),
]
MidiNotesOption = Annotated[
    str,
    typer.Option("--midi-notes", metavar="NUMBERS", help="In a MIDI file, which notes are the snare."),
]

UnitOption = Annotated[
    Unit,
    typer.Option("--unit", envvar="EVENHAND_UNIT", help="What stick heights are written in; JSON has cm."),
]

MIDI_LAST = 127


def midi_notes_of(text: str) -> tuple[int, ...]:
    """Read MIDI note numbers, such as ``37,38,40``.

    >>> midi_notes_of("38, 40")
    (38, 40)
    """
    parts = [part.strip() for part in text.split(",") if part.strip()]
    whole = all(p.isascii() and p.isdecimal() and len(p) <= 3 for p in parts)
    if not parts or not whole or max(map(int, parts)) > MIDI_LAST:
        raise WrongOptions(got=f"MIDI notes {text!r}", must_be="numbers from 0 to 127 with commas between")
    return tuple(dict.fromkeys(int(part) for part in parts))


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
        from evenhand.acts.weeks.path import read_path

        return read_path(path)
    from evenhand.progress.stages.usual import COMMON_PATH

    return COMMON_PATH


def read_text(path: Path, *, error: type[BadText], must_be: str, largest_bytes: int = SMALL_BYTES) -> str:
    """Read a text file that somebody wrote: a table, a calibration."""
    from evenhand.acts.documents import read_text_file

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
