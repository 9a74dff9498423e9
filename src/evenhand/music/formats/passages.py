"""Music read from another program, on its way to exercises: hands are settled, lengths checked.

Conventions: values are ``Fraction`` of a whole note; ``bars`` are the times, from a passage's start, at which
bars begin. What cannot be taken over as written is either refused or said in a warning.

Letters for hands, as people and programs write them beside notes: R, l, (L), RH, lR, RLRR LRLL.

How loud written notes are, for programs that play them: MIDI velocities from levels.

MIDI does not say what level a velocity is. Synthesizers were measured to follow a square law roughly, with
ranges that differ (Dannenberg 2006, "The interpretation of MIDI velocity", ICMC, 193-196); a range of 40 dB
is taken here. An accent stands 9 dB over a plain note and a grace 15 dB under it, as the simulated
player has them; no standard says so.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from evenhand.errors import UnreadableScore
from evenhand.music.book import Entry
from evenhand.music.exercise import MAX_NOTES, Exercise, Hand, Meter, Note, Tempo, other_hand
from evenhand.music.loudness import dynamics_db
from evenhand.music.text import LONGEST_VALUE, MAX_DENOMINATOR, MAX_GRACES

HandsWhereNone = Literal["refuse", "alternate", "right"]

LONGEST_TITLE = 80

MOST_WARNINGS, MOST_PLACES = 50, 3
MOST_NOTES = 40_000  # of a file: a long evening's music, and some seconds of reading


@dataclass(slots=True)
class ReadNote:
    """One note or rest as it was read. ``place`` says where, for messages: ``measure 3``."""

    value: Fraction
    struck: bool
    place: str
    hand: Hand | None = None
    accent: bool = False
    buzz: bool = False
    graces: list[Hand | None] = field(default_factory=list)


@dataclass(slots=True)
class Passage:
    """What becomes one exercise."""

    notes: list[ReadNote]
    meter: Meter | None = None
    bars: tuple[Fraction, ...] = ()
    title: str = ""


@dataclass(frozen=True, slots=True)
class ReadScore:
    """What was taken over from a file, and what there is to say about it."""

    entries: tuple[Entry, ...]
    tempo: Tempo | None = None
    warnings: tuple[str, ...] = ()


@dataclass(slots=True)
class Reading:
    """What a reader knows of its file while it reads: its name, and what it had to say so far.

    ``place`` is where it reads, such as ``measure 3``; what is said meanwhile is said of there.
    """

    name: str
    place: str = ""
    said: dict[str, list[str]] = field(default_factory=dict)  # each with its places

    def warn(self, text: str) -> None:
        """Say something once, with all its places; of very much, that there is more."""
        if text not in self.said and len(self.said) >= MOST_WARNINGS:
            self.said.setdefault("and more of this kind", [])
            return
        places = self.said.setdefault(text, [])
        if self.place and self.place not in places:
            places.append(self.place)

    @property
    def warnings(self) -> tuple[str, ...]:
        """All that was said, each once, with its first places."""
        return tuple(f"{text}{_where(places)}" for text, places in self.said.items())

    def check_number(self, notes: int) -> None:
        """Refuse a file with more notes than anybody practises from one."""
        if notes > MOST_NOTES:
            raise self.refuse(f"more than {MOST_NOTES:,} notes or bars", "Export the passages that you need.")

    def refuse(self, got: str, do: str) -> UnreadableScore:
        """Make the error that ends the reading."""
        return UnreadableScore(name=self.name, got=got, do=do)


def _where(places: Sequence[str]) -> str:
    """Say where something is so.

    >>> _where(["measure 3"]), _where([f"measure {n}" for n in range(1, 10)])
    (' (measure 3)', ' (measure 1, measure 2, measure 3 and 6 more)')
    """
    if not places:
        return ""
    more = f" and {len(places) - MOST_PLACES} more" if len(places) > MOST_PLACES else ""
    return f" ({', '.join(places[:MOST_PLACES])}{more})"


def check_length(value: Fraction, place: str, reading: Reading) -> None:
    """Refuse a length that exercise text has no name for."""
    if value.denominator > MAX_DENOMINATOR:
        length = str(value) if value.denominator < 10**6 else f"about {float(value):.6f}"
        raise reading.refuse(
            f"{place} has a length of {length} of a whole note",
            f"Exercises hold no finer than 1/{MAX_DENOMINATOR}; write it simpler.",
        )


def entries_of(
    passages: Iterable[Passage], reading: Reading, *, title: str = "", hands: HandsWhereNone = "refuse"
) -> tuple[Entry, ...]:
    """Turn passages into titled exercises; those without a struck note are left out.

    Raises
    ------
    UnreadableScore
        Where nothing is left, a note has no hand and none was asked to be put in, or a length has no name
        in exercise text.
    """
    struck = [passage for passage in passages if any(note.struck for note in passage.notes)]
    if not struck:
        raise reading.refuse("no struck notes in it", "Write some for a percussion part.")
    _settle_hands([note for passage in struck for note in passage.notes if note.struck], reading, hands)
    exercises = [(passage.title, _exercise(passage, reading)) for passage in struck]
    return _titled(_once(exercises, reading), title)


def _settle_hands(notes: list[ReadNote], reading: Reading, hands: HandsWhereNone) -> None:
    """Give every note a hand, or refuse; graces take the hand that their note does not."""
    without = [note for note in notes if note.hand is None]
    have = "has" if len(without) == 1 else "have"
    if without and hands == "refuse":
        raise reading.refuse(
            f"{len(without)} of {len(notes)} notes {have} no hand, the first in {without[0].place}",
            "Write R or L under each, or say --hands alternate or --hands right.",
        )
    if without:
        put = "each the other hand than the note before" if hands == "alternate" else "the right hand"
        reading.warn(f"{len(without)} of {len(notes)} notes had no hand: {put} was put in")
    before: Hand = "L"
    for note in notes:
        if note.hand is None:
            note.hand = other_hand(before) if hands == "alternate" else "R"
        before = note.hand
        note.graces = [grace or other_hand(note.hand) for grace in note.graces]


def _exercise(passage: Passage, reading: Reading) -> Exercise:
    """Make a passage an exercise: lengths that text can hold, its meter where its bars agree with it."""
    _fill_pickup(passage, reading)
    notes: list[Note] = []
    for read in passage.notes:
        if len(notes) > MAX_NOTES:
            break
        notes += _notes(read, reading)
    if len(notes) > MAX_NOTES:
        reading.warn(f"only the first {MAX_NOTES:,} notes and rests of a passage were taken over")
        notes = notes[:MAX_NOTES]
    meter, bars = passage.meter, passage.bars
    if meter and any((at / meter.bar).denominator != 1 for at in passage.bars):
        reading.warn(f"bars that {meter} does not fit ({_called(passage)}): taken over without a meter")
        meter, bars = None, ()
    plain = Exercise(tuple(notes), meter)
    return Exercise(plain.notes, meter, _bar_lines(plain, bars))


def _fill_pickup(passage: Passage, reading: Reading) -> None:
    """Fill the bar of a pickup with rests, where that makes all bars the meter's."""
    if passage.meter is None or len(passage.bars) < 2:
        return
    bar, pickup = passage.meter.bar, passage.bars[1]
    length = sum((note.value for note in passage.notes), Fraction(0))
    later = (*passage.bars[2:], length)
    if pickup < bar and all(((at - pickup) / bar).denominator == 1 for at in later):
        reading.warn(f"the bar of a pickup was filled with rests ({_called(passage)})")
        passage.notes.insert(0, ReadNote(bar - pickup, False, passage.notes[0].place))  # noqa: FBT003 - a rest
        passage.bars = (Fraction(0), *(at + bar - pickup for at in passage.bars[1:]))


