"""Options that several commands share, and how they are read."""

from __future__ import annotations

import math
from typing import Annotated

import typer

from evenhand.application.asked import Click
from evenhand.domain.stroke import Unit
from evenhand.errors import WrongOptions


def finite(value: float | None) -> float | None:
    """Refuse what is no number: an option's range lets nan through."""
    if value is not None and not math.isfinite(value):
        raise typer.BadParameter(f"{value} is not a number.")
    return value


ExerciseOption = Annotated[
    str | None,
    typer.Option("--exercise", metavar="TEXT", help="What was played, such as '1/8: RLRR LRLL'."),
]
TempoOption = Annotated[
    str | None,
    typer.Option("--tempo", metavar="TEMPO", help="Note value and beats a minute, such as 1/8=70."),
]
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
