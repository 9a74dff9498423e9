"""What is to be practised, in words and figures; each figure keeps its unit beside it.

Conventions: seconds and cm in, words out. A *piece* is a few words that a line is never
broken inside.

Written music in words, for those who hear the page in place of seeing it.

Conventions: hands by their letters, in the order they are struck; a note value is said
where it changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from evenhand.music.equivalence import Equivalence
from evenhand.music.exercise import HAND_NAMES, Exercise, Hand, Note, other_hand
from evenhand.music.library.strokes import is_drops
from evenhand.music.strokes.heights import CM_PER_INCH, COMMON_HEIGHTS, StrokeClass, StrokeHeights, Unit
from evenhand.music.text import print_exercise
from evenhand.planning.practice import Block, PracticeItem
from evenhand.report.words.figures import capitalised, count, duration
from evenhand.report.words.remarks import all_remarks

_STROKES: dict[StrokeClass, str] = {"tap": "taps", "half": "half strokes", "full": "full strokes"}


def stroke_pieces(stroke: StrokeClass, unit: Unit, heights: StrokeHeights = COMMON_HEIGHTS) -> list[str]:
    """Name a stroke and how high its stick starts.

    >>> stroke_pieces("half", "in"), stroke_pieces("tap", "cm")
    (['half strokes', '6–9 in'], ['taps', '8–13 cm'])
    """
    reach = heights.of(stroke)
    per = CM_PER_INCH if unit == "in" else 1.0
    height = f"{round(reach.low_cm / per)}–{round(reach.high_cm / per)} {unit}"
    upright = ["stick upright"] if stroke == "full" else []
    return [_STROKES[stroke], *upright, height]


BLOCK_NAMES: dict[Block, str] = {
    "warm-up": "Warm-up",
    "focus": "Focus",
    "review": "Review",
    "speed": "Speed",
    "music": "Music",
    "record": "Record",
}

HALF_MINUTE_S = 30.0
MOST_COUNTED = 40


def half_minutes_of(seconds: Sequence[float]) -> list[int]:
    """Share a day's half minutes out to its items: by largest remainders, so that they add up to the day.

    >>> half_minutes_of([110.0, 110.0, 110.0])
    [4, 4, 3]
    """
    exact = [each / HALF_MINUTE_S for each in seconds]
    halves = [max(int(each), 1) for each in exact]
    over = max(round(sum(exact)) - sum(halves), 0)
    for i in sorted(range(len(exact)), key=lambda i: halves[i] - exact[i])[:over]:
        halves[i] += 1
    return halves


def half_minutes_words(halves: float) -> str:
    """Write half minutes.

    >>> half_minutes_words(1), half_minutes_words(4), half_minutes_words(5)
    ('½ min', '2 min', '2½ min')
    """
    whole, half = divmod(round(halves), 2)
    return f"{whole or ''}{'½' * half} min"


def often_words(repetitions: int, goes: int = 1) -> str:
    """Say how often: in one go, or in several goes. What is too often to be counted is one long go.

    >>> often_words(8), often_words(1), often_words(8, 3), often_words(50)
    ('8 times', '1 time', '3 × 8 times', 'in one long go')
    """
    if goes == 1 and repetitions > MOST_COUNTED:
        return "in one long go"
    times = count(repetitions, "time")
    return times if goes == 1 else f"{goes} × {times}"


_PLAIN = {
    1: "whole",
    2: "half",
    4: "quarter",
    8: "eighth",
    16: "sixteenth",
    32: "thirty-second",
    64: "sixty-fourth",
}


def value_words(value: Fraction, *, plural: bool = False) -> str:
    """Name a note value as the trade does.

    >>> value_words(Fraction(1, 8)), value_words(Fraction(3, 8)), value_words(Fraction(1, 12), plural=True)
    ('eighth note', 'dotted quarter note', 'eighth-note triplets')
    """
    top, bottom = value.numerator, value.denominator
    end = "s" if plural else ""
    if top == 1 and bottom in _PLAIN:
        return f"{_PLAIN[bottom]} note{end}"
    if top == 3 and bottom // 2 in _PLAIN and bottom % 2 == 0:
        return f"dotted {_PLAIN[bottom // 2]} note{end}"
    if top == 1 and bottom % 3 == 0 and bottom // 3 * 2 in _PLAIN:
        return f"{_PLAIN[bottom // 3 * 2]}-note triplet{end}"
    return f"{top}/{bottom} note{end}"


def music_words(
    exercise: Exercise, positions: Sequence[int], *, line: int = 1, of: int = 1, end: str = ""
) -> str:
    """Say some of an exercise's notes; of several lines, which one they are; ``end`` closes the last.

    >>> from evenhand.music.exercise import Exercise, Hand, Note, other_hand
    >>> eighth = Fraction(1, 8)
    >>> notes = (Note("R", eighth, accent=True), Note("L", eighth, graces=("R",)), Note(None, eighth))
    >>> music_words(Exercise(notes), (0, 1, 2))
    'Eighth notes: accent R, flam L, rest.'
    """
    said: list[str] = []
    value: Fraction | None = None
    run: list[str] = []
    for position in positions:
        note = exercise.notes[position]
        if note.value != value:
            _close(said, value, run)
            value, run = note.value, []
        run.append(_note(note))
    _close(said, value, run)
    opening = [f"Line {line} of {of}."] if of > 1 else []
    if line == 1 and exercise.meter:
        opening.append(f"{exercise.meter}.")
    closing = [end] if end and line == of else []
    return " ".join([*opening, *said, *closing])


def _close(said: list[str], value: Fraction | None, run: list[str]) -> None:
    """Say a run of notes of one value; plain letters stand together."""
    if value is None or not run:
        return
    words = value_words(value, plural=len(run) > 1)
    letters = " ".join(run) if all(len(each) == 1 for each in run) else ", ".join(run)
    said.append(f"{words[0].upper()}{words[1:]}: {letters}.")


def _note(note: Note) -> str:
    if note.hand is None:
        return "rest"
    words = ["ghost"] * note.ghost + ["strong"] * note.strong + ["accent"] * note.accent
    words += _graces(note.graces, note.hand) + ["buzz"] * note.buzz
    own = {"drum": "", "rim": "on the rim", "cross": "cross-stick", "foot": "foot"}[note.sound]
    return " ".join([*words, "both hands" if note.both else note.hand, *([own] if own else [])])


def _graces(graces: tuple[Hand, ...], hand: Hand) -> list[str]:
    """Name an ornament; one that has no name by its graces' hands."""
    other = other_hand(hand)
    named: dict[tuple[Hand, ...], str] = {
        (): "",
        (other,): "flam",
        (other, other): "drag",
        (other, hand, other): "ruff",
    }
    return [named[graces]] * bool(graces) if graces in named else ["graces", *graces, "before"]


