"""How far the ink of each piece reaches to either side, and what stands between two of them.

Conventions: the engraver's units, from the middle of a head. What is counted here is what must not touch.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from evenhand.music.engraving.notation import bars_of, flags_of, has_head, shape_at
from evenhand.music.engraving.stems import MUSIC_SIZE, Stems, middle, on_stem, sign_of
from evenhand.music.exercise import Exercise, Meter

HEAD_UNITS = 106.0  # half a head's width
GRACE_HEAD_UNITS = 80.0
FLAM_UNITS = 330.0  # from a single grace's head to the main head, centre to centre
DRAG_UNITS = 252.0  # the same for the last of several, and between them
GAP_UNITS = 40.0  # between what belongs to two notes
BRACKET_UNITS = 98.0  # a ghost note's bracket
STEM_X_UNITS = 96.8  # right of a head's middle
DOT_GAP_UNITS, DOT_APART_UNITS, DOT_RADIUS_UNITS = 89.0, 135.0, 36.0
FLAG_UNITS = 152.0  # how much farther a dot stands beside a flag
FLAGS = {1: "E240", 2: "E242", 3: "E244", 4: "E246", 5: "E248"}
RESTS = {
    0: "E4E2", 1: "E4E3", 2: "E4E4", 4: "E4E5", 8: "E4E6", 16: "E4E7", 32: "E4E8", 64: "E4E9", 128: "E4EA",
}  # fmt: skip
THIN_UNITS, THICK_UNITS, BAR_DOT_UNITS = 22.0, 72.0, 34.0
REPEAT_GAP_UNITS = 42.0  # between a repeat sign's parts
SIGN_UNITS = THICK_UNITS + THIN_UNITS + 2 * REPEAT_GAP_UNITS + 2 * BAR_DOT_UNITS  # a repeat sign's width
BAR_GAP_UNITS = 55.0  # to either side of a bar line
METER_GAP_UNITS = 60.0  # before a meter that changes
AFTER_SIGN_UNITS = 60.0  # more, between a meter or a repeat sign and the note behind it

DYNAMIC_SIGNS = {"p": "E520", "m": "E521", "f": "E522"}
DYNAMIC_SIZE = 0.62
ADVANCE = {"p": 0.86, "m": 0.94, "f": 0.56}
SWELL_GAP_UNITS, SHORTEST_SWELL_UNITS = 90.0, 180.0


def dynamic_units(dynamic: str) -> float:
    """Return how wide a dynamic is drawn."""
    return sum(letter_units(letter) for letter in dynamic)


def letter_units(letter: str) -> float:
    """Return how far after a dynamic's letter the next one stands: an f leans over it."""
    return sign_of(DYNAMIC_SIGNS[letter]).width * DYNAMIC_SIZE * ADVANCE[letter]


def graces_back(graces: int) -> tuple[float, ...]:
    """Return how far each of a note's graces stands before its head, engraver's units."""
    if graces < 2:
        return (FLAM_UNITS,) * graces
    return tuple(DRAG_UNITS * k for k in range(graces, 0, -1))


def digits_units(meter: Meter) -> float:
    """Return how wide a meter is drawn: the wider of its numbers."""
    return max(_number_units(str(meter).partition("/")[0]), _number_units(str(meter.unit)))


def _number_units(text: str) -> float:
    signs = [sign_of(f"E08{digit}") for digit in text if digit != "+"]
    bearing = sum(sign.left for sign in signs) * ("+" in text)
    inked = sum(sign.left + sign.width for sign in signs) + PLUS_FONT_UNITS * text.count("+")
    return MUSIC_SIZE * (inked + bearing)


PLUS_FONT_UNITS = 260.0  # of a plus between two digits, font units


