"""Which notes of a MIDI file are the strokes, by which hand, and which of them are graces.

Hands come from the notes that were named for them, else from words beside the notes (R, L). Graces are those
whose word is a small letter, or soft notes so close ahead of another that they can be nothing else.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from evenhand.music.exercise import Hand, Sound
from evenhand.music.formats.hands import Letters, read_letters
from evenhand.music.formats.midi.events import Clock, Events, Played
from evenhand.music.formats.passages import Reading, ReadNote, Signs
from evenhand.music.formats.velocities import amplitude_of

SNARES = (37, 38, 40)  # General MIDI: side stick, acoustic and electric snare
DRUMS = 9  # the tenth channel, counted from 0
WORD_GRACE_S = 0.1  # a small letter is a grace where another note follows within this
GRACE_S = 0.045  # without words: this close, softer, and well apart from the note before
FLAM_S = 0.030  # this close no hand strikes twice: a grace, however loud
SOFTER = 0.75  # of the main note's velocity
APART = 1.8  # times the gap to the main note
ACCENT_DB = 4.0  # the least step between taps and accents


@dataclass(slots=True)
class MidiStroke:
    """A main note with its graces, in ticks."""

    on: int
    off: int
    hand: Hand | None
    signs: Signs
    velocity: int
    graces: list[Hand | None] = field(default_factory=list)
    cut: int | None = None  # when the next note's graces begin, which end this one

    def as_read(self, value: Fraction, place: str) -> ReadNote:
        """Return it as a note of a written value."""
        return ReadNote(value, True, place, self.hand, self.signs, list(self.graces))  # noqa: FBT003 - struck


@dataclass(frozen=True, slots=True)
class HandNotes:
    """The MIDI notes that the hands play, where they play different ones."""

    right: int | None = None
    left: int | None = None


@dataclass(frozen=True, slots=True)
class _Said:
    """A note with what a word says of it."""

    played: Played
    letters: Letters | None
    word: bool
    small: bool  # the word is one small letter
    signs: Signs


def strokes_of(events: Events, reading: Reading, hand_notes: HandNotes) -> list[MidiStroke]:
    """Return the strokes in order.

    Raises
    ------
    UnreadableScore
        Where the file has no notes, or none that a drum would play.
    """
    notes, unisons = _one_at_a_time(_chosen(events, reading, hand_notes), reading, hand_notes)
    words = {tick: text for tick, text in reversed(events.words) if _letters(text)}
    said = [_said(note, words, hand_notes) for note in notes]
    for each in said:
        each.signs.both |= each.played.on in unisons
    both = any(each.small for each in said) and any(each.word and not each.small for each in said)
    strokes = _with_graces(said, Clock(events), marked=both or events.own)
    if not any(each.signs.accent or each.signs.ghost for each in said):
        _find_accents(strokes)
    return strokes


def _chosen(events: Events, reading: Reading, hand_notes: HandNotes) -> list[Played]:
    """Choose the snare's notes: those that were named, else General MIDI's, else the only one there is."""
    if not events.notes:
        raise reading.refuse("a MIDI file without any notes", "Export the drum track with its notes.")
    counted = Counter(note.note for note in events.notes)
    listed = ", ".join(f"{note} ({times}×)" for note, times in counted.most_common(6))
    named = {note for note in (hand_notes.right, hand_notes.left) if note is not None}
    if named:
        wanted = [note for note in events.notes if note.note in named]
    else:
        drums = [note for note in events.notes if note.channel == DRUMS] or events.notes
        wanted = [note for note in drums if note.note in SNARES] or (drums if len(counted) == 1 else [])
    if not wanted:
        asked = ", ".join(str(note) for note in sorted(named or SNARES))
        raise reading.refuse(
            f"none of the MIDI notes {asked} in it; it has {listed}",
            "Say which are the hands' with --right-note and --left-note.",
        )
    if len(wanted) < len(events.notes):
        others = len(events.notes) - len(wanted)
        left_out = "1 other note was" if others == 1 else f"{others} other notes were"
        reading.warn(f"{left_out} left out; the file has {listed}")
    return wanted


def _one_at_a_time(
    notes: list[Played], reading: Reading, hand_notes: HandNotes
) -> tuple[list[Played], frozenset[int]]:
    """Keep the loudest of notes that begin together, and when both hands' notes do."""
    kept: list[Played] = []
    unisons: set[int] = set()
    for note in notes:
        if not kept or note.on != kept[-1].on:
            kept.append(note)
            continue
        if {note.note, kept[-1].note} == {hand_notes.right, hand_notes.left}:
            unisons.add(note.on)
        else:
            reading.warn("of notes struck together only one was taken over")
        if note.velocity > kept[-1].velocity:
            kept[-1] = note
    return kept, frozenset(unisons)