def _called(passage: Passage) -> str:
    return passage.title or passage.notes[0].place


def _notes(read: ReadNote, reading: Reading) -> list[Note]:
    """Make one note; what goes on longer than text can say becomes rests."""
    check_length(read.value, read.place, reading)
    if len(read.graces) > MAX_GRACES:
        reading.warn(f"{read.place}: of {len(read.graces)} graces only the last {MAX_GRACES} were taken over")
    graces = tuple(grace for grace in read.graces[-MAX_GRACES:] if grace)
    parts = _parts(read.value)
    rests = [Note(None, part) for part in parts[1:]]
    if not read.struck:
        return [Note(None, parts[0]), *rests]
    if rests:
        reading.warn(f"{read.place}: a note longer than {LONGEST_VALUE} whole notes goes on as rests")
    return [Note(read.hand, parts[0], read.accent, graces, read.buzz), *rests]


def _parts(value: Fraction) -> list[Fraction]:
    """Cut a length into those that text can hold."""
    whole, left = divmod(value, LONGEST_VALUE)
    return [LONGEST_VALUE] * min(int(whole), MAX_NOTES) + ([left] if left else [])


def _bar_lines(exercise: Exercise, bars: Sequence[Fraction]) -> tuple[int, ...]:
    """Return the bar lines that text can hold: as far as each bar is as long as it must be."""
    position = {start: at for at, start in enumerate(exercise.starts)}
    full = exercise.meter.bar if exercise.meter else None
    lines: list[int] = []
    for before, at in pairwise(sorted({Fraction(0), *bars})):
        full = full or at - before
        if at - before != full or at not in position:
            break
        lines.append(position[at])
    return tuple(lines)


def _once(exercises: list[tuple[str, Exercise]], reading: Reading) -> list[tuple[str, Exercise]]:
    """Leave out an exercise that only says again what the one before it said."""
    kept: list[tuple[str, Exercise]] = []
    times = most = 1
    for title, exercise in exercises:
        again = bool(kept) and kept[-1][1] == exercise and title in {"", kept[-1][0]}
        times = times + 1 if again else 1
        if again:
            most = max(most, times)
        else:
            kept.append((title, exercise))
    if most > 1:
        reading.warn(f"what is written up to {most} times in a row was taken over once")
    return kept


