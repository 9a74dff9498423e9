"""The walk over a text from left to right: what it has read so far, numbers, and what is wrong where.

Conventions: columns count characters from 1; ``at`` counts from 0.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, NoReturn

from evenhand.errors import BadExercise
from evenhand.music.exercise import DYNAMICS, SWELLS, Dynamic, Meter, Note, Repeat, Swell, Tuplet

MAX_TEXT = 131_072
MAX_DENOMINATOR = 192
LONGEST_VALUE = Fraction(2)

DIGITS = frozenset("0123456789")
WORDS = (*DYNAMICS, *SWELLS, "pickup", "count")
ANYTHING = "R, L, a grace (lR), > - | or a note value such as 1/8:"
SAID = f"{', '.join(WORDS[:-1])} or {WORDS[-1]}"
_SPOKEN = {"\t": "a tab", "\n": "a line break", "\r": "a line break", " ": "a space"}
_PLAIN = {"—": "-", "–": "-", "−": "-", "‐": "-", "‑": "-", "¦": "|", "›": ">", "∼": "~", "˜": "~", "ˆ": "^"}
_PLAINS = frozenset("RLBrl>^~-_|:/+()[]{}xok") | DIGITS
_A_VALUE = re.compile(r"\d\s*/\s*\d+\s*:", re.ASCII)

Assumed = Literal["value", "capitals"]


@dataclass
class OpenTuplet:
    """A tuplet that is being read: where it opened, at which note, and the values written in it."""

    column: int
    start: int
    num: int
    base: int
    written: list[Fraction] = field(default_factory=list)


@dataclass
class OpenRepeat:
    """A repeat that is being read; ``body`` is known from the first ending on."""

    column: int
    at: int
    body: int | None = None
    endings: list[int] = field(default_factory=list)
    ending_at: int | None = None  # the first note of the ending that is being read


@dataclass
class Reader:
    """Walks the text once from left to right; what it has read so far."""

    text: str
    at: int = 0
    value: Fraction | None = None
    value_at: int | None = None  # where a run was opened that holds no note yet
    first_meter: Meter | None = None
    meter: Meter | None = None  # that holds here
    notes: list[Note] = field(default_factory=list)
    bar_lines: list[int] = field(default_factory=list)
    bar_length: Fraction = Fraction(0)  # of the bar being read
    full_bar: Fraction | None = None  # what each bar must hold, once known
    meters: list[tuple[int, Meter]] = field(default_factory=list)
    pickup: bool = False
    in_pickup: bool = False
    counted: bool = False
    dynamic: Dynamic | None = None
    swell: Swell | None = None
    mark_at: int | None = None  # where a dynamic or swell stands that no note follows yet
    ghosts_at: int | None = None  # where a bracket opened
    fresh: bool = True  # nothing was read yet, or since a repeat sign
    tuplet: OpenTuplet | None = None
    repeat: OpenRepeat | None = None
    tuplets: list[Tuplet] = field(default_factory=list)
    slashed: list[tuple[int, int]] = field(default_factory=list)
    repeats: list[Repeat] = field(default_factory=list)
    assumed: set[Assumed] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.has_values = _A_VALUE.search(self.text) is not None
        self.in_small = not any(char in "RLB" for char in self.text)  # as a beginner types: rlrr lrll

    @property
    def here(self) -> str:
        """The character to read next, empty at the end."""
        return self.text[self.at : self.at + 1]

    def skip_spaces(self) -> None:
        """Go on to what is no space."""
        while self.here == " ":
            self.at += 1

    def took(self, sign: str) -> bool:
        """Go past a sign if it stands here."""
        found = self.text.startswith(sign, self.at)
        self.at += len(sign) if found else 0
        return found

    def fail(self, found: str, must_be: str, at: int | None = None) -> NoReturn:
        """Refuse the text."""
        column = (self.at if at is None else at) + 1
        raise BadExercise(column=column, found=found, must_be=must_be, text=self.text[:MAX_TEXT])

    def meter_at(self, position: int) -> Meter | None:
        """Return the meter that holds for a note."""
        return next((meter for at, meter in reversed(self.meters) if at <= position), self.first_meter)


def read_number(reader: Reader, most: int = MAX_DENOMINATOR, *, wanted: str = "a number") -> int:
    """Read a number of up to three digits; ``wanted`` says where it must stand."""
    start = reader.at
    if reader.here not in DIGITS:
        reader.fail(spoken(reader.here), wanted)
    while reader.here in DIGITS:
        reader.at += 1
    digits = reader.text[start : reader.at]
    if len(digits) > 3:
        reader.fail(f"a number of {len(digits)} digits", f"1 to {most}", start)
    return int(digits)


def read_fraction(reader: Reader) -> tuple[tuple[int, ...], int, bool]:
    """Read ``3/16`` or ``3+2/8``, with or without a colon behind it."""
    start = reader.at
    tops = [read_number(reader)]
    while reader.here == "+":
        reader.at += 1
        tops.append(read_number(reader, wanted=f"a number after {tops[-1]}+, as in 3+2/8"))
    if reader.here != "/":
        reader.fail(spoken(reader.here), f"'/' after {tops[-1]}, as in 1/8:")
    reader.at += 1
    bottom = read_number(reader, wanted=f"a number after {tops[-1]}/, as in 1/8:")
    if 0 in {*tops, bottom}:
        reader.fail(f"{tops[0]}/{bottom}", "numbers above 0, as in 1/8:", start)
    after = reader.at
    reader.skip_spaces()
    colon = reader.here == ":" and not reader.text.startswith(":|", reader.at)
    reader.at = reader.at + 1 if colon else after
    return tuple(tops), bottom, colon


def read_word(reader: Reader) -> str:
    """Read small letters up to what is none; the word must be one that says something."""
    start = reader.at
    while "a" <= reader.here <= "z":
        reader.at += 1
    word = reader.text[start : reader.at]
    if word not in WORDS:
        reader.at = start
        reader.fail(f"'{word[:20]}'", f"{ANYTHING}, or a word: {SAID}")
    return word


def spoken(char: str) -> str:
    """Name a character so that it can be told from its look-alikes."""
    if not char:
        return "the end"
    if char in _SPOKEN:
        return _SPOKEN[char]
    if " " < char <= "~":
        return f"'{char}'"
    name = unicodedata.name(char, f"U+{ord(char):04X}").lower()
    return f"'{char}' ({name})" if char.isprintable() else name


def right_instead(char: str) -> str:
    """Say what was probably meant."""
    plain = _PLAIN.get(char) or unicodedata.normalize("NFKC", char)
    if char in "\r\n":
        return "one line"
    if char.isspace():
        return "a plain space"
    if plain != char and plain in _PLAINS:
        return f"a plain {plain}"
    return ANYTHING
