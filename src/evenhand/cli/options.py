"""Options that several commands share, and what a click and a play-along say at the end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.acts.takes.request import Click
from evenhand.cli.results import check_places
from evenhand.errors import WrongOptions
from evenhand.music.strokes.heights import Unit
from evenhand.report.words.figures import CLICK_CAUTION, PAIN

if TYPE_CHECKING:
    from evenhand.acts.exercises.tracks import Written
    from evenhand.music.exercise import Tempo


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
ExerciseOption = Annotated[
    str | None, typer.Option("--exercise", metavar="TEXT", help="The exercise, such as '1/8: RLRR LRLL'.")
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


SoundOutOption = Annotated[
    Path,
    typer.Option("--out", metavar="FILE", help="Where the sound goes: .wav, .flac, .ogg or .mp3."),
]
CountInOption = Annotated[
    int, typer.Option("--count-in", metavar="BARS", min=0, max=16, help="Bars of clicks before it begins.")
]
LeadInOption = Annotated[
    str, typer.Option("--lead-in", metavar="SECONDS", help="Silence before the first click.")
]
StepOption = Annotated[
    str | None,
    typer.Option("--step", metavar="BPM", help="Change the tempo by so many beats a minute at a time."),
]
ToOption = Annotated[
    str | None,
    typer.Option(
        "--to", metavar="TEMPO", help="Change evenly up to this tempo; with --step, where the steps end."
    ),
]
SilentOption = Annotated[
    str | None,
    typer.Option("--silent", metavar="HEARD:SILENT", help="Bars heard and bars silent in turn, such as 2:2."),
]
EarOption = Annotated[
    Literal["both", "left", "right"], typer.Option("--ear", help="Which ear the click is in.")
]
RateOption = Annotated[
    Literal["44100", "48000", "96000"], typer.Option("--rate", help="Samples a second; mp3 up to 48000.")
]

CAUTION = f"{PAIN} {CLICK_CAUTION}"


def check_out(path: Path, rate: str, json: Path | None, reads: Sequence[Path] = ()) -> int:
    """Check where things go, before the work is done; return the samples a second."""
    from evenhand.media.write import check_format

    check_places(path, json, reads=reads)
    check_format(path, int(rate))
    return int(rate)


def tempos_of(tempos: tuple[Tempo, Tempo], manner: str) -> str:
    """Say how the tempo goes."""
    first, last = (f"{t.beat} = {t.bpm:.4g}" for t in tempos)
    return first if first == last else f"{first} to {last}, {manner}"


def loudness_of(written: Written) -> str:
    """Say how loud it is."""
    lufs = (
        "too short for a loudness"
        if written.integrated_lufs is None
        else f"{written.integrated_lufs:.1f} LUFS"
    )
    return f"{lufs}, peak {written.true_peak_dbtp:.1f} dBTP"


def manner_of(step: str | None, every: int | None, round_name: str) -> str:
    """Say in which way a tempo changes."""
    if step is None:
        return "evenly"
    rounds = round_name if (every or 1) == 1 else f"{every} {round_name}s"
    return f"by {step.lstrip('+')} every {rounds}"
