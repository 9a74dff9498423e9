"""One line of music before it is written, and what is wished for besides the notes.

Bar lines and repeat signs of one line of music, and how often it is played.

Conventions: px, x from the line's left edge, y from the staff line, downwards.
Without a number of times the exercise ends with a repeat sign and begins with
none, as it is heard: over and over.

What stands left of the first note: clef, meter, repeat sign and the graces that may open a line.

Conventions: the engraver's units from a line's left edge, px where a name says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from evenhand.music.engraving.columns import Placing, graces_back
from evenhand.music.engraving.ink import LineInk
from evenhand.music.engraving.notation import bars_of
from evenhand.music.engraving.rolls import Roll
from evenhand.music.engraving.stems import MUSIC_SIZE, number, sign_of
from evenhand.music.exercise import Exercise, Meter, Tempo

HEAD_UNITS = 106.0  # half a head's width


@dataclass(frozen=True, slots=True)
class EngravingOptions:
    """What stands around the notes. ``stroke_letters`` are by position."""

    tempo: Tempo | None = None
    id_prefix: str = ""
    show_sticking: bool = True
    repeat: int | None = None
    stroke_letters: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class LineOfMusic:
    """One line, ready to be written: positions from ``start`` to ``stop`` (excluded)."""

    placing: Placing
    line: int
    start: int
    stop: int
    ink: LineInk
    staff_y: float
    height: float
    options: EngravingOptions
    rolls: Mapping[int, Roll]

    @property
    def is_first(self) -> bool:
        """Tell whether the exercise begins here."""
        return self.line == 0

    @property
    def is_last(self) -> bool:
        """Tell whether the exercise ends here."""
        return self.stop == len(self.placing.exercise.notes)

    @property
    def end_x(self) -> float:
        """Where the closing bar line stands, px."""
        return self.placing.columns.ends_x[self.line]


HALF_BAR_LINE_UNITS = 180.0
THIN_UNITS, THICK_UNITS, DOT_UNITS = 22.0, 72.0, 34.0
REPEAT_GAP_UNITS = 42.0  # between a repeat sign's parts
DOTS_UNITS = 90.0  # above and below the staff line
SIGN_UNITS = THICK_UNITS + THIN_UNITS + 2 * REPEAT_GAP_UNITS + 2 * DOT_UNITS  # a repeat sign's width
START_UNITS = SIGN_UNITS + 80.0  # with the room behind it
CLOSE_UNITS = HEAD_UNITS + 60.0 + SIGN_UNITS  # from the last head's middle to the end
COUNT_EM_UNITS = 230.0
COUNT_GAP_UNITS = 110.0  # between the last bar line and the number of times
DIGIT_EM = 0.6  # a digit's width at most, of its size; so the text stays inside the drawing


def start_units(repeat: int | None) -> float:
    """Return the room that opening repeat sign takes, engraver's units."""
    return START_UNITS if repeat is not None and repeat > 1 else 0.0


def count_units(repeat: int | None) -> float:
    """Return the room that the number of times takes behind the last bar line."""
    if repeat is None or repeat < 2:
        return 0.0
    return COUNT_GAP_UNITS + COUNT_EM_UNITS * DIGIT_EM * len(_count(repeat))


def draw_bar_lines(line: LineOfMusic, staff: LineInk) -> None:
    """Draw the bar lines inside a line and at its end, and its repeat signs.

    At the end there is a repeat sign but where it is played once.
    """
    scale, end = line.placing.scale, line.end_x
    bars = {*bars_of(line.placing.exercise), len(line.placing.exercise.notes)}
    for bar in sorted(bars):
        if line.start < bar < line.stop:
            _upright(staff, _before(line, bar), THIN_UNITS)
    if line.is_last:
        _upright(staff, end, THICK_UNITS)
        _upright(staff, end - (THICK_UNITS + REPEAT_GAP_UNITS) * scale, THIN_UNITS)
        if line.options.repeat != 1:
            _dots(staff, end - SIGN_UNITS * scale)
    elif line.stop in bars:
        _upright(staff, end, THIN_UNITS)
    if line.is_first and start_units(line.options.repeat):
        left = _opening_x(line)
        _upright(staff, left + THICK_UNITS * scale, THICK_UNITS)
        _upright(staff, left + (THICK_UNITS + REPEAT_GAP_UNITS + THIN_UNITS) * scale, THIN_UNITS)
        _dots(staff, left + (SIGN_UNITS - 2 * DOT_UNITS) * scale)


