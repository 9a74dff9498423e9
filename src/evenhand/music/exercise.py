"""An exercise: what is written.

Conventions: note values and meters are ``Fraction`` of a whole note. A position
counts notes and rests from 0; a grace note carries its main note's position.

Tempo: beats a minute, with the note value that gets the beat.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from typing import Literal, get_args

from evenhand.errors import BadTempo, WrongOptions

Hand = Literal["R", "L"]
HANDS: tuple[Hand, ...] = ("R", "L")
HAND_NAMES: Mapping[Hand, str] = {"R": "right", "L": "left"}

MAX_NOTES = 4096
MOST_METER_BEATS = 64
METER_UNITS = (1, 2, 4, 8, 16, 32, 64)
GRACE_GAP_S = 0.030  # from a grace to what follows: 20 to 35 ms, players say; no figure was found


def other_hand(hand: Hand) -> Hand:
    """Return the hand that is not this one."""
    return "L" if hand == "R" else "R"


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature, such as 4/4; ``groups`` say how its beats are counted together: 3+2+2/8."""

    beats: int
    unit: int
    groups: tuple[int, ...] = ()

    @property
    def bar(self) -> Fraction:
        """Length of one bar, as a fraction of a whole note."""
        return Fraction(self.beats, self.unit)

    @property
    def compound(self) -> bool:
        """Tell whether its eighths, or shorter, are felt in threes."""
        return self.unit >= 8 and self.beats % 3 == 0

    def __str__(self) -> str:
        return f"{'+'.join(str(group) for group in self.groups) or self.beats}/{self.unit}"


def meter_of(beats: int, unit: int, groups: tuple[int, ...] = ()) -> Meter | None:
    """Return a meter that an exercise can have, or None."""
    fits = 1 <= beats <= MOST_METER_BEATS and unit in METER_UNITS
    return Meter(beats, unit, groups) if fits else None


Sound = Literal["drum", "rim", "cross", "foot"]
Dynamic = Literal["ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"]
DYNAMICS: tuple[Dynamic, ...] = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
Swell = Literal["cresc", "dim"]
SWELLS: tuple[Swell, ...] = ("cresc", "dim")


@dataclass(frozen=True, slots=True)
class Note:
    """One written blow, or a rest where ``hand`` is None.

    ``strong`` marks an accent of the second level. ``both`` hands strike at once, the right one written.
    A foot's ``hand`` is its side. Where ``held`` nothing is struck and the note before goes on; ``tied``
    goes on into the next blow without a gap. ``dynamic`` holds until the next one; ``swell`` begins here
    and ends there.
    """

    hand: Hand | None
    value: Fraction
    accent: bool = False
    graces: tuple[Hand, ...] = ()
    buzz: bool = False
    strong: bool = False
    ghost: bool = False
    both: bool = False
    sound: Sound = "drum"
    held: bool = False
    tied: bool = False
    dynamic: Dynamic | None = None
    swell: Swell | None = None

    @property
    def is_rest(self) -> bool:
        """Tell whether nothing is struck here."""
        return self.hand is None

    @property
    def one_hand(self) -> Hand | None:
        """The hand that strikes it alone; None for a rest, for both hands, and for a foot."""
        return None if self.both or self.sound == "foot" else self.hand

    @property
    def letter(self) -> str:
        """Who strikes it: R, L, B for both hands, K for a foot (LK the left one); "-" for a rest."""
        if self.sound == "foot":
            return "K" if self.hand == "R" else "LK"
        return "B" if self.both else self.hand or "-"


@dataclass(frozen=True, slots=True)
class Tuplet:
    """Positions ``start`` to ``stop`` (excluded): ``num`` notes in the time of ``base``."""

    start: int
    stop: int
    num: int
    base: int


@dataclass(frozen=True, slots=True)
class Repeat:
    """Notes that are written once and played ``times`` over from position ``at``.

    ``body`` counts its notes; ``endings`` those of each time's own ending, or is empty.
    """

    at: int
    body: int
    times: int
    endings: tuple[int, ...] = ()

    @property
    def passes(self) -> tuple[tuple[int, int, int], ...]:
        """Each time through: where it begins, where its body ends, where its ending ends."""
        out, at = [], self.at
        for own in self.endings or (0,) * self.times:
            out.append((at, at + self.body, at + self.body + own))
            at += self.body + own
        return tuple(out)

    @property
    def stop(self) -> int:
        """The position after the last time."""
        return self.passes[-1][2]


