"""One line of music as one SVG element: what stands left of the notes, bar lines, letters, the tempo mark.

Conventions: px, x from the line's left edge, y from the staff line, downwards; the engraver's units where a
name says so. Without a number of times the exercise ends with a repeat sign and begins with none, as it is
heard: over and over. Letters are text of a generic serif, each centred under its head; all of a kind stand on
one baseline. Everything is ``currentColor`` and nothing has an id, so that any number of engravings stand on
one page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from evenhand.music.engraving.columns import Placing, graces_back
from evenhand.music.engraving.ink import LineInk
from evenhand.music.engraving.notation import NoteShape, bars_of, ratio_of, shapes_of
from evenhand.music.engraving.rolls import Roll
from evenhand.music.engraving.stems import MUSIC_SIZE, escaped, middle, number, placed, sign_of
from evenhand.music.exercise import Exercise, Hand, Meter, Tempo

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


LETTER_EM_UNITS = 230.0  # size of the sticking letters
LETTER_DROP_UNITS = 440.0  # their baseline below the staff line
GRACE_LETTER_EM_UNITS = 180.0
STROKE_LETTER_EM_UNITS = 190.0
STROKE_LETTER_DROP_UNITS = 235.0  # the stroke letters' baseline below the sticking's
NO_LETTERS_UNITS = 340.0  # room below the staff line where there are none: the meter fits
STROKE_LETTER_OPACITY = "0.62"


def drop_units(options: EngravingOptions) -> float:
    """Return how far below the staff line the lowest baseline lies, engraver's units."""
    if options.stroke_letters:
        return _stroke_drop(options)
    return LETTER_DROP_UNITS if options.show_sticking else NO_LETTERS_UNITS


def _stroke_drop(options: EngravingOptions) -> float:
    return LETTER_DROP_UNITS + (STROKE_LETTER_DROP_UNITS if options.show_sticking else 0.0)


def sticking_letters(line: LineOfMusic) -> tuple[str, ...]:
    """Write both hands' letters, or nothing where they are not wished for."""
    return (_of_hand(line, "R"), _of_hand(line, "L")) if line.options.show_sticking else ()


def _of_hand(line: LineOfMusic, hand: Hand) -> str:
    """Write one hand's letters under their heads, its graces' small."""
    texts: list[str] = []
    scale = line.placing.scale
    for position in range(line.start, line.stop):
        note = line.placing.exercise.notes[position]
        if note.hand == hand:
            texts.append(_letter(line.placing.columns.x[position], hand, ""))
        small = f' font-size="{number(GRACE_LETTER_EM_UNITS * scale)}"'
        for grace, x in zip(note.graces, line.placing.grace_x(position), strict=True):
            if grace == hand:
                texts.append(_letter(x, hand.lower(), small))
    if not texts:
        return ""
    size, drop = number(LETTER_EM_UNITS * scale), number(LETTER_DROP_UNITS * scale)
    side = "right" if hand == "R" else "left"
    style = f'font-family="serif" font-weight="bold" font-size="{size}" text-anchor="middle"'
    return f'<g class="sticking {side}" {style} transform="translate(0 {drop})">{"".join(texts)}</g>'


def stroke_letters(line: LineOfMusic) -> str:
    """Write how each stroke is played, quietly, under the sticking."""
    scale, asked_for = line.placing.scale, line.options.stroke_letters
    texts = [
        _letter(line.placing.columns.x[position], escaped(asked_for[position]), "")
        for position in range(line.start, line.stop)
        if asked_for.get(position)
    ]
    if not texts:
        return ""
    size, drop = number(STROKE_LETTER_EM_UNITS * scale), number(_stroke_drop(line.options) * scale)
    style = f'font-family="serif" font-size="{size}" text-anchor="middle" opacity="{STROKE_LETTER_OPACITY}"'
    return f'<g class="strokes" {style} transform="translate(0 {drop})">{"".join(texts)}</g>'


def _letter(x: float, letter: str, size: str) -> str:
    return f'<text x="{number(x)}"{size}>{letter}</text>'


_NOTES = {
    0: "ECA0",
    1: "ECA2",
    2: "ECA3",
    4: "ECA5",
    8: "ECA7",
    16: "ECA9",
    32: "ECAB",
    64: "ECAD",
    128: "ECAF",
}
_DOT = "ECB7"
_GLYPH_SCALE = 0.42  # of the music's own size
_EM_UNITS = 190.0
HEIGHT_UNITS = 370.0  # from the mark's baseline to the top of its stem


