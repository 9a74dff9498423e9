"""Exercise text: one line that holds an exercise, read and printed.

Conventions: columns count characters from 1. A note value opens a run
(``1/16:``) and holds until the next. ``parse_exercise`` reads many spellings of
one exercise; ``print_exercise`` writes one. The grammar, for people, is in
``docs/exercise-text.md``. Time is linear in the length of the text.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from typing import NoReturn

from evenhand.errors import BadExercise
from evenhand.music.exercise import MAX_NOTES, MOST_METER_BEATS, Exercise, Hand, Meter, Note, meter_of

MAX_GRACES = 3
MAX_TEXT = 131_072
SHORT = 200  # characters: a studio reads its few exercises again with every take
MAX_DENOMINATOR = 192
LONGEST_VALUE = Fraction(2)

_DIGITS = frozenset("0123456789")
_HANDS: dict[str, Hand] = {"R": "R", "L": "L"}
_GRACES: dict[str, Hand] = {"r": "R", "l": "L"}
_EXAMPLE = "an exercise, such as 1/8: RLRR LRLL"
_ANYTHING = "R, L, a grace (lR), > - | or a note value such as 1/8:"
_SPOKEN = {"\t": "a tab", "\n": "a line break", "\r": "a line break", " ": "a space"}
_PLAIN = {"—": "-", "–": "-", "−": "-", "‐": "-", "‑": "-", "¦": "|", "›": ">", "∼": "~", "˜": "~"}


@dataclass
class _Reader:
    """Walks the text once from left to right; what it has read so far."""

    text: str
    at: int = 0
    value: Fraction | None = None
    value_at: int | None = None  # where a run was opened that holds no note yet
    meter: Meter | None = None
    notes: list[Note] = field(default_factory=list)
    bar_lines: list[int] = field(default_factory=list)
    bar_length: Fraction = Fraction(0)  # of the bar being read
    full_bar: Fraction | None = None  # what each bar must hold, once known

    @property
    def here(self) -> str:
        """The character to read next, empty at the end."""
        return self.text[self.at : self.at + 1]

    def skip_spaces(self) -> None:
        while self.here == " ":
            self.at += 1

    def fail(self, found: str, must_be: str, at: int | None = None) -> NoReturn:
        column = (self.at if at is None else at) + 1
        raise BadExercise(column=column, found=found, must_be=must_be, text=self.text[:MAX_TEXT])


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
    return _read_short(text) if len(text) <= SHORT else _read(text)


def _read(text: str) -> Exercise:
    if len(text) > MAX_TEXT:
        at = f"at most {MAX_TEXT:,} characters"
        raise BadExercise(column=MAX_TEXT + 1, found=f"{len(text):,} characters", must_be=at)
    reader = _Reader(text)
    _read_meter(reader)
    reader.skip_spaces()
    while reader.here:
        _read_one(reader)
        reader.skip_spaces()
    _check_end(reader)
    return Exercise(tuple(reader.notes), reader.meter, tuple(reader.bar_lines))


_read_short = lru_cache(maxsize=512)(_read)


def print_exercise(exercise: Exercise) -> str:
    """Write an exercise as text, the same exercise always the same way.

    >>> print_exercise(parse_exercise("1/8:RLRRLRLL l>RL"))
    '1/8: RLRR LRLL >lRL'
    """
    words: list[str] = [str(exercise.meter)] if exercise.meter else []
    bars = frozenset(exercise.bar_lines)
    value: Fraction | None = None
    in_group = 0
    for position, note in enumerate(exercise.notes):
        bar = position in bars and position > 0
        if bar:
            words.append("|")
        if note.value != value:
            words.append(f"{note.value.numerator}/{note.value.denominator}:")
        fresh = bar or note.value != value or bool(note.graces)
        value = note.value
        if fresh or in_group == _group_size(value, exercise.meter):
            words.append("")
            in_group = 0
        words[-1] += _print_note(note)
        in_group += 1
    if len(exercise.notes) in bars:
        words.append("|")
    return " ".join(words)


def mirrored(exercise: Exercise) -> Exercise:
    """Return the same exercise with the hands swapped, graces too.

    >>> print_exercise(mirrored(parse_exercise("1/8: lRLRR")))
    '1/8: rLRLL'
    """
    swap: dict[Hand, Hand] = {"R": "L", "L": "R"}
    notes = tuple(
        Note(
            hand=swap[note.hand] if note.hand else None,
            value=note.value,
            accent=note.accent,
            graces=tuple(swap[grace] for grace in note.graces),
            buzz=note.buzz,
        )
        for note in exercise.notes
    )
    return Exercise(notes, exercise.meter, exercise.bar_lines)


def _print_note(note: Note) -> str:
    if note.hand is None:
        return "-"
    graces = "".join(note.graces).lower()
    return (">" if note.accent else "") + graces + note.hand + ("~" if note.buzz else "")


def _group_size(value: Fraction, meter: Meter | None) -> int:
    """Count the notes between two spaces: a tuplet's, 3 in compound meters, else 4."""
    for count in (3, 5, 7):
        if value.denominator % count == 0:
            return count
    return 3 if meter and meter.unit >= 8 and meter.beats % 3 == 0 else 4