@dataclass(frozen=True, slots=True)
class Spelling:
    """How notes are written down where their times do not say it; positions are those of the notes played.

    ``meters`` hold from a position on, after the first. ``slashed`` are the strokes (start, stop) that
    are written as one note with slashes. ``counted`` asks for counting syllables below the line.
    """

    meters: tuple[tuple[int, Meter], ...] = ()
    pickup: bool = False
    counted: bool = False
    slashed: tuple[tuple[int, int], ...] = ()
    tuplets: tuple[Tuplet, ...] = ()
    repeats: tuple[Repeat, ...] = ()


PLAIN = Spelling()

Mark = Literal[
    "strong accents",
    "ghost notes",
    "both hands at once",
    "rim, cross-stick or foot",
    "held notes",
    "ties",
    "dynamics",
    "meter changes",
    "additive meters",
    "a pickup",
    "counting",
    "slashed rolls",
    "written tuplets",
    "repeats",
]


@dataclass(frozen=True)
class Exercise:
    """A written sticking exercise that is repeated, its notes in the order in which they are played.

    ``bar_lines`` holds the positions before which a bar line was written
    (``len(notes)`` for one written at the end).
    """

    notes: tuple[Note, ...]
    meter: Meter | None = None
    bar_lines: tuple[int, ...] = ()
    spelling: Spelling = PLAIN

    @cached_property
    def starts(self) -> tuple[Fraction, ...]:
        """Where each note begins, as a fraction of a whole note from the top."""
        at = Fraction(0)
        out = []
        for note in self.notes:
            out.append(at)
            at += note.value
        return tuple(out)

    @cached_property
    def length(self) -> Fraction:
        """Length of one repetition, as a fraction of a whole note."""
        return sum((note.value for note in self.notes), Fraction(0))

    @cached_property
    def struck(self) -> tuple[int, ...]:
        """Positions that are notes and not rests."""
        return tuple(i for i, note in enumerate(self.notes) if not note.is_rest)

    @cached_property
    def usual_step(self) -> float:
        """The median step between neighbouring notes around the repeat, in whole notes; 0 without a note."""
        starts = [self.starts[position] for position in self.struck]
        steps = sorted(b - a for a, b in pairwise([*starts, *(start + self.length for start in starts[:1])]))
        return float(steps[(len(steps) - 1) // 2] + steps[len(steps) // 2]) / 2 if steps else 0.0

    def written(self, repetition: int, position: int) -> Fraction:
        """Return when a note is written, in whole notes from the top of repetition 1."""
        return (repetition - 1) * self.length + self.starts[position]

    @cached_property
    def sections(self) -> tuple[tuple[int, int, Meter | None], ...]:
        """Stretches (start, stop) whose bars are counted from their first note, with their meter."""
        spelling = self.spelling
        meters = {0: self.meter, **dict(spelling.meters)}
        edges = {0, len(self.notes), *meters}
        edges |= {at for repeat in spelling.repeats for each in repeat.passes for at in each}
        if spelling.pickup:
            edges.add(min(at for at in (*self.bar_lines, *edges) if at > 0))
        inside = sorted(at for at in edges if at <= len(self.notes))
        out: list[tuple[int, int, Meter | None]] = []
        holds = self.meter
        for start, stop in pairwise(inside):
            holds = meters.get(start, holds)
            out.append((start, stop, holds))
        return tuple(out)

    @cached_property
    def tuplet_at(self) -> Mapping[int, Tuplet]:
        """The tuplets that were written as such, by position."""
        return {at: each for each in self.spelling.tuplets for at in range(each.start, each.stop)}

    @cached_property
    def marks(self) -> frozenset[Mark]:
        """What is written beyond hands, values, accents, graces, buzzes, one meter and bar lines."""
        spelling, notes = self.spelling, self.notes
        meters = (self.meter, *(meter for _, meter in spelling.meters))
        found: dict[Mark, bool] = {
            "strong accents": any(note.strong for note in notes),
            "ghost notes": any(note.ghost for note in notes),
            "both hands at once": any(note.both for note in notes),
            "rim, cross-stick or foot": any(note.sound != "drum" for note in notes),
            "held notes": any(note.held for note in notes),
            "ties": any(note.tied for note in notes),
            "dynamics": any(note.dynamic or note.swell for note in notes),
            "meter changes": bool(spelling.meters),
            "additive meters": any(meter is not None and meter.groups for meter in meters),
            "a pickup": spelling.pickup,
            "counting": spelling.counted,
            "slashed rolls": bool(spelling.slashed),
            "written tuplets": bool(spelling.tuplets),
            "repeats": bool(spelling.repeats),
        }
        return frozenset(mark for mark, there in found.items() if there)

    @property
    def keeps_meter(self) -> bool:
        """Tell whether every bar is one of the first meter, from the first note on."""
        return not (self.spelling.meters or self.spelling.pickup)

    @property
    def has_accents(self) -> bool:
        """Tell whether any note is accented."""
        return any(note.accent for note in self.notes)

    @property
    def has_graces(self) -> bool:
        """Tell whether any note is a flam or a drag."""
        return any(note.graces for note in self.notes)


ALL_MARKS: frozenset[Mark] = frozenset(get_args(Mark))
WRITTEN_OUT: frozenset[Mark] = frozenset({"counting", "slashed rolls", "written tuplets", "repeats"})


def check_marks(exercise: Exercise, unable: frozenset[Mark], what: str) -> None:
    """Refuse an exercise with marks that would have to be left out.

    Raises
    ------
    WrongOptions
        With the marks and what cannot carry them.
    """
    found = sorted(exercise.marks & unable)
    if found:
        raise WrongOptions(got=f"an exercise with {', '.join(found)}", must_be=f"one without, for {what}")


def note_value(exercise: Exercise) -> Fraction:
    """Return the value of most of an exercise's notes; the shorter of two that are as many.

    >>> note_value(
    ...     Exercise((Note("R", Fraction(1, 8)), Note("L", Fraction(1, 8)), Note("R", Fraction(1, 4))))
    ... )
    Fraction(1, 8)
    """
    counts = Counter(note.value for note in exercise.notes if not note.is_rest)
    return max(counts, key=lambda value: (counts[value], -value))


_FORM = re.compile(r"\s*(\d{1,4})\s*/\s*(\d{1,4})\s*=\s*(\d{1,4}(?:\.\d{1,6})?)\s*", re.ASCII)
SLOWEST_BPM, FASTEST_BPM = 5.0, 1000.0


@dataclass(frozen=True, slots=True)
class Tempo:
    """So many beats a minute of a note value: ``1/8 = 70``."""

    beat: Fraction
    bpm: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.bpm) and SLOWEST_BPM <= self.bpm <= FASTEST_BPM):
            raise BadTempo(got=f"{self.bpm:g}", must_be=f"{SLOWEST_BPM:g} to {FASTEST_BPM:g} beats a minute")
        if self.beat <= 0:
            raise BadTempo(got=str(self.beat), must_be="a note value above 0, such as 1/8")

    @property
    def whole_note_s(self) -> float:
        """Seconds that a whole note lasts."""
        return whole_note_s(self.bpm, self.beat)

    @property
    def beat_s(self) -> float:
        """Seconds from beat to beat."""
        return 60.0 / self.bpm

    @classmethod
    def parse(cls, text: str) -> Tempo:
        """Read ``1/8=70``.

        >>> Tempo.parse("1/8 = 70").beat
        Fraction(1, 8)
        """
        found = _FORM.fullmatch(text)
        if found is None or int(found[2]) == 0 or int(found[1]) == 0:
            raise BadTempo(got=repr(text), must_be="a note value and beats a minute, such as 1/8=70")
        return cls(Fraction(int(found[1]), int(found[2])), float(found[3]))

    def __str__(self) -> str:
        return f"{self.beat.numerator}/{self.beat.denominator} = {self.bpm:g}"


def whole_note_s(bpm: float, beat: Fraction) -> float:
    """Return the seconds that a whole note lasts: from written time to heard.

    >>> whole_note_s(60, Fraction(1, 4))
    4.0
    """
    return 60.0 / bpm / float(beat)


def bpm_of(whole_s: float, beat: float | Fraction) -> float:
    """Return the beats a minute at which a whole note lasts so many seconds: from heard time to written.

    >>> bpm_of(4.0, Fraction(1, 4))
    60.0
    """
    return 60.0 / (whole_s * float(beat))


def click_step_bpm(bpm: float) -> float:
    """Return the step between neighbouring tempos worth setting a click to: about 2 %.

    >>> click_step_bpm(70), click_step_bpm(120)
    (1.0, 2.0)
    """
    return 1.0 if bpm < 80 else 2.0 if bpm < 160 else 4.0


def on_the_click(bpm: float) -> float:
    """Round a tempo to one that a click is set to.

    >>> on_the_click(121.3)
    122.0
    """
    step = click_step_bpm(bpm)
    return max(SLOWEST_BPM, step * round(bpm / step))