def tempo_mark(tempo: Tempo, *, x: float, y: float, scale: float) -> str:
    """Return the mark as SVG, its left edge at x and its baseline at y; ``scale`` is px a unit."""
    said = f"= {tempo.bpm:g}"
    outlines, x = beat_note(tempo.beat, x=x, y=y, scale=scale)
    if not outlines:
        said = str(tempo)
    size = number(_EM_UNITS * scale)
    text = f'<text class="tempo" x="{number(x)}" y="{number(y)}" font-family="serif" font-size="{size}">'
    return (f'<path d="{outlines}"/>' if outlines else "") + f"{text}{said}</text>"


def beat_note(beat: Fraction, *, x: float, y: float, scale: float) -> tuple[str, float]:
    """Draw the note that gets the beat: its outline, and where the text behind it begins.

    Where no single note has that value (a triplet's), the outline is empty and the text begins at x.
    """
    shapes = shapes_of(beat)
    if len(shapes) != 1 or ratio_of(beat).num != 1:
        return "", x
    return _note(shapes[0], x, y, scale)


def _note(shape: NoteShape, x: float, y: float, scale: float) -> tuple[str, float]:
    """Draw the beat's note with its dots; return its outline and where the text goes on."""
    size = scale * _GLYPH_SCALE
    code = _NOTES[shape.base]
    outlines = placed(code, x, y, size)
    x += 2 * middle(code) * size
    for _ in range(shape.dots):
        outlines += placed(_DOT, x + 60 * size, y, size)
        x += 160 * size
    return outlines, x + 150 * size


TEMPO_BASE_UNITS = 375.0  # the tempo mark's baseline below the top
STAFF_UNITS = 13.0


def write_line(line: LineOfMusic) -> str:
    """Return the line's ``<svg>`` element."""
    scale = line.placing.scale
    staff = LineInk(scale)
    staff.box(0.0, -STAFF_UNITS / 2 * scale, line.end_x, STAFF_UNITS / 2 * scale)
    draw_bar_lines(line, staff)
    box = f"0 0 {number(line.placing.columns.width)} {number(line.height)}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg"{_id(line)} class="music" viewBox="{box}" role="img"',
        f' aria-label="{_label(line)}" fill="currentColor">',
        f'<g transform="translate(0 {number(line.staff_y)})">',
        f'<path d="{"".join(staff.corners)}"/>',
        f'<path d="{"".join(line.ink.corners)}"/>',
        f'<path d="{"".join(line.ink.outlines + staff.outlines)}"/>',
        *sticking_letters(line),
        stroke_letters(line),
        *line.ink.texts,
        count_text(line),
        "</g>",
    ]
    if line.options.tempo and line.is_first:
        x = line.placing.columns.x[0] - HEAD_UNITS * scale
        parts.append(tempo_mark(line.options.tempo, x=x, y=TEMPO_BASE_UNITS * scale, scale=scale))
    return "".join([*parts, "</svg>"])


def _id(line: LineOfMusic) -> str:
    prefix = line.options.id_prefix
    return f' id="{prefix}-{line.line + 1}"' if prefix else ""


def _label(line: LineOfMusic) -> str:
    """Say the line's sticking for a screen reader."""
    said = " ".join(_said(line, position) for position in range(line.start, line.stop))
    many = len(line.placing.columns.cuts)
    return f"Sticking: {said}" if many == 1 else f"Sticking, line {line.line + 1} of {many}: {said}"


def _said(line: LineOfMusic, position: int) -> str:
    """Say one note."""
    note = line.placing.exercise.notes[position]
    if note.hand is None:
        return "rest"
    roll = line.rolls.get(position)
    lead = f"roll of {roll.strokes} from " if roll else ""
    return lead + "".join(note.graces).lower() + note.hand


_SCALE = 0.1  # px a unit
_FOOT_UNITS = 50.0  # what hangs below the baseline: half a head
_GAP_UNITS = 63.0  # between a note and the text behind it, which the picture leaves to the text


def beat_picture(beat: Fraction) -> tuple[str, float, float] | None:
    """Draw the beat's note.

    Returns
    -------
    tuple of str and two floats, or None
        The picture as SVG, and its width and height as shares of a plain stem's height;
        None where no single note has that value (a triplet's).
    """
    outline, end = beat_note(beat, x=0.0, y=HEIGHT_UNITS * _SCALE, scale=_SCALE)
    if not outline:
        return None
    width, height = end / _SCALE - _GAP_UNITS, HEIGHT_UNITS + _FOOT_UNITS
    box = f"0 0 {number(width * _SCALE)} {number(height * _SCALE)}"
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}"><path d="{outline}"/></svg>'
    return svg, width / HEIGHT_UNITS, height / HEIGHT_UNITS