def _titled(exercises: list[tuple[str, Exercise]], title: str) -> tuple[Entry, ...]:
    """Give each its own title, or the piece's with its number."""
    title = _plain(title)
    if len(exercises) == 1:
        own, exercise = exercises[0]
        return (Entry(exercise, title or _plain(own)),)
    return tuple(
        Entry(exercise, _plain(own) or (f"{title}, {number}" if title else ""))
        for number, (own, exercise) in enumerate(exercises, start=1)
    )


def _plain(title: str) -> str:
    """Put a title on one line, without what a book cannot hold."""
    printable = "".join(char if char.isprintable() else " " for char in title)
    return " ".join(printable.split())[:LONGEST_TITLE]


_LETTERS = re.compile(r"([rl]{0,8})([RL]{1,64})")
_LONG = {"RH": "R", "LH": "L", "R.H.": "R", "L.H.": "L", "RIGHT": "R", "LEFT": "L"}
_IN_A_LINE = re.compile(r"([rl]{0,8})([RL])")


@dataclass(frozen=True, slots=True)
class Letters:
    """What is said of one note: the hands of its strokes (mostly one), and of its graces."""

    hands: tuple[Hand, ...]
    graces: tuple[Hand, ...] = ()


def read_letters(text: str) -> Letters | None:
    """Read the letters at one note: R, l, (L), R., RH, lR, RR.

    >>> read_letters("lR"), read_letters("la")
    (Letters(hands=('R',), graces=('L',)), None)
    """
    plain = text.strip().strip("()[] ")
    plain = _LONG.get(plain.upper(), plain).rstrip(".")
    if plain in {"r", "l"}:
        plain = plain.upper()
    found = _LETTERS.fullmatch(plain)
    return Letters(_hands(found[2]), _hands(found[1])) if found else None


def letters_in_words(words: str) -> tuple[Letters, ...]:
    """Read a line of letters, one a note: ``R L R R``, ``RLRR LRLL``, ``r l r l``, ``lR rL``.

    >>> [letters.hands[0] for letters in letters_in_words("RLRR L")]
    ['R', 'L', 'R', 'R', 'L']
    >>> letters_in_words("Roll")
    ()
    """
    plain = "".join(words.split())
    if plain == plain.lower():
        plain = plain.upper()
    if not plain or _IN_A_LINE.sub("", plain):
        one = read_letters(words)
        return (one,) if one else ()
    return tuple(Letters(_hands(hand), _hands(graces)) for graces, hand in _IN_A_LINE.findall(plain))


def _hands(letters: str) -> tuple[Hand, ...]:
    return tuple("R" if letter in "rR" else "L" for letter in letters)


RANGE_DB = 40.0
MOST = 127
FORTE = 90  # MusicXML counts loudness in per cent of this velocity

Blow = Literal["accent", "note", "grace"]

_LEVELS_DB: dict[Blow, float] = {"accent": -0.5, "note": -9.5, "grace": -24.5}


def amplitude_of(velocity: float, range_db: float = RANGE_DB) -> float:
    """Return the amplitude of a velocity from 1 to 127, full scale 1, by the square law.

    >>> round(amplitude_of(64), 4)
    0.3025
    """
    slope, offset = _line(range_db)
    return (slope * velocity + offset) ** 2


def velocity_for(level_db: float, range_db: float = RANGE_DB) -> int:
    """Return the velocity nearest to a level, dB re the loudest; 1 to 127.

    >>> velocity_for(0), velocity_for(-40), velocity_for(-10.3855)
    (127, 1, 64)
    """
    slope, offset = _line(range_db)
    velocity = (math.sqrt(10 ** (level_db / 20)) - offset) / slope
    return min(max(round(velocity), 1), MOST)


def velocity_of(blow: Blow, quieter_db: float = 0.0) -> int:
    """Return the velocity that a kind of blow is written with, so much under its usual level."""
    return velocity_for(_LEVELS_DB[blow] + quieter_db)


SECOND_ACCENT_DB = -3.0  # of an accent, where there are strong ones
GHOST_DB = -9.0  # of a ghost note under a plain one


def velocities_of(exercise: Exercise) -> tuple[int, ...]:
    """Return each position's velocity: its accent, ghost and dynamic; a rest's is a plain note's."""
    second = SECOND_ACCENT_DB if any(note.strong for note in exercise.notes) else 0.0
    out = []
    for note, dynamic in zip(exercise.notes, dynamics_db(exercise), strict=True):
        own = GHOST_DB * note.ghost + second * (note.accent and not note.strong)
        out.append(velocity_of("accent" if note.accent else "note", own + dynamic))
    return tuple(out)


def dynamics_of(velocity: float) -> str:
    """Return MusicXML's loudness of a velocity: per cent of 90.

    >>> dynamics_of(90), dynamics_of(64), dynamics_of(127)
    ('100', '71.11', '141.11')
    """
    return f"{100 * velocity / FORTE:.2f}".rstrip("0").rstrip(".")


def _line(range_db: float) -> tuple[float, float]:
    """Return slope and offset of the root of the amplitude: 1 at 127, down by the range at 1."""
    lowest = 10 ** (range_db / 20)
    offset = MOST / ((MOST - 1) * math.sqrt(lowest)) - 1 / (MOST - 1)
    return (1 - offset) / MOST, offset