def count_text(line: LineOfMusic) -> str:
    """Write how often it is played behind the last bar line."""
    repeat = line.options.repeat
    if repeat is None or repeat < 2 or not line.is_last:
        return ""
    scale = line.placing.scale
    x, y = line.end_x + COUNT_GAP_UNITS * scale, 0.34 * COUNT_EM_UNITS * scale
    size = number(COUNT_EM_UNITS * scale)
    text = f'<text class="times" x="{number(x)}" y="{number(y)}" font-family="serif" font-size="{size}">'
    return f"{text}{_count(repeat)}</text>"


def _count(repeat: int) -> str:
    return f"× {repeat}"


def _opening_x(line: LineOfMusic) -> float:
    """Return the opening sign's left edge: close before the first note and its graces."""
    first = min((line.placing.columns.x[0], *line.placing.grace_x(0)))
    return first - (HEAD_UNITS + START_UNITS) * line.placing.scale


def _before(line: LineOfMusic, position: int) -> float:
    """Return a bar line's right edge: between two notes, left of the second's graces."""
    columns, scale = line.placing.columns, line.placing.scale
    first = min((columns.x[position], *line.placing.grace_x(position)))
    left, right = columns.x[position - 1] + HEAD_UNITS * scale, first - HEAD_UNITS * scale
    return max((left + right) / 2, right - 130 * scale) + THIN_UNITS * scale / 2


def _upright(staff: LineInk, right: float, width_units: float) -> None:
    half = HALF_BAR_LINE_UNITS * staff.scale
    staff.box(right - width_units * staff.scale, -half, right, half)


def _dots(staff: LineInk, left: float) -> None:
    """Draw two dots one above the other."""
    radius = DOT_UNITS * staff.scale
    for up in (DOTS_UNITS, -DOTS_UNITS):
        staff.dot(left + radius, -up * staff.scale, radius)


CLEF_UNITS = 2.0 / 0.07
METER_UNITS = 26.0 / 0.07
LEFT_UNITS, LEFT_WITH_METER_UNITS = 40.0 / 0.07, 64.0 / 0.07  # the first note's middle, at least
METER_GAP_UNITS = 110.0  # between a meter of two digits and the first note's head


def left_px(exercise: Exercise, cuts: Iterable[int], repeat: int | None, scale: float) -> float:
    """Return where the first note of each line stands, px, if lines open at ``cuts``."""
    first = _with_meter(exercise.meter) if exercise.meter else LEFT_UNITS
    needs = [(LEFT_UNITS if at else first + start_units(repeat)) + _back(exercise, at) for at in {0, *cuts}]
    return max(needs) * scale


def _back(exercise: Exercise, position: int) -> float:
    return max(graces_back(len(exercise.notes[position].graces)), default=0.0)


def _with_meter(meter: Meter) -> float:
    wide = max(_digits_units(meter.beats), _digits_units(meter.unit))
    return max(LEFT_WITH_METER_UNITS, METER_UNITS + wide + METER_GAP_UNITS + HEAD_UNITS)


def _digits_units(value: int) -> float:
    """Return how wide a number of the meter is drawn."""
    signs = [sign_of(f"E08{digit}") for digit in str(value)]
    return MUSIC_SIZE * sum(sign.left + sign.width for sign in signs)