def _read_meter(reader: _Reader) -> None:
    """Read a meter if one opens the text; a fraction with a colon is left for later."""
    reader.skip_spaces()
    start = reader.at
    if reader.here not in _DIGITS:
        return
    beats, unit, colon = _read_fraction(reader)
    if colon:
        reader.at = start
        return
    meter = meter_of(beats, unit)
    if meter is None:
        right = f"a meter such as 4/4 or 6/8 (1 to {MOST_METER_BEATS} beats of 1/1 to 1/64)"
        reader.fail(f"{beats}/{unit}", right, start)
    reader.meter, reader.full_bar = meter, meter.bar


def _read_one(reader: _Reader) -> None:
    char = reader.here
    if char in _DIGITS:
        _read_value(reader)
    elif char == "|":
        _read_bar_line(reader)
    elif char == "-":
        reader.at += 1
        _add(reader, None, reader.at - 1)
    elif char == "~":
        reader.fail("'~' on its own", "right after its note, such as R~")
    elif char == ">" or char in _HANDS or char in _GRACES:
        _read_note(reader)
    else:
        reader.fail(_spoken(char), _right_instead(char))


def _read_fraction(reader: _Reader) -> tuple[int, int, bool]:
    """Read ``3/16`` with or without a colon behind it."""
    start = reader.at
    top = _read_number(reader)
    if reader.here != "/":
        reader.fail(_spoken(reader.here), f"'/' after {top}, as in 1/8:")
    reader.at += 1
    if reader.here not in _DIGITS:
        reader.fail(_spoken(reader.here), f"a number after {top}/, as in 1/8:")
    bottom = _read_number(reader)
    if top == 0 or bottom == 0:
        reader.fail(f"{top}/{bottom}", "numbers above 0, as in 1/8:", start)
    after = reader.at
    reader.skip_spaces()
    colon = reader.here == ":"
    reader.at = reader.at + 1 if colon else after
    return top, bottom, colon


def _read_number(reader: _Reader) -> int:
    start = reader.at
    while reader.here in _DIGITS and reader.here:
        reader.at += 1
    digits = reader.text[start : reader.at]
    if len(digits) > 3:
        reader.fail(f"a number of {len(digits)} digits", f"1 to {MAX_DENOMINATOR}", start)
    return int(digits)


def _read_value(reader: _Reader) -> None:
    start = reader.at
    top, bottom, colon = _read_fraction(reader)
    if not colon:
        right = f"{top}/{bottom}: with a colon for a note value (a meter stands first and once)"
        reader.fail(f"{top}/{bottom} without a colon", right, start)
    value = Fraction(top, bottom)
    if value.denominator != bottom:
        right = f"{value.numerator}/{value.denominator}: in lowest terms (a meter takes no colon)"
        reader.fail(f"{top}/{bottom}:", right, start)
    if bottom > MAX_DENOMINATOR or value > LONGEST_VALUE:
        right = f"a note value from 1/{MAX_DENOMINATOR}: to {LONGEST_VALUE}/1:"
        reader.fail(f"{top}/{bottom}:", right, start)
    if reader.value_at is not None:
        reader.fail(f"{top}/{bottom}:", "a note in the run before it", start)
    reader.value, reader.value_at = value, start


