"""Exercise text: one line that holds an exercise, read and printed.

Conventions: columns count characters from 1. A note value opens a run
(``1/16:``) and holds until the next. ``parse_exercise`` reads many spellings of
one exercise; ``print_exercise`` writes one. The grammar, for people, is in
``docs/exercise-text.md``. Time is linear in the length of the text, and in the
number of notes that are played.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from string import ascii_lowercase

from evenhand.errors import BadExercise
from evenhand.music.exercise import Exercise, Hand, Meter, Note, Repeat, Spelling, Tuplet
from evenhand.music.reading.bars import (
    close_ending,
    close_repeat,
    open_ending,
    read_bar_line,
    read_said,
    read_value_or_meter,
)
from evenhand.music.reading.notes import (
    GRACES,
    HANDS,
    MAX_GRACES,
    SOUNDS,
    own_ratio,
    read_bracket,
    read_note,
    read_rest,
    read_tuplet,
    strokes_in,
    usual_base,
)
from evenhand.music.reading.walk import (
    DIGITS,
    LONGEST_VALUE,
    MAX_DENOMINATOR,
    MAX_TEXT,
    Assumed,
    Reader,
    right_instead,
    spoken,
)

__all__ = [
    "LONGEST_VALUE",
    "MAX_DENOMINATOR",
    "MAX_GRACES",
    "MAX_TEXT",
    "assumed_in",
    "mirrored",
    "note_text",
    "parse_exercise",
    "print_exercise",
]

_EXAMPLE = "an exercise, such as 1/8: RLRR LRLL"
SHORT = 200  # characters: a studio reads its few exercises again with every take
_LONGEST_UNPARTED = 9  # notes of a tuplet that stand without a space between them


def parse_exercise(text: str) -> Exercise:
    """Read an exercise from its text.

    Parameters
    ----------
    text : str
        One line, such as ``4/4 1/16: >RLRR >LRLL | ...``.

    Raises
    ------
    BadExercise
        With the column (from 1), what was found there and what would be right.

    >>> [note.hand for note in parse_exercise("1/8: RL-R").notes]
    ['R', 'L', None, 'R']
    """
    return _kept(text)[0]


def assumed_in(text: str) -> frozenset[Assumed]:
    """Return what a text leaves open and was taken as a beginner means it: eighths, small letters as notes.

    >>> sorted(assumed_in("rlrr lrll")), print_exercise(parse_exercise("rlrr lrll"))
    (['capitals', 'value'], '1/8: RLRR LRLL')
    """
    return _kept(text)[1]


def _kept(text: str) -> tuple[Exercise, frozenset[Assumed]]:
    return _read_short(text) if len(text) <= SHORT else _read(text)


def _read(text: str) -> tuple[Exercise, frozenset[Assumed]]:
    if len(text) > MAX_TEXT:
        at = f"at most {MAX_TEXT:,} characters"
        raise BadExercise(column=MAX_TEXT + 1, found=f"{len(text):,} characters", must_be=at)
    reader = Reader(text)
    reader.skip_spaces()
    while reader.here:
        _read_one(reader)
        reader.skip_spaces()
    _check_end(reader)
    spelling = Spelling(
        tuple(reader.meters),
        reader.pickup,
        reader.counted,
        tuple(reader.slashed),
        tuple(reader.tuplets),
        tuple(reader.repeats),
    )
    made = Exercise(tuple(reader.notes), reader.first_meter, tuple(reader.bar_lines), spelling)
    return made, frozenset(reader.assumed)


_READERS: dict[str, Callable[[Reader], None]] = {
    **dict.fromkeys(DIGITS, read_value_or_meter),
    **dict.fromkeys("-_", read_rest),
    **dict.fromkeys("()", read_bracket),
    **dict.fromkeys("{}", read_tuplet),
    **dict.fromkeys(ascii_lowercase, read_said),
    **dict.fromkeys((">", "^", *HANDS, *GRACES), read_note),
    "|": read_bar_line,
    "[": open_ending,
    "]": close_ending,
}


_read_short = lru_cache(maxsize=512)(_read)


def _read_one(reader: Reader) -> None:
    char = reader.here
    if reader.text.startswith(":|", reader.at):
        close_repeat(reader)
    elif char in _READERS:
        _READERS[char](reader)
    elif char in "~/+":
        reader.fail(f"'{char}' on its own", f"right after its note, such as R{char}")
    else:
        reader.fail(spoken(char), right_instead(char))


def _check_end(reader: Reader) -> None:
    if not reader.notes and reader.value_at is None:
        reader.fail("nothing to play", _EXAMPLE)
    if reader.value_at is not None:
        reader.fail("the end", "a note after the last note value")
    if reader.meters and reader.meters[-1][0] == len(reader.notes):
        reader.fail("the end", "a note after the last meter")
    if reader.mark_at is not None:
        reader.fail(f"'{reader.dynamic or reader.swell}' at the end", "before a note", reader.mark_at)
    if reader.ghosts_at is not None or reader.tuplet:
        close = "'}'" if reader.tuplet else "')'"
        opened = reader.tuplet.column if reader.tuplet else reader.ghosts_at or 0
        reader.fail("the end", f"{close} for the bracket of column {opened + 1}")
    repeat = reader.repeat
    if repeat and repeat.endings and repeat.ending_at is not None:
        close_ending(reader)
    elif repeat:
        wanted = f"[{len(repeat.endings) + 1}" if repeat.endings else "':|'"
        reader.fail("the end", f"{wanted} for the repeat of column {repeat.column + 1}")
    if reader.in_pickup:
        reader.fail("the end", "a bar line after the pickup")
    if all(note.is_rest for note in reader.notes):
        reader.fail("rests only", "at least one note, R or L", 0)


def print_exercise(exercise: Exercise) -> str:
    """Write an exercise as text, the same exercise always the same way.

    >>> print_exercise(parse_exercise("1/8:RLRRLRLL l>RL"))
    '1/8: RLRR LRLL >lRL'
    """
    printer = _Printer(exercise)
    words = printer.words
    words += [str(exercise.meter)] if exercise.meter else []
    words += ["pickup"] * exercise.spelling.pickup + ["count"] * exercise.spelling.counted
    for each in _order(exercise):
        if isinstance(each, str):
            words.append(each)
            printer.fresh = True
        else:
            printer.print_note(each)
    if len(exercise.notes) in exercise.bar_lines:
        words.append("|")
    return " ".join(word.replace(")(", "") for word in words)


def _order(exercise: Exercise) -> Iterator[int | str]:
    """Give the positions that are written, in order, with the signs of repeats between them."""
    repeats = {repeat.at: repeat for repeat in exercise.spelling.repeats}
    at = 0
    while at < len(exercise.notes):
        repeat = repeats.get(at)
        if repeat is None:
            yield at
            at += 1
        else:
            yield from _repeated(repeat)
            at = repeat.stop


def _repeated(repeat: Repeat) -> Iterator[int | str]:
    yield "|:"
    yield from range(repeat.at, repeat.at + repeat.body)
    if not repeat.endings:
        yield ":|" if repeat.times == 2 else f":|x{repeat.times}"
    for number, (_, start, stop) in enumerate(repeat.passes if repeat.endings else (), start=1):
        yield f"[{number}"
        yield from range(start, stop)
        yield ":|" if number < repeat.times else "]"


@dataclass
class _Printer:
    """What was printed so far, and what holds."""

    exercise: Exercise

    def __post_init__(self) -> None:
        spelling = self.exercise.spelling
        self.words: list[str] = []
        self.fresh = True
        self.in_group = 0
        self.value: Fraction | None = None
        self.bars = frozenset(self.exercise.bar_lines) - {0}
        self.meters = dict(spelling.meters)
        self.meter = self.exercise.meter
        self.slashed = dict(spelling.slashed)
        self.inside = {at for first, stop in spelling.slashed for at in range(first + 1, stop)}
        self.opens = {tuplet.start: tuplet for tuplet in spelling.tuplets}
        self.tuplet: Tuplet | None = None

    def print_note(self, position: int) -> None:
        """Print a note with all that stands before it."""
        if position in self.inside:
            return
        note, stop = self.exercise.notes[position], self.slashed.get(position, position + 1)
        if position in self.bars:
            self._say("|")
        if position in self.meters:
            self.meter = self.meters[position]
            self._say(str(self.meter))
        opens = self.opens.get(position)
        self.tuplet = opens or self.tuplet
        tied = self.exercise.notes[stop - 1].tied
        self._print_signs(replace(note, tied=tied), note.value * (stop - position), stop - position, opens)
        if self.tuplet and stop == self.tuplet.stop:
            self.words[-1] += "}"
            self.tuplet, self.fresh = None, True

    def _say(self, word: str) -> None:
        self.words.append(word)
        self.fresh = True

    def _print_signs(self, note: Note, played: Fraction, strokes: int, opens: Tuplet | None) -> None:
        num, base = (self.tuplet.num, self.tuplet.base) if self.tuplet else (1, 1)
        value = played * num / base
        if value != self.value:
            self._say(f"{value.numerator}/{value.denominator}:")
            self.value = value
        if opens:
            usual = usual_base(opens.num) == opens.base
            self._say(f"{{{opens.num}" + ("" if usual else f":{opens.base}"))
        for mark in (note.dynamic, note.swell):
            if mark:
                self._say(mark)
        size = _LONGEST_UNPARTED if self.tuplet else _group_size(value, self.meter)
        if self.fresh or note.graces or self.in_group == size:
            self.words.append("")
            self.in_group = 0
        self.words[-1] += note_text(note, slashes_of(played, strokes, self.tuplet))
        self.in_group += 1
        self.fresh = False


def slashes_of(played: Fraction, strokes: int, tuplet: Tuplet | None = None) -> int:
    """Return how many slashes make so many strokes of a value."""
    if strokes == 1:
        return 0
    num, base = (tuplet.num, tuplet.base) if tuplet else own_ratio(played)
    return int(strokes / strokes_in(played, num, base, 0)).bit_length() - 1


def mirrored(exercise: Exercise) -> Exercise:
    """Return the same exercise with the hands swapped, graces too; both hands stay both.

    >>> print_exercise(mirrored(parse_exercise("1/8: lRLRR")))
    '1/8: rLRLL'
    """
    swap: dict[Hand, Hand] = {"R": "L", "L": "R"}
    notes = tuple(
        replace(
            note,
            hand=swap[note.hand] if note.hand and not note.both else note.hand,
            graces=tuple(swap[grace] for grace in note.graces),
        )
        for note in exercise.notes
    )
    return replace(exercise, notes=notes)


_SOUND_LETTERS = {"drum": "", **{sound: letter for letter, sound in SOUNDS.items()}}


def note_text(note: Note, slashes: int = 0) -> str:
    """Write a note's signs in their order.

    >>> note_text(Note("R", Fraction(1, 4), accent=True, graces=("L",), tied=True), 3)
    '>lR///+'
    """
    if note.hand is None:
        return "_" if note.held else "-"
    accent = "^" if note.strong else ">" if note.accent else ""
    hand = ("B" if note.both else note.hand) + _SOUND_LETTERS[note.sound]
    roll = "~" if note.buzz else "/" * slashes
    text = f"{accent}{''.join(note.graces).lower()}{hand}{roll}{'+' if note.tied else ''}"
    return f"({text})" if note.ghost else text


def _group_size(value: Fraction, meter: Meter | None) -> int:
    """Count the notes between two spaces: a tuplet's, 3 in compound meters, else 4."""
    for count in (3, 5, 7):
        if value.denominator % count == 0:
            return count
    return 3 if meter and meter.compound else 4
