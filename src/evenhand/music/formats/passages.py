"""Music read from another program, on its way to exercises: hands are settled, lengths checked.

Conventions: values are ``Fraction`` of a whole note; ``bars`` are the times, from a passage's start, at which
bars begin. What cannot be taken over as written is either refused or said in a warning.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from evenhand.errors import BadExercise, UnreadableScore
from evenhand.music.book import Entry
from evenhand.music.exercise import (
    MAX_NOTES,
    Dynamic,
    Exercise,
    Hand,
    Meter,
    Note,
    Sound,
    Spelling,
    Swell,
    Tempo,
    other_hand,
)
from evenhand.music.formats.hands import RULES, HandsWhereNone, put_in
from evenhand.music.text import LONGEST_VALUE, MAX_DENOMINATOR, MAX_GRACES, parse_exercise, print_exercise

LONGEST_TITLE = 80

MOST_WARNINGS, MOST_PLACES = 50, 3
MOST_NOTES = 40_000  # of a file: a long evening's music, and some seconds of reading


@dataclass(slots=True)
class Signs:
    """What stands at a note beside its hand, its value and its graces; named as a ``Note`` has it."""

    accent: bool = False
    strong: bool = False
    ghost: bool = False
    buzz: bool = False
    both: bool = False
    tied: bool = False
    sound: Sound = "drum"
    dynamic: Dynamic | None = None
    swell: Swell | None = None


@dataclass(slots=True)
class ReadNote:
    """One note or rest as it was read. ``place`` says where, for messages: ``measure 3``."""

    value: Fraction
    struck: bool
    place: str
    hand: Hand | None = None
    signs: Signs = field(default_factory=Signs)
    graces: list[Hand | None] = field(default_factory=list)


@dataclass(slots=True)
class Passage:
    """What becomes one exercise. ``meters`` are those after the first, with where they begin."""

    notes: list[ReadNote]
    meter: Meter | None = None
    bars: tuple[Fraction, ...] = ()
    title: str = ""
    meters: tuple[tuple[Fraction, Meter], ...] = ()
    proposed: int = 0  # notes whose hand a rule put in

    @property
    def pickup(self) -> Fraction:
        """How long the bar of a pickup is, 0 where there is none."""
        if self.meter is None or len(self.bars) < 2 or self.bars[1] >= self.meter.bar:
            return Fraction(0)
        return self.bars[1]


@dataclass(frozen=True, slots=True)
class ReadScore:
    """What was taken over from a file, and what there is to say about it."""

    entries: tuple[Entry, ...]
    tempo: Tempo | None = None
    warnings: tuple[str, ...] = ()
    proposed: tuple[int, ...] = ()  # of each exercise, how many notes have a hand that a rule put in


@dataclass(slots=True)
class Reading:
    """What a reader knows of its file while it reads: its name, and what it had to say so far.

    ``place`` is where it reads, such as ``measure 3``; what is said meanwhile is said of there.
    """

    name: str
    place: str = ""
    outside: bool = False  # where it reads is not wanted, and nothing is said of it
    said: dict[str, list[str]] = field(default_factory=dict)  # each with its places

    def warn(self, text: str, *at: str) -> None:
        """Say something once, with its places (``at``, else where it reads); of much, that there is more."""
        if self.outside:
            return
        if text not in self.said and len(self.said) >= MOST_WARNINGS:
            self.said.setdefault("and more of this kind", [])
            return
        places = self.said.setdefault(text, [])
        for place in at or (self.place,):
            if place and place not in places:
                places.append(place)

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


def score_of(
    passages: Iterable[Passage],
    reading: Reading,
    *,
    title: str = "",
    hands: HandsWhereNone = "refuse",
    tempo: Tempo | None = None,
) -> ReadScore:
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
    _settle_hands(struck, reading, hands)
    found = [(passage, _exercise(passage, reading)) for passage in struck]
    kept = _once(found, reading)
    entries = _titled([(passage.title, exercise) for passage, exercise in kept], title)
    marked = tuple(
        replace(entry, title=f"{entry.title} {PROPOSED}".strip()) if passage.proposed else entry
        for entry, (passage, _) in zip(entries, kept, strict=True)
    )
    return ReadScore(marked, tempo, reading.warnings, tuple(passage.proposed for passage, _ in kept))


PROPOSED = "(hands proposed)"


def _settle_hands(passages: Sequence[Passage], reading: Reading, rule: HandsWhereNone) -> None:
    """Give every note a hand, or refuse; graces take the hand that their note does not."""
    notes = [note for passage in passages for note in passage.notes if note.struck]
    without = [note for note in notes if note.hand is None]
    have = "has" if len(without) == 1 else "have"
    if without and rule == "refuse":
        raise reading.refuse(
            f"{len(without)} of {len(notes)} notes {have} no hand, the first in {without[0].place}",
            "Write R or L under each, or say --hands alternate, doubles, lead or right.",
        )
    if without:
        reading.warn(f"{len(without)} of {len(notes)} notes had no hand: {RULES[rule]} was put in")
    for passage in passages:
        _put_in(passage, rule)
    for note in notes:
        note.graces = [grace or other_hand(note.hand or "R") for grace in note.graces]


def _put_in(passage: Passage, rule: HandsWhereNone) -> None:
    """Put in the hands of a passage where there are none."""
    at = -passage.pickup
    struck, starts = [], []
    for note in passage.notes:
        if note.struck:
            struck.append(note)
            starts.append(at)
        at += note.value
    passage.proposed = sum(note.hand is None for note in struck)
    for note, hand in zip(struck, put_in([note.hand for note in struck], starts, rule), strict=True):
        note.hand = hand


def _exercise(passage: Passage, reading: Reading) -> Exercise:
    """Make a passage an exercise: lengths that text can hold, its meters where its bars agree with them."""
    notes: list[Note] = []
    for read in passage.notes:
        if len(notes) > MAX_NOTES:
            break
        notes += _notes(read, reading)
    if len(notes) > MAX_NOTES:
        reading.warn(f"only the first {MAX_NOTES:,} notes and rests of a passage were taken over")
        notes = notes[:MAX_NOTES]
    exercise = _in_bars(Exercise(tuple(notes), passage.meter), passage)
    if exercise is None:
        meters = ", ".join(str(each) for each in (passage.meter, *dict(passage.meters).values()) if each)
        reading.warn(f"bars that {meters} does not fit ({_called(passage)}): taken over without a meter")
        exercise = Exercise(tuple(notes))
    return exercise


def _in_bars(plain: Exercise, passage: Passage) -> Exercise | None:
    """Draw the bar lines and meters of a passage; None where its bars are not its meters'."""
    position = {start: at for at, start in enumerate(plain.starts)}
    meters = tuple((at, meter) for at, meter in passage.meters if at < plain.length)
    pickup = bool(passage.pickup)
    if not (meters or pickup):
        fits = plain.meter is None or all((at / plain.meter.bar).denominator == 1 for at in passage.bars)
        return replace(plain, bar_lines=_bar_lines(plain, passage)) if fits else None
    if any(at not in position for at, _ in meters):
        return None
    spelling = Spelling(tuple((position[at], meter) for at, meter in meters), pickup)
    exercise = replace(plain, bar_lines=_bar_lines(plain, passage), spelling=spelling)
    with suppress(BadExercise, ValueError):
        if parse_exercise(print_exercise(exercise)).notes == exercise.notes:
            return exercise
    return None


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
    hand = "R" if read.signs.both else read.hand
    return [Note(hand, parts[0], graces=graces, **asdict(read.signs)), *rests]