def _said(note: Played, words: dict[int, str], hand_notes: HandNotes) -> _Said:
    """Read the word at a note, a tick to either side; a note that was named for a hand is that hand's."""
    text = next((words[tick] for tick in (note.on, note.on - 1, note.on + 1) if tick in words), "")
    letters = _letters(text)
    word = letters is not None
    signs = _signs(text, letters) if letters else Signs()
    small = word and text in {"r", "l"}
    if note.note == hand_notes.right and hand_notes.right != hand_notes.left:
        letters = Letters(("R",))
    elif note.note == hand_notes.left and hand_notes.right != hand_notes.left:
        letters = Letters(("L",))
    return _Said(note, letters, word, small, signs)


_WORD = re.compile(r"(?P<accent>[>^]?)(?P<ghost>\(?)(?P<hand>[^()~>^]*?)(?P<sound>[xok]?)\)?(?P<buzz>~?)")
_SOUNDS: Mapping[str, Sound] = {"x": "cross", "o": "rim", "k": "foot"}


def _letters(text: str) -> Letters | None:
    """Read the hand that a word says, with signs around it as exercise text has them: ``>R~``, ``(L)``."""
    found = _WORD.fullmatch(text) if len(text) < 16 else None
    return read_letters(found["hand"]) if found else None


def _signs(text: str, letters: Letters) -> Signs:
    """Read the signs of a word that names a hand."""
    found = _WORD.fullmatch(text)
    if found is None:
        return Signs()
    return Signs(
        accent=bool(found["accent"]),
        strong=found["accent"] == "^",
        ghost=bool(found["ghost"]),
        buzz=bool(found["buzz"]),
        both=letters.both,
        sound=_SOUNDS.get(found["sound"], "drum"),
    )


def _with_graces(said: list[_Said], clock: Clock, *, marked: bool) -> list[MidiStroke]:
    """Gather graces to the note that follows them; ``marked`` says that words tell which they are."""
    strokes: list[MidiStroke] = []
    graces: list[_Said] = []
    for index, each in enumerate(said):
        grace = (
            _by_word(said, index, clock) if marked and each.word else _by_place(said, index, clock, graces)
        )
        if grace:
            graces.append(each)
            continue
        played = each.played
        hand = each.letters.hands[0] if each.letters else None
        stroke = MidiStroke(played.on, played.off, hand, each.signs, played.velocity)
        stroke.graces = [grace.letters.hands[0] if grace.letters else None for grace in graces]
        if strokes and graces:
            strokes[-1].cut = graces[0].played.on
        strokes.append(stroke)
        graces = []
    return strokes


def _by_word(said: list[_Said], index: int, clock: Clock) -> bool:
    """Tell a grace by its small letter, in a file that has both small and capital ones."""
    if not said[index].small or index + 1 == len(said):
        return False
    return clock.span_s(said[index].played.on, said[index + 1].played.on) <= WORD_GRACE_S


def _by_place(said: list[_Said], index: int, clock: Clock, graces: list[_Said]) -> bool:
    """Tell a grace by how close ahead of the next note it is, and how soft where that leaves it open."""
    if index + 1 == len(said):
        return False
    this = said[index].played
    gap_s = clock.span_s(this.on, said[index + 1].played.on)
    loud = gap_s > FLAM_S and this.velocity > SOFTER * _main_after(said, index, clock).velocity
    if gap_s > GRACE_S or loud:
        return False
    before_s = clock.span_s(said[index - 1].played.on, this.on) if index else math.inf
    return bool(graces) or before_s >= APART * gap_s


def _main_after(said: list[_Said], index: int, clock: Clock) -> Played:
    """Return the note that a chain of close notes leads to."""
    for at in range(index + 1, min(index + 4, len(said) - 1)):
        if clock.span_s(said[at].played.on, said[at + 1].played.on) > GRACE_S:
            return said[at].played
    return said[min(index + 4, len(said) - 1)].played


def _find_accents(strokes: list[MidiStroke]) -> None:
    """Take as accents what stands clearly over the rest: the widest step between levels parts the two.

    Where most notes stand over that step, those below it are ghost notes.
    """
    levels = sorted({20 * math.log10(amplitude_of(stroke.velocity)) for stroke in strokes})
    steps = [(high - low, high) for low, high in pairwise(levels)]
    step, threshold = max(steps, default=(0.0, 0.0))
    if step < ACCENT_DB:
        return
    over = [20 * math.log10(amplitude_of(each.velocity)) >= threshold - 1e-9 for each in strokes]
    most = 2 * sum(over) > len(over)
    for stroke, loud in zip(strokes, over, strict=True):
        stroke.signs.accent, stroke.signs.ghost = loud and not most, most and not loud
