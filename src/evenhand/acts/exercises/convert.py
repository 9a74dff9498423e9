"""Write one exercise for other programs and for print: SVG, MusicXML, Standard MIDI File, MEI.

Take exercises over from other programs' files: MusicXML, Standard MIDI Files, and plain lists of stickings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from evenhand.acts.documents import json_of
from evenhand.acts.exercises.opened import GIVE, ScoreFile, open_score
from evenhand.errors import UnreadableScore, WrongOptions
from evenhand.music.book import Book, Entry
from evenhand.music.exercise import Exercise, Tempo, check_marks
from evenhand.music.text import parse_exercise, print_exercise

if TYPE_CHECKING:
    from evenhand.music.engraving.rolls import Rolls
    from evenhand.music.formats.hands import HandsWhereNone


Form = Literal["svg", "musicxml", "midi", "mei"]
MOST_REPETITIONS = 9999
NARROWEST_PX, WIDEST_PX = 160, 20_000


@dataclass(frozen=True, slots=True)
class ExportOptions:
    """How it is to be written. ``repeat`` is how often it is played; None leaves that open.

    ``stroke_letters`` and ``rolls`` change what is drawn, never what is played; ``midi_note`` is the drum's.
    """

    tempo: Tempo | None = None
    repeat: int | None = None
    title: str = ""
    stroke_letters: bool = False
    rolls: Rolls = "typed"
    width_px: float = 760
    midi_note: int = 38


def read_wanted(exercise: str | None, tempo: str | None) -> tuple[Exercise, Tempo | None]:
    """Read what was typed.

    Raises
    ------
    EvenhandError
        Where there is no exercise, or one of the two cannot be read.
    """
    if not (exercise or "").strip():
        raise WrongOptions(got="no exercise", must_be="one, such as --exercise '1/8: RLRR LRLL'")
    beats = Tempo.parse(tempo) if tempo and tempo.strip() else None
    return parse_exercise(exercise or ""), beats


def export_exercise(exercise: Exercise, form: Form, options: ExportOptions) -> bytes:
    """Return an exercise in one form; text is UTF-8. The same exercise and wishes give the same bytes.

    Raises
    ------
    WrongOptions
        Where a wish cannot be met.
    """
    check_options(options)
    if form == "midi":
        return _midi(exercise, options)
    texts = {"svg": _svg, "musicxml": _musicxml, "mei": _mei}
    return texts[form](exercise, options).encode("utf-8")


def check_options(options: ExportOptions) -> None:
    """Refuse what cannot be written before anything is."""
    if options.repeat is not None and not 1 <= options.repeat <= MOST_REPETITIONS:
        raise WrongOptions(got=f"{options.repeat} times", must_be=f"1 to {MOST_REPETITIONS}")
    if not NARROWEST_PX <= options.width_px <= WIDEST_PX:
        got = f"a width of {options.width_px:g} px"
        raise WrongOptions(got=got, must_be=f"{NARROWEST_PX} to {WIDEST_PX} px")


def _letters(exercise: Exercise, options: ExportOptions) -> dict[int, str] | None:
    """Plan the strokes' letters where they are wished for."""
    if not options.stroke_letters:
        return None
    from evenhand.music.strokes.plan import plan_strokes

    return plan_strokes(exercise).letters()


def _svg(exercise: Exercise, options: ExportOptions) -> str:
    from evenhand.music.engraving.engrave import engrave
    from evenhand.music.engraving.engraved import whole_svg

    engraved = engrave(
        exercise,
        width=options.width_px,
        tempo=options.tempo,
        spacing="note",
        repeat=options.repeat,
        stroke_letters=_letters(exercise, options),
        rolls=options.rolls,
    )
    return whole_svg(engraved, title=options.title)


def _musicxml(exercise: Exercise, options: ExportOptions) -> str:
    from evenhand.music.formats.musicxml.write import to_musicxml

    return to_musicxml(
        exercise,
        tempo=options.tempo,
        title=options.title,
        repeat=options.repeat,
        strokes=_letters(exercise, options),
    )


def _midi(exercise: Exercise, options: ExportOptions) -> bytes:
    from evenhand.music.formats.midi.write import to_midi

    return to_midi(
        exercise,
        tempo=options.tempo,
        repetitions=options.repeat or 1,
        note=options.midi_note,
        title=options.title,
    )


def _mei(exercise: Exercise, options: ExportOptions) -> str:
    from evenhand.music.engraving.mei import to_mei
    from evenhand.music.engraving.score import score_of

    short = options.rolls == "short"
    check_marks(exercise, frozenset({"repeats"}) if short else frozenset(), "MEI with short rolls")
    score = score_of(exercise, "short" if short else "written")
    slashes = {at: roll.slashes for at, roll in score.rolls.items()}
    return to_mei(score.exercise, repeat=options.repeat, tempo=options.tempo, slashes=slashes)


