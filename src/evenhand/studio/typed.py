"""Read a whole number that somebody typed, or wrote into an address.

A tempo as people type it: "72" alone means 72 of the item's own beat.

The item's own beat is that of the tempo that stood there, as long as the exercise is the same; else that of
the exercise: its meter's, or the note value that it begins with (of triplets, the value that they divide).

Which passwords will do: long enough, and none of those that are tried first.

Conventions: length in letters; the list is of our own making, from memory, and holds what is tried first
as it is, doubled, with digits or signs around, or with digits for letters. There is no rule about which
signs it must have: length is what counts (NIST SP 800-63B, 5.1.1.2, says the same).
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from evenhand.errors import BadExercise, EvenhandError
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.text import parse_exercise, print_exercise

MOST_DIGITS = 6


def whole_number(text: str, most_digits: int = MOST_DIGITS) -> int | None:
    """Return a whole number from 0; None where it is none, or has more digits than anything here counts.

    >>> whole_number("12"), whole_number("9" * 5000), whole_number("٣"), whole_number("")
    (12, None, None, None)
    """
    if not text.isascii() or not text.isdecimal() or len(text) > most_digits:
        return None
    return int(text)


@lru_cache(maxsize=4096)  # a book's exercises, and those of thousands of takes of some hundred
def usual_text(text: str) -> str | None:
    """Write an exercise in its one way; None where it cannot be read."""
    try:
        return print_exercise(parse_exercise(text))
    except BadExercise:
        return None


def notes_of(text: str) -> str:
    """Write an exercise in its one way, so that the same notes are the same text; else as it stands.

    >>> notes_of("1/8:RLRR LRLL"), notes_of("drums")
    ('1/8: RLRR LRLL', 'drums')
    """
    return usual_text(text) or text


_ALONE = re.compile(r"\s*(\d{1,4}(?:\.\d{1,6})?)\s*(?:bpm)?\s*", re.ASCII | re.IGNORECASE)


def own_beat(exercise: Exercise) -> Fraction:
    """Return the note value that gets the beat where nothing says so.

    >>> [
    ...     str(own_beat(parse_exercise(text)))
    ...     for text in ("1/8: RLRR", "4/4 1/16: RLRR LRLL RLRR LRLL", "1/12: RLR")
    ... ]
    ['1/8', '1/4', '1/4']
    """
    if exercise.meter is not None:
        return Fraction(1, exercise.meter.unit)
    divided = exercise.notes[0].value.denominator
    return Fraction(1, divided & -divided)  # the powers of two in it


def full_tempo(text: str, exercise_text: str, *, shown: str = "", shown_for: str = "") -> str:
    """Return what was typed with its beat; what is no number alone stays as it is.

    ``shown`` is the tempo that stood there, of the exercise ``shown_for``.

    >>> full_tempo("72", "1/8: RLRR LRLL")
    '1/8 = 72'
    >>> full_tempo("72", "1/8: RLRR LRLL", shown="1/4 = 60", shown_for="1/8: RLRR LRLL")
    '1/4 = 72'
    >>> full_tempo("1/2 = 72", "1/8: RLRR LRLL")
    '1/2 = 72'
    """
    found = _ALONE.fullmatch(text)
    if found is None:
        return text
    same = exercise_text.strip() == shown_for.strip()
    beat = (_beat_of(shown) if same else None) or _exercise_beat(exercise_text)
    return text if beat is None else f"{beat.numerator}/{beat.denominator} = {found[1]}"


def _beat_of(tempo_text: str) -> Fraction | None:
    try:
        return Tempo.parse(tempo_text).beat
    except EvenhandError:
        return None


def _exercise_beat(text: str) -> Fraction | None:
    try:
        return own_beat(parse_exercise(text))
    except EvenhandError:
        return None


LEAST_LETTERS, MOST_LETTERS = 12, 200  # a longer one only costs time to hash

WrongPassword = Literal["", "short", "long", "common", "differs"]

COMMON = frozenset(
    """
    password passwort motdepasse contrasena welcome letmein iloveyou administrator admin teacher
    student studio drums drummer drumming drumlesson drumteacher drumstudio evenhand paradiddle
    music musicteacher rhythm snare sunshine princess football baseball basketball
    dragon monkey shadow master trustno michael jennifer jessica charlie jordan daniel thomas
    michelle computer internet changeme default secret mysecret mypassword newpassword ourpassword
    thepassword passwordis qwerty qwertz azerty qwertyuiop qwertzuiop azertyuiop asdfghjkl asdfgh
    zxcvbnm qwertyasdfgh qazwsx qazwsxedc qazwsxedcrfv wsxedc zaqwsx abc abcd abcdef abcdefg
    abcdefgh abcdefghijkl whatever
    summer winter spring autumn monday friday january december hello helloworld
    access login guest root user test testing temp temporary opensesame unknown nopassword nothing
    freedom mustang loveyou lovely flower chocolate cookie pepper ginger buster hunter killer
    soccer hockey ranger
    """.split()  # noqa: SIM905 - a list of words reads better as words
)
_LETTERS = str.maketrans("013457@$!", "oieastasi")
_ROWS = (
    "abcdefghijklmnopqrstuvwxyz",
    "01234567890",
    "qwertyuiopasdfghjklzxcvbnm",
    "qwertzuiop",
    "azertyuiop",
)
_MOST_AROUND = 8  # digits and signs around a word that add nothing for who guesses


def wrong_with(new: str, again: str | None = None) -> WrongPassword:
    """Tell what is wrong with a new password, typed twice maybe; nothing where it will do.

    >>> wrong_with("left hand leads"), wrong_with("drums"), wrong_with("Password2026!")
    ('', 'short', 'common')
    """
    if len(new) < LEAST_LETTERS:
        return "short"
    if len(new) > MOST_LETTERS:
        return "long"
    if is_common(new):
        return "common"
    return "differs" if again is not None and new != again else ""


def is_common(password: str) -> bool:
    """Tell whether a password is among those that are tried first."""
    text = re.sub(r"[\s._-]+", "", password.casefold())
    if len(set(text)) <= 3 or _is_row(text) or _is_row(_repeated(text)):
        return True
    return any(_is_common_word(each, len(text)) for each in {text, text.translate(_LETTERS), _core(text)})


def _is_common_word(text: str, length: int) -> bool:
    word = _repeated(_core(text).translate(_LETTERS))
    if not word:
        return True
    around = length - len(_core(text))
    return (word in COMMON or _is_row(word)) and around <= max(_MOST_AROUND, length // 2)


def _core(text: str) -> str:
    """Return a text without the digits and signs around it."""
    return re.sub(r"^[\W\d_]+|[\W\d_]+$", "", text)


def _repeated(text: str) -> str:
    """Return what a text repeats; the text itself where it repeats nothing.

    >>> _repeated("drumsdrums"), _repeated("drum")
    ('drums', 'drum')
    """
    at = (text + text).find(text, 1)
    return text[:at] if 0 < at < len(text) else text


def _is_row(text: str) -> bool:
    """Tell whether a text runs along the alphabet, the digits or the keys, forwards or backwards."""
    return any(text in (row * 3) or text[::-1] in (row * 3) for row in _ROWS)
