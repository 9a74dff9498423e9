"""The signs of a note, in the order in which they stand: accent, graces, hand, what is struck, roll, tie.

Conventions: a slashed note becomes its strokes, two by each hand in turn, one at the end of an odd number.
Slashes and flags together are the beams of its strokes (common practice).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from evenhand.music.exercise import MAX_NOTES, Hand, Note, Sound, Tuplet, other_hand
from evenhand.music.reading.walk import (
    MAX_DENOMINATOR,
    OpenTuplet,
    Reader,
    read_number,
    spoken,
)

MAX_GRACES = 3
MOST_SLASHES = 4
MOST_IN_A_TUPLET = 32
EIGHTH = Fraction(1, 8)
HANDS: dict[str, Hand] = {"R": "R", "L": "L", "B": "R"}
GRACES: dict[str, Hand] = {"r": "R", "l": "L"}
SOUNDS: dict[str, Sound] = {"x": "cross", "o": "rim", "k": "foot"}


def usual_base(num: int) -> int:
    """Return in the time of how many a tuplet of so many stands, where nothing is said.

    >>> [usual_base(num) for num in (2, 3, 4, 5, 7, 9)]
    [3, 2, 3, 4, 4, 8]
    """
    power = 1 << (num.bit_length() - 1)
    if num == power:
        return 3 if num < 8 else 3 * num // 4
    return power


def strokes_in(value: Fraction, num: int, base: int, slashes: int = 0) -> Fraction:
    """Return how many strokes so many slashes make of a note's value inside its tuplet.

    >>> strokes_in(Fraction(1, 4), 1, 1, 3), strokes_in(Fraction(3, 16), 1, 1, 2)
    (Fraction(8, 1), Fraction(6, 1))
    """
    written = value * num / base
    flagged = Fraction(1, 4)
    while flagged > written:
        flagged /= 2
    return written / flagged * (1 << slashes)


def own_ratio(value: Fraction) -> tuple[int, int]:
    """Return the tuplet that a value says by itself: 3 in 2 for 1/12."""
    num = value.denominator
    while num % 2 == 0:
        num //= 2
    return num, 1 << (num.bit_length() - 1)


def read_note(reader: Reader) -> None:
    """Read one struck note with all its signs."""
    start = reader.at
    level = _read_accent(reader)
    graces = () if reader.in_small else _read_graces(reader)
    level = level or _read_accent(reader)
    letter = reader.here.upper() if reader.in_small and reader.here in GRACES else reader.here
    hand = HANDS.get(letter) if letter else None
    if hand is None:
        before = reader.text[start : reader.at]
        reader.fail(spoken(reader.here), f"R or L right after '{before}', as in {before}R")
    if reader.in_small:
        reader.assumed.add("capitals")
    reader.at += 1
    sound = SOUNDS.get(reader.here, "drum") if reader.here else "drum"
    reader.at += sound != "drum"
    buzz = reader.took("~")
    slashes = _read_slashes(reader)
    note = Note(hand, Fraction(1), bool(level), graces, buzz=buzz, strong=level == "^", sound=sound)
    note = replace(note, both=letter == "B", tied=reader.took("+"))
    _check_signs(reader, note, slashes, start)
    add(reader, note, start, slashes)


def _check_signs(reader: Reader, note: Note, slashes: int, start: int) -> None:
    if note.accent and reader.ghosts_at is not None:
        reader.fail("an accent inside ( )", "a ghost note without an accent", start)
    if note.both and (note.sound == "foot" or slashes):
        reader.fail(
            f"'{reader.text[start : reader.at]}'", "R or L: both hands take no slashes and no k", start
        )
    if note.sound == "foot" and (note.buzz or slashes or note.graces):
        right = "a foot's note without graces, ~ and slashes, such as Rk"
        reader.fail(f"'{reader.text[start : reader.at]}'", right, start)
    if note.buzz and slashes:
        reader.fail("'~' and slashes on one note", "one of them: ~ buzzes, / counts the strokes", start)


def _read_accent(reader: Reader) -> str:
    return next((sign for sign in (">", "^") if reader.took(sign)), "")


def _read_graces(reader: Reader) -> tuple[Hand, ...]:
    graces: list[Hand] = []
    while reader.here in GRACES:
        if len(graces) == MAX_GRACES:
            reader.fail(f"grace note {MAX_GRACES + 1}", f"R or L: a note takes up to {MAX_GRACES} graces")
        graces.append(GRACES[reader.here])
        reader.at += 1
    return tuple(graces)


def _read_slashes(reader: Reader) -> int:
    slashes = 0
    while reader.here == "/":
        slashes += 1
        reader.at += 1
        if slashes > MOST_SLASHES:
            reader.fail(f"slash {slashes}", f"up to {MOST_SLASHES}, as in R///", reader.at - 1)
    return slashes


def read_rest(reader: Reader) -> None:
    """Read a rest, or a value for which the note before goes on."""
    start, held = reader.at, reader.here == "_"
    before = None if reader.fresh or not reader.notes else reader.notes[-1]
    if held:
        if before is None or (before.is_rest and not before.held) or before.tied:
            reader.fail("'_'", "after a note of the same stretch, which it lengthens: R_", start)
        if reader.slashed and reader.slashed[-1][1] == len(reader.notes):
            reader.fail("'_' after a slashed note", "one more slashed note, tied: R///+ R///", start)
    reader.at += 1
    add(reader, Note(None, Fraction(1), held=held), start)


def add(reader: Reader, note: Note, start: int, slashes: int = 0) -> None:
    """Add a note with the value that holds, and the marks that stand before it."""
    _check_place(reader, note, start)
    tuplet = reader.tuplet
    value = reader.value or EIGHTH
    if tuplet:
        if own_ratio(value)[0] > 1:
            reader.fail(f"{value} inside {{ }}", "a value that is no tuplet's itself, such as 1/8:", start)
        tuplet.written.append(value)
        value *= Fraction(tuplet.base, tuplet.num)
    ghost = reader.ghosts_at is not None and not note.is_rest
    note = replace(note, value=value, ghost=ghost, dynamic=reader.dynamic, swell=reader.swell)
    notes = _strokes(reader, note, slashes, start) if slashes else [note]
    if notes[0].value.denominator > MAX_DENOMINATOR:
        right = f"written so that no stroke is shorter than 1/{MAX_DENOMINATOR}"
        reader.fail(f"a note that comes out at {notes[0].value}", right, start)
    if len(reader.notes) + len(notes) > MAX_NOTES:
        found = f"note {MAX_NOTES + 1:,}" + (" (as played)" if len(notes) > 1 else "")
        reader.fail(found, f"at most {MAX_NOTES:,} notes and rests", start)
    if slashes:
        reader.slashed.append((len(reader.notes), len(reader.notes) + len(notes)))
    reader.notes += notes
    reader.bar_length += value
    reader.value_at = reader.mark_at = reader.dynamic = reader.swell = None
    reader.fresh = False


def _check_place(reader: Reader, note: Note, start: int) -> None:
    """Refuse a note before its value, and where something else must stand first."""
    if reader.value is None:
        hint = f" ({reader.meter} was read as the meter)" if reader.meter else ""
        if reader.has_values or (reader.meter is not None and reader.meter.beats == 1):
            right = f"a note value first, such as 1/8: or 1/16:{hint}"
            reader.fail(spoken(reader.text[start]), right, start)
        reader.value = EIGHTH
        reader.assumed.add("value")
    if reader.notes and reader.notes[-1].tied and note.is_rest:
        reader.fail(spoken(reader.text[start]), "a note after '+', which is tied to it", start)
    if reader.repeat and reader.repeat.endings and reader.repeat.ending_at is None:
        number = len(reader.repeat.endings) + 1
        reader.fail(spoken(reader.text[start]), f"[{number} after ':|' of the ending before it", start)


def _strokes(reader: Reader, note: Note, slashes: int, start: int) -> list[Note]:
    """Write out a slashed note: what stands once stands at its first stroke, the tie at its last."""
    num, base = (reader.tuplet.num, reader.tuplet.base) if reader.tuplet else own_ratio(note.value)
    many = strokes_in(note.value, num, base, slashes)
    if many.denominator > 1 or many < 2 or note.hand is None:
        reader.fail(f"slashes on {note.value}", "a note that they part into whole strokes: 1/4: R///", start)
    each, count, hand = note.value / many, int(many), note.hand
    if count > MAX_NOTES:
        reader.fail(f"{count:,} strokes", f"at most {MAX_NOTES:,} notes and rests", start)
    plain = replace(
        note, value=each, accent=False, strong=False, graces=(), tied=False, dynamic=None, swell=None
    )
    hands = (hand, hand, other_hand(hand), other_hand(hand))
    strokes = [replace(plain, hand=hands[k % 4]) for k in range(count)]
    strokes[0] = replace(note, value=each, tied=False)
    strokes[-1] = replace(strokes[-1], tied=note.tied)
    return strokes


def read_bracket(reader: Reader) -> None:
    """Read where ghost notes begin or end."""
    if reader.here == "(":
        if reader.ghosts_at is not None:
            reader.fail("'(' inside ( )", "')' first", reader.at)
        reader.ghosts_at = reader.at
    elif reader.ghosts_at is None:
        reader.fail("')'", "'(' before it, as in (RL)")
    elif not reader.notes[-1:] or not reader.notes[-1].ghost:
        reader.fail("')'", "right after a note, as in (RL)")
    else:
        reader.ghosts_at = None
    reader.at += 1


def read_tuplet(reader: Reader) -> None:
    """Read where a tuplet opens, with how many in the time of how many, or where it closes."""
    start = reader.at
    if reader.took("}"):
        _close_tuplet(reader, start)
        return
    if reader.tuplet:
        reader.fail("'{' inside { }", "'}' first: tuplets do not stand inside one another")
    reader.at += 1
    num = read_number(reader, MOST_IN_A_TUPLET, wanted="a number after '{', as in {3 RLR}")
    base = usual_base(max(num, 2))
    if reader.took(":"):
        base = read_number(reader, MOST_IN_A_TUPLET, wanted=f"a number after {num}:, as in {{5:4 RLRLR}}")
    if not (2 <= num <= MOST_IN_A_TUPLET and 1 <= base <= MOST_IN_A_TUPLET and num != base):
        right = f"2 to {MOST_IN_A_TUPLET} notes in the time of another number, as in {{5:4 RLRLR}}"
        reader.fail(f"{{{num}:{base}", right, start)
    reader.tuplet = OpenTuplet(start, len(reader.notes), num, base)


def _close_tuplet(reader: Reader, start: int) -> None:
    tuplet = reader.tuplet
    if tuplet is None:
        reader.fail("'}'", "'{3' before it, as in {3 RLR}", start)
    whole = sum(tuplet.written, Fraction(0))
    each = whole / tuplet.num
    alike = len(tuplet.written) == tuplet.num and len(set(tuplet.written)) == 1
    if not alike and (each.numerator != 1 or each.denominator & (each.denominator - 1)):
        found = f"a tuplet of {tuplet.num} that holds {whole}"
        reader.fail(found, f"{tuplet.num} notes of one value, or as long as they", start)
    reader.tuplets.append(Tuplet(tuplet.start, len(reader.notes), tuplet.num, tuplet.base))
    reader.tuplet = None