SCHEMA = "urn:evenhand:imported-1"


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """What is to be read: which part of a score, which MIDI notes are which hand's, which hands else.

    ``bars`` (first, last) are those that are wanted; ``grids`` the note values that played MIDI is moved to.
    """

    part: str | None = None
    hands: HandsWhereNone = "refuse"
    right_note: int | None = None
    left_note: int | None = None
    bars: tuple[int, int] | None = None
    grids: tuple[Fraction, ...] = ()


@dataclass(frozen=True, slots=True)
class Imported:
    """What one file held. ``tempo`` is the first that stands in it."""

    file: str
    entries: tuple[Entry, ...]
    tempo: Tempo | None
    warnings: tuple[str, ...]
    proposed: tuple[int, ...] = ()  # of each exercise, how many notes have a hand that a rule put in


def bars_from(text: str) -> tuple[int, int]:
    """Read which bars are wanted.

    >>> bars_from("5-12"), bars_from(" 3 ")
    ((5, 12), (3, 3))
    """
    first, sign, last = (each.strip() for each in text.partition("-"))
    if not all(each.isascii() and each.isdecimal() and len(each) < 6 for each in (first, last or first)):
        raise WrongOptions(got=f"bars '{text.strip()}'", must_be="a bar or from which to which, such as 5-12")
    wanted = int(first), int(last if sign else first)
    if not wanted[0] <= wanted[1]:
        raise WrongOptions(got=f"bars {wanted[0]} to {wanted[1]}", must_be="the first one first")
    return wanted


FINEST_GRID = 64


def grids_from(text: str) -> tuple[Fraction, ...]:
    """Read the note values whose grids notes are moved to.

    >>> [str(grid) for grid in grids_from("1/16, 1/12")]
    ['1/16', '1/12']
    """
    wanted = [each.strip().removeprefix("1/") for each in text.split(",")]
    if not all(each.isascii() and each.isdecimal() and len(each) < 3 for each in wanted) or not all(
        4 <= int(each) <= FINEST_GRID for each in wanted
    ):
        must_be = f"note values from 1/4 to 1/{FINEST_GRID} with commas between, such as 1/16,1/12"
        raise WrongOptions(got=f"the grid '{text.strip()[:40]}'", must_be=must_be)
    return tuple(Fraction(1, int(each)) for each in wanted)


def import_scores(files: Sequence[Path], options: ImportOptions) -> tuple[Imported, ...]:
    """Read all files; the first that cannot be read ends it, so that nothing is left out unseen.

    Raises
    ------
    UnreadableScore
        Naming the file, what is the matter with it, and what to do.
    """
    for note in (options.right_note, options.left_note):
        if note is not None and not 0 <= note <= 127:
            raise WrongOptions(got=f"MIDI note {note}", must_be="0 to 127")
    if options.right_note is not None and options.right_note == options.left_note:
        raise WrongOptions(got=f"note {options.right_note} for both hands", must_be="two notes")
    return tuple(_read(open_score(file), options) for file in files)


def _read(file: ScoreFile, options: ImportOptions) -> Imported:
    if file.form == "midi":
        from evenhand.music.formats.midi.read import read_midi_score
        from evenhand.music.formats.midi.strokes import HandNotes

        notes = HandNotes(options.right_note, options.left_note)
        score = read_midi_score(
            file.content,
            name=file.name,
            hand_notes=notes,
            hands=options.hands,
            grids=options.grids,
            bars=options.bars,
        )
    elif file.form == "text":
        return _listed(file)
    else:
        from evenhand.music.formats.musicxml.read import read_musicxml

        score = read_musicxml(
            file.content, name=file.name, part=options.part, hands=options.hands, bars=options.bars
        )
    return Imported(file.name, score.entries, score.tempo, score.warnings, score.proposed)


def _listed(file: ScoreFile) -> Imported:
    """Read a plain list; lines that cannot be read are warned of, as long as there are others."""
    from evenhand.music.formats.lists import read_list

    found = read_list(file.content.decode("utf-8-sig", "replace"), name=file.name)
    if not found.entries:
        got = f"text in which no line is an exercise ({found.wrong[0].removesuffix('.')})"
        raise UnreadableScore(name=file.name, got=got, do=GIVE)
    return Imported(file.name, found.entries, None, (*found.assumed, *found.wrong), (0,) * len(found.entries))


def book_of(imported: Sequence[Imported]) -> Book:
    """Put what was read into one book, with a section for each file where there are several."""
    several = len(imported) > 1
    return Book(
        tuple(
            replace(entry, section=entry.section or (Path(each.file).stem if several else ""))
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
                {
                    "title": entry.title,
                    "exercise": print_exercise(entry.exercise),
                    "hands_proposed": proposed,
                }
                for entry, proposed in zip(each.entries, each.proposed, strict=True)
            ],
            "warnings": list(each.warnings),
        }
        for each in imported
    ]
    return json_of({"schema": SCHEMA, "files": files})