@dataclass(frozen=True)
class Extents:
    """The ink of pieces from side to side; repeat signs stand before ``opens`` and ``closes``."""

    stems: Stems
    opens: frozenset[int] = frozenset()
    closes: Mapping[int, int] = field(default_factory=dict)
    inner: frozenset[int] = frozenset()  # pieces that only go on with one before: no line begins there
    letter_units: float = 0.0  # half of a sticking letter
    close_units: float = SIGN_UNITS  # what stands at the very end

    @property
    def exercise(self) -> Exercise:
        """The pieces."""
        return self.stems.exercise

    @cached_property
    def bars(self) -> frozenset[int]:
        """The pieces before which a bar line stands."""
        return frozenset(bars_of(self.exercise)) - {0}

    @cached_property
    def meters(self) -> Mapping[int, Meter]:
        """The meters that change, by the piece before which they stand."""
        return dict(self.exercise.spelling.meters)

    @cached_property
    def needs(self) -> tuple[float, ...]:
        """From each piece's middle to the next one's, at least."""
        pieces = range(len(self.exercise.notes) - 1)
        return tuple(
            max(self.right(at) + self.between(at + 1) + self.left(at + 1), self._under(at)) for at in pieces
        )

    def _under(self, position: int) -> float:
        """Return the room from a piece to the next that dynamics and a swell between them take."""
        note, following = self.exercise.notes[position : position + 2]
        if not following.dynamic or not (note.dynamic or note.swell):
            return 0.0
        halves = (dynamic_units(note.dynamic or "") + dynamic_units(following.dynamic)) / 2
        return halves + (SHORTEST_SWELL_UNITS + 2 * SWELL_GAP_UNITS if note.swell else SWELL_GAP_UNITS)

    def between(self, position: int) -> float:
        """Return the room between the ink of two neighbours, signs included, that must be there."""
        if position not in self.bars:
            return GAP_UNITS
        return self.closing(position) + self.opening(position)

    def closing(self, position: int) -> float:
        """Return the room of what ends the bar before a piece."""
        return BAR_GAP_UNITS + (SIGN_UNITS if position in self.closes else THIN_UNITS)

    def opening(self, position: int) -> float:
        """Return the room of what stands behind a bar line, before the piece."""
        opens, meter = position in self.opens, self.meters.get(position)
        room = BAR_GAP_UNITS + self.after_sign(position)
        room += SIGN_UNITS * opens + (GAP_UNITS if opens and meter else 0.0)
        return room + (digits_units(meter) + METER_GAP_UNITS if meter else 0.0)

    def after_sign(self, position: int) -> float:
        """Return how much farther a piece stands behind a sign than behind a bar line."""
        signs = (self.opens, self.closes, self.meters)
        return AFTER_SIGN_UNITS if any(position in each for each in signs) else 0.0

    def end_units(self, stop: int) -> float:
        """Return the room from the last piece of a line to its end."""
        right = self.right(stop - 1)
        if stop == len(self.exercise.notes):
            return right + BAR_GAP_UNITS + self.close_units
        return right + (self.closing(stop) if stop in self.bars else 0.0)

    def left(self, position: int) -> float:
        """Return how far a piece reaches to the left."""
        note = self.exercise.notes[position]
        if note.graces:
            return graces_back(len(note.graces))[0] + GRACE_HEAD_UNITS + BRACKET_UNITS * note.ghost
        if not has_head(note):
            return middle(RESTS[shape_at(self.exercise, position).base]) * MUSIC_SIZE
        return max(HEAD_UNITS + BRACKET_UNITS * note.ghost, self.letter_units * (note.hand is not None))

    def right(self, position: int) -> float:
        """Return how far a piece reaches to the right."""
        note, shape = self.exercise.notes[position], shape_at(self.exercise, position)
        dots = (DOT_GAP_UNITS + DOT_APART_UNITS * (shape.dots - 1) + DOT_RADIUS_UNITS) if shape.dots else 0.0
        if not has_head(note):
            return middle(RESTS[shape.base]) * MUSIC_SIZE + dots
        flags = flags_of(self.exercise, position)
        flagged = bool(flags) and not self.stems.is_beamed(position)
        flag = STEM_X_UNITS + sign_of(FLAGS[flags]).width * MUSIC_SIZE if flagged else 0.0
        on = on_stem(self.exercise, position, self.stems.slashes)
        crossing = STEM_X_UNITS + sign_of(on).width * MUSIC_SIZE / 2 if on else 0.0
        head = HEAD_UNITS + BRACKET_UNITS * note.ghost + (dots + FLAG_UNITS * flagged if dots else 0.0)
        return max(head, flag, crossing, self.letter_units * (note.hand is not None))