def _read_bar_line(reader: _Reader) -> None:
    """Check the bar that ends here. A bar line before the first note says nothing."""
    if not reader.notes:
        reader.at += 1
        return
    bar = len(reader.bar_lines) + 1
    if not reader.bar_length:
        reader.fail("a bar line right after another", f"a note in bar {bar}")
    if reader.full_bar is None:
        reader.full_bar = reader.bar_length
    if reader.bar_length != reader.full_bar:
        measured_by = f"meter {reader.meter}" if reader.meter else "unlike bar 1"
        found = f"a bar line where bar {bar} holds {_length(reader, reader.bar_length)}, {measured_by}"
        reader.fail(found, f"where it holds {_length(reader, reader.full_bar)}")
    reader.bar_lines.append(len(reader.notes))
    reader.bar_length = Fraction(0)
    reader.at += 1


def _length(reader: _Reader, length: Fraction) -> str:
    """Say a length in the meter's unit where that comes out even: 6/8, not 3/4."""
    if reader.meter and (length * reader.meter.unit).denominator == 1:
        return f"{length * reader.meter.unit}/{reader.meter.unit}"
    return f"{length.numerator}/{length.denominator}"


def _read_note(reader: _Reader) -> None:
    start = reader.at
    accent = _read_accent(reader)
    graces = _read_graces(reader)
    if not accent:
        accent = _read_accent(reader)
    hand = _HANDS.get(reader.here)
    if hand is None:
        before = reader.text[start : reader.at]
        reader.fail(_spoken(reader.here), f"R or L right after '{before}', as in {before}R")
    reader.at += 1
    buzz = reader.here == "~"
    reader.at += buzz
    _add(reader, hand, start, accent=accent, graces=graces, buzz=buzz)


def _read_accent(reader: _Reader) -> bool:
    found = reader.here == ">"
    reader.at += found
    return found


def _read_graces(reader: _Reader) -> tuple[Hand, ...]:
    graces: list[Hand] = []
    while reader.here in _GRACES:
        if len(graces) == MAX_GRACES:
            reader.fail(f"grace note {MAX_GRACES + 1}", f"R or L: a note takes up to {MAX_GRACES} graces")
        graces.append(_GRACES[reader.here])
        reader.at += 1
    return tuple(graces)


def _add(
    reader: _Reader,
    hand: Hand | None,
    start: int,
    *,
    accent: bool = False,
    graces: tuple[Hand, ...] = (),
    buzz: bool = False,
) -> None:
    if reader.value is None:
        hint = f" ({reader.meter} was read as the meter)" if reader.meter else ""
        reader.fail(_spoken(reader.text[start]), f"a note value first, such as 1/8: or 1/16:{hint}", start)
    if len(reader.notes) == MAX_NOTES:
        reader.fail(f"note {MAX_NOTES + 1:,}", f"at most {MAX_NOTES:,} notes and rests", start)
    reader.notes.append(Note(hand, reader.value, accent, graces, buzz))
    reader.bar_length += reader.value
    reader.value_at = None


def _check_end(reader: _Reader) -> None:
    if not reader.notes and reader.value_at is None:
        reader.fail("nothing to play", _EXAMPLE)
    if reader.value_at is not None:
        reader.fail("the end", "a note after the last note value")
    if all(note.is_rest for note in reader.notes):
        reader.fail("rests only", "at least one note, R or L", 0)


def _spoken(char: str) -> str:
    """Name a character so that it can be told from its look-alikes."""
    if not char:
        return "the end"
    if char in _SPOKEN:
        return _SPOKEN[char]
    if " " < char <= "~":
        return f"'{char}'"
    name = unicodedata.name(char, f"U+{ord(char):04X}").lower()
    return f"'{char}' ({name})" if char.isprintable() else name


def _right_instead(char: str) -> str:
    """Say what was probably meant."""
    plain = _PLAIN.get(char) or unicodedata.normalize("NFKC", char)
    if char in "\r\n":
        return "one line"
    if char.isspace():
        return "a plain space"
    if plain != char and plain in {"R", "L", "r", "l", ">", "~", "-", "|", ":", "/", *_DIGITS}:
        return f"a plain {plain}"
    return _ANYTHING