def item_words(item: PracticeItem, unit: Unit, *, free: bool = False) -> str:
    """Say how an item is to be played: height, tempo, how often, how long.

    >>> from evenhand.music.exercise import Tempo
    >>> from evenhand.music.text import parse_exercise
    >>> item = PracticeItem(parse_exercise("1/8: RL"), Tempo.parse("1/8=84"), 12, 90.0, "tap")
    >>> item_words(item, "in")
    'Taps, 3–5 in. 1/8 = 84. 12 times, about 1 min 30 s.'
    >>> drops = PracticeItem(parse_exercise("1/2: R- L-"), Tempo.parse("1/4=60"), 3, 24.0)
    >>> item_words(drops, "in")
    '6 drops, about 24 s.'
    """
    if is_drops(item.exercise):
        return "" if free else f"{_drops_of(item)}, about {duration(item.seconds, 'seconds')}."
    how = ", ".join(stroke_pieces(item.stroke, unit)) if item.stroke else ""
    parts = [f"{capitalised(how)}." if how else "", f"{item.tempo}."]
    if not free:
        between = f", {duration(item.pause_s, 'seconds')} between" if item.goes > 1 and item.pause_s else ""
        often = f"{often_words(item.repetitions, item.goes)}{between}"
        parts.append(f"{often}, about {duration(item.seconds, 'seconds')}.")
    return " ".join(part for part in parts if part)


def _drops_of(item: PracticeItem) -> str:
    each = count(item.repetitions * len(item.exercise.struck), "drop")
    return each if item.goes == 1 else f"{count(item.goes, 'go', 'goes')} of {each}"


_NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
MOST_LETTERS_SPOKEN = 8


def spoken_number(number: int) -> str:
    """Write a number as it is spoken, where it is a small one.

    >>> spoken_number(3), spoken_number(40)
    ('three', '40')
    """
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


def item_name(item: PracticeItem, number: int) -> str:
    """Name an item of a day in a line: its number, its block, its title.

    >>> from evenhand.music.exercise import Tempo
    >>> from evenhand.music.text import parse_exercise
    >>> item_name(PracticeItem(parse_exercise("1/8: RRLL"), Tempo.parse("1/4=84"), 8, 90.0, block="focus"), 2)
    '2 Focus: 1/8: RRLL'
    """
    block = f"{BLOCK_NAMES[item.block]}: " if item.block else ""
    return f"{number} {block}{item.title or print_exercise(item.exercise)}"


def announcement(item: PracticeItem, number: int, of: int) -> str:
    """Say what comes next of a day, to be spoken: which item, what, how fast, how often, what for.

    >>> from evenhand.music.exercise import Tempo
    >>> from evenhand.music.text import parse_exercise
    >>> item = PracticeItem(parse_exercise("1/8: RRLL"), Tempo.parse("1/4=84"), 8, 90.0, goes=3)
    >>> announcement(item, 2, 5)
    'Number two of five. Right, right, left, left. 84 quarter notes a minute. Three goes, eight times each.'
    """
    said = [f"Number {spoken_number(number)} of {spoken_number(of)}."]
    if item.block:
        said.append(f"{BLOCK_NAMES[item.block]}.")
    name = item.title or _hands_spoken(item.exercise)
    said += [f"{name}."] if name else []
    said.append(f"{item.tempo.bpm:g} {value_words(item.tempo.beat, plural=True)} a minute.")
    often = "once" if item.repetitions == 1 else f"{spoken_number(item.repetitions)} times"
    goes = (
        f"{capitalised(spoken_number(item.goes))} goes, {often} each."
        if item.goes > 1
        else f"{capitalised(often)}."
    )
    return " ".join([*said, goes, *all_remarks(item.purpose)])


def _hands_spoken(exercise: Exercise) -> str:
    """Say a short sticking's hands; a long one is better read from the sheet."""
    hands = [note.hand for note in exercise.notes if note.hand]
    if len(hands) > MOST_LETTERS_SPOKEN:
        return ""
    return capitalised(", ".join(HAND_NAMES[hand] for hand in hands))


def turn_words(turn: Equivalence) -> str:
    """Say how one exercise is got from another.

    >>> from evenhand.music.equivalence import Equivalence
    >>> turn_words(Equivalence(2, True))
    'the hands swapped, and begun 2 notes later'
    """
    later = f"begun {count(turn.notes_later, 'note')} later" if turn.notes_later else ""
    swapped = "the hands swapped" if turn.hands_swapped else ""
    return ", and ".join(each for each in (swapped, later) if each) or "note for note"
