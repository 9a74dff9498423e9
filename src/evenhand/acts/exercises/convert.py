"""Write one exercise for other programs and for print: SVG, MusicXML, Standard MIDI File, MEI.

Take exercises over from other programs' files: MusicXML and Standard MIDI Files.

Files of music from other programs, opened and unpacked with care: MusicXML, packed or not, and MIDI.

What a file is, is told from its first bytes and not from its name. Nothing is written to disk.
"""

from __future__ import annotations

import io
import stat
import zipfile
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from evenhand.acts.documents import json_of
from evenhand.errors import UnreadableScore, WrongOptions
from evenhand.music.book import Book, Entry
from evenhand.music.exercise import Exercise, Tempo, check_marks
from evenhand.music.text import parse_exercise, print_exercise

if TYPE_CHECKING:
    from evenhand.music.engraving.rolls import Rolls
    from evenhand.music.formats.passages import HandsWhereNone


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
class ScoreFile:
    """A file that was opened: its name, which of the two it is, and its content, unpacked."""

    name: str
    form: Literal["musicxml", "midi"]
    content: bytes


@dataclass(frozen=True, slots=True)
class ImportOptions:
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
        score = read_midi_score(file.content, name=file.name, hand_notes=notes, hands=options.hands)
    else:
        from evenhand.music.formats.musicxml.read import read_musicxml

        score = read_musicxml(file.content, name=file.name, part=options.part, hands=options.hands)
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
    return json_of({"schema": SCHEMA, "files": files})


MOST_BYTES = 32 << 20  # of the file, and of what it unpacks to
MOST_PACKED = 1000  # files inside
_CONTAINER = "META-INF/container.xml"
_GIVE = "It must be MusicXML (.musicxml, .xml, .mxl) or a Standard MIDI File (.mid)."
_AGAIN = "Export it again."


def open_score(path: Path) -> ScoreFile:
    """Open one file of music.

    Raises
    ------
    UnreadableScore
        Where it cannot be opened, is too large, or is neither.
    """
    content = _content(path)
    if not content:
        raise UnreadableScore(name=path.name, got="an empty file", do=_AGAIN)
    if content.startswith(b"PK\x03\x04"):
        content = _unpacked(path, content)
    if content.startswith((b"MThd", b"RIFF")):
        return ScoreFile(path.name, "midi", content)
    if _is_xml(content):
        return ScoreFile(path.name, "musicxml", content)
    from evenhand.media.refusals import is_text

    kind = "text" if is_text(content[:4096]) else "no music that can be read"
    raise UnreadableScore(name=path.name, got=f"{kind}, whatever its name says", do=_GIVE)


def _content(path: Path) -> bytes:
    """Read a regular file, not more of it than a score may have."""
    try:
        if path.is_dir():
            raise UnreadableScore(name=path.name, got="a folder", do="Name the files in it.")
        if not stat.S_ISREG(path.stat().st_mode):
            raise UnreadableScore(name=path.name, got="no regular file", do=_GIVE)
        with path.open("rb") as opened:
            content = opened.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise UnreadableScore(
            name=path.name, got="there is no such file", do="Check the name and the folder."
        ) from None
    except (OSError, ValueError) as error:
        got = f"cannot be opened ({getattr(error, 'strerror', None) or error})"
        raise UnreadableScore(name=path.name, got=got, do="Check the disk and who may read it.") from None
    if len(content) > MOST_BYTES:
        raise _too_large(path)
    return content


def _unpacked(path: Path, content: bytes) -> bytes:
    """Take the score out of a packed file."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if len(packed.infolist()) > MOST_PACKED:
                raise _too_large(path)
            return _part(path, packed, _root_name(path, packed))
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, OSError, ValueError):
        raise UnreadableScore(
            name=path.name, got="a packed score that is damaged or cut off", do=_AGAIN
        ) from None


def _root_name(path: Path, packed: zipfile.ZipFile) -> str:
    """Find the score among the packed files: the container names it, else the first that looks like one."""
    names = packed.namelist()
    if _CONTAINER in names:
        named = _first_root(_part(path, packed, _CONTAINER))
        if named in names:
            return named
    for name in names:
        if name.lower().endswith((".musicxml", ".xml")) and not name.startswith("META-INF/"):
            return name
    raise UnreadableScore(name=path.name, got="a packed file without a score in it", do=_GIVE)


def _first_root(container: bytes) -> str:
    """Return the first file that a container names, empty where it names none."""
    from evenhand.music.formats.musicxml.tree import NoXml, parse_xml

    try:
        root = next(parse_xml(container).iter("rootfile"), None)
    except NoXml:
        return ""
    return "" if root is None else root.get("full-path", "")


def _part(path: Path, packed: zipfile.ZipFile, name: str) -> bytes:
    """Unpack one file, not more of it than a score may have, whatever its header says."""
    with packed.open(name) as opened:
        content = opened.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise _too_large(path)
    return content


def _too_large(path: Path) -> UnreadableScore:
    got = f"larger than {MOST_BYTES >> 20} MB"
    return UnreadableScore(name=path.name, got=got, do="Export the drum part alone.")


def _is_xml(content: bytes) -> bool:
    """Tell XML by how it begins, in any of its usual codes."""
    head = content[:64].removeprefix(b"\xef\xbb\xbf").lstrip()
    return head.startswith((b"<", b"\xff\xfe<\0", b"\xfe\xff\0<", b"<\0", b"\0<"))
