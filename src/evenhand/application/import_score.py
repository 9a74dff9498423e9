"""Take exercises over from other programs' files: MusicXML and Standard MIDI Files."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, Protocol

from evenhand.craft.text import print_exercise
from evenhand.domain.book import Book, Entry
from evenhand.domain.tempo import Tempo
from evenhand.engraving.midi_read import read_midi_score
from evenhand.engraving.midi_strokes import HandNotes
from evenhand.engraving.musicxml_read import read_musicxml
from evenhand.engraving.passages import HandsWhereNone
from evenhand.errors import WrongOptions

SCHEMA = "urn:evenhand:imported-1"


@dataclass(frozen=True, slots=True)
class ScoreFile:
    """A file that was opened: its name, which of the two it is, and its content, unpacked."""

    name: str
    form: Literal["musicxml", "midi"]
    content: bytes


class OpensScores(Protocol):
    """Opens a file of music, or refuses it by name."""

    def __call__(self, path: Path) -> ScoreFile:
        """Open one file."""
        ...


@dataclass(frozen=True, slots=True)
class ImportWishes:
    """What is to be read: which part of a score, which MIDI notes are which hand's, which hands else."""

    part: str | None = None
    hands: HandsWhereNone = "refuse"
    right_note: int | None = None
    left_note: int | None = None


@dataclass(frozen=True, slots=True)
class Imported:
    """What one file held. ``tempo`` is the first that stands in it."""

    file: str
    entries: tuple[Entry, ...]
    tempo: Tempo | None
    warnings: tuple[str, ...]


def import_scores(files: Sequence[Path], *, opens: OpensScores, wishes: ImportWishes) -> tuple[Imported, ...]:
    """Read all files; the first that cannot be read ends it, so that nothing is left out unseen.

    Raises
    ------
    UnreadableScore
        Naming the file, what is the matter with it, and what to do.
    """
    for note in (wishes.right_note, wishes.left_note):
        if note is not None and not 0 <= note <= 127:
            raise WrongOptions(got=f"MIDI note {note}", must_be="0 to 127")
    if wishes.right_note is not None and wishes.right_note == wishes.left_note:
        raise WrongOptions(got=f"note {wishes.right_note} for both hands", must_be="two notes")
    return tuple(_read(opens(file), wishes) for file in files)


def _read(file: ScoreFile, wishes: ImportWishes) -> Imported:
    if file.form == "midi":
        notes = HandNotes(wishes.right_note, wishes.left_note)
        score = read_midi_score(file.content, name=file.name, hand_notes=notes, hands=wishes.hands)
    else:
        score = read_musicxml(file.content, name=file.name, part=wishes.part, hands=wishes.hands)
    return Imported(file.name, score.entries, score.tempo, score.warnings)


def book_of(imported: Sequence[Imported]) -> Book:
    """Put what was read into one book, with a section for each file where there are several."""
    several = len(imported) > 1
    return Book(
        tuple(
            replace(entry, section=Path(each.file).stem if several else "")
            for each in imported
            for entry in each.entries
        )
    )


def imported_json(imported: Sequence[Imported]) -> str:
    """Write what was read, and what was said about it, as JSON."""
    files = [
        {
            "file": each.file,
            "tempo": str(each.tempo) if each.tempo else None,
            "exercises": [
                {"title": entry.title, "exercise": print_exercise(entry.exercise)} for entry in each.entries
            ],
            "warnings": list(each.warnings),
        }
        for each in imported
    ]
    return json.dumps({"schema": SCHEMA, "files": files}, ensure_ascii=False, indent=1) + "\n"