def _parts(value: Fraction) -> list[Fraction]:
    """Cut a length into those that text can hold."""
    whole, left = divmod(value, LONGEST_VALUE)
    return [LONGEST_VALUE] * min(int(whole), MAX_NOTES) + ([left] if left else [])


def _bar_lines(exercise: Exercise, passage: Passage) -> tuple[int, ...]:
    """Return the bar lines that text can hold: as far as each bar is as long as it must be."""
    position = {start: at for at, start in enumerate(exercise.starts)}
    full = exercise.meter.bar if exercise.meter else None
    changes = {at: meter.bar for at, meter in passage.meters}
    lines: list[int] = []
    for before, at in pairwise(sorted({Fraction(0), *passage.bars})):
        full = changes.get(before, full or at - before)
        due = (before == 0 and passage.pickup) or full
        if at - before != due or at not in position:
            break
        lines.append(position[at])
    return tuple(lines)


def _once(exercises: list[tuple[Passage, Exercise]], reading: Reading) -> list[tuple[Passage, Exercise]]:
    """Leave out an exercise that only says again what the one before it said."""
    kept: list[tuple[Passage, Exercise]] = []
    times = most = 1
    for passage, exercise in exercises:
        again = bool(kept) and kept[-1][1] == exercise and passage.title in {"", kept[-1][0].title}
        times = times + 1 if again else 1
        if again:
            most = max(most, times)
        else:
            kept.append((passage, exercise))
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
