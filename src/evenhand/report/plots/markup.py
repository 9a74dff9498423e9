"""Small pieces of markup: elements, escaped text, short numbers, and the room that words may take.

Conventions: every text and attribute goes through ``esc``; a child of ``el`` is markup that has been made
already. Lengths are px of the drawing's own units. A picture's words do not flow, so where they stand is
worked out before they are drawn, for the widest usual face; the page's own face takes three quarters of it.

Axes and the frame of a chart say where a value is drawn, and which steps are written. A value beyond an axis
is drawn at its end.
"""

from __future__ import annotations

import html
import math
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from evenhand.report.words.figures import plain

_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:ms|dB|s|min|bpm|%|Hz)(?!\w))|(?<==) (?=\d)| (?==\s)")
_VOID = frozenset({"meta", "br"})


def esc(text: object) -> str:
    """Return text safe in HTML, in SVG and inside a quoted attribute.

    >>> esc('a<b> & "c"')
    'a&lt;b&gt; &amp; &quot;c&quot;'
    """
    return html.escape(_NOT_TEXT.sub("\ufffd", str(text)), quote=True)


def prose(text: object) -> str:
    """Return text safe as ``esc`` does, its figures tied to their units so that no line breaks between.

    >>> prose("9 ms late").split(" ")[1:]
    ['late']
    """
    return esc(_BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", str(text)))


def px(value: float) -> str:
    """Write a length to a tenth, without needless zeros.

    >>> [px(v) for v in (12.0, 0.25, -0.04, 101.26)]
    ['12', '0.2', '0', '101.3']
    """
    whole = round(value * 10)
    if whole % 10 == 0:
        return str(whole // 10)
    return f"{whole / 10:.1f}"


def el(name: str, /, *children: str, **attributes: object) -> str:
    """Return an element; ``class_`` means class, ``aria_label`` aria-label, None is left out.

    >>> el("p", esc("a < b"), class_="note")
    '<p class="note">a &lt; b</p>'
    """
    inside = "".join(_attribute(key, value) for key, value in attributes.items() if value is not None)
    if name in _VOID:
        return f"<{name}{inside}>"
    return f"<{name}{inside}>{''.join(children)}</{name}>"


def _attribute(key: str, value: object) -> str:
    written = px(value) if isinstance(value, float) else esc(value)
    return f' {key.rstrip("_").replace("_", "-")}="{written}"'


def shortened(text: str, letters: int) -> str:
    """Return the text, or as much of it as fits.

    >>> shortened("Triplets from both sides", 12)
    'Triplets fr…'
    """
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"


def text_at(x: float, y: float, words: object, *, class_: str = "") -> str:
    """Return a piece of SVG text at a place."""
    return el("text", esc(words), x=float(x), y=float(y), class_=class_ or None)


def svg(size: tuple[float, float], *inside: str, **attributes: object) -> str:
    """Return a drawing of this width and height."""
    box = f"0 0 {px(size[0])} {px(size[1])}"
    return el("svg", *inside, xmlns="http://www.w3.org/2000/svg", viewBox=box, **attributes)


def picture(
    inside: Iterable[str],
    *,
    width: float,
    height: float,
    key: str,
    title: str,
    words: str,
    class_: str,
    stretch: float | None = None,
) -> str:
    """Return an ``<svg>`` that a screen reader reads as one image with a title and a description.

    It fills the room it is given, up to ``stretch`` times its own width.
    """
    return svg(
        (width, height),
        el("title", esc(title), id=f"{key}-title"),
        el("desc", esc(words), id=f"{key}-words"),
        *inside,
        role="img",
        aria_labelledby=f"{key}-title",
        aria_describedby=f"{key}-words",
        class_=class_,
        style=None if stretch is None else f"max-width:{width * stretch:.0f}px",
    )


# Widths, of a letter's size, of the widest serif that machines commonly have (DejaVu Serif 2.37), rounded up.
_WIDTHS: Final = {"fijlrtI.,:;|!'’()[] -/ \N{NO-BREAK SPACE}": 0.4, "mwMW%@…—+=−±×<>≤≥": 1.0}
_EM: Final = {letter: em for letters, em in _WIDTHS.items() for letter in letters}
_LOWER_EM, _OTHER_EM, _BOLD = 0.65, 0.76, 1.12


def room_px(words: str, size_px: float, *, bold: bool = False) -> float:
    """Return how long words may be in any usual face.

    >>> round(room_px("what an ear can't tell", 10.0))
    119
    """
    em = sum(
        _EM.get(letter) or (_LOWER_EM if letter.islower() or letter.isdigit() else _OTHER_EM)
        for letter in words
    )
    return em * size_px * (_BOLD if bold else 1.0)


def lines_in(words: str, width_px: float, size_px: float, *, bold: bool = False) -> list[str]:
    """Break words at their spaces into lines that fit a width; one longer than that stays whole.

    >>> lines_in("rebound doubles", 80.0, 13.0)
    ['rebound', 'doubles']
    """
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and room_px(longer, size_px, bold=bold) > width_px:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def in_rows(widths: Sequence[float], width_px: float, gap_px: float) -> Iterator[tuple[float, int]]:
    """Lay things in rows: how far right each begins, and in which row.

    >>> list(in_rows([50, 60, 40], 120, 10))
    [(0.0, 0), (60.0, 0), (0.0, 1)]
    """
    x, row = 0.0, 0
    for width in widths:
        if x and x + width > width_px:
            x, row = 0.0, row + 1
        yield x, row
        x += width + gap_px


SPARE = 0.04  # of a tight axis, beyond its values
TIME_STEPS_S = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200)
LABEL_GAP_PX, HALF_LETTER_PX = 7.0, 3.5

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Axis:
    """A range of values with the steps that are written at it."""

    low: float
    high: float
    steps: Sequence[float] = ()
    decimals: int = 0
    on_log: bool = False

    def share(self, value: float) -> float:
        """Return how far along the axis a value lies, from 0 to 1."""
        low, high = self.low, self.high
        if self.on_log:
            low, high, value = math.log(low), math.log(high), math.log(value)
        return min(max((value - low) / (high - low), 0.0), 1.0)


def axis_over(
    values: Sequence[float], *, least_range: float, floor: float | None = None, tight: bool = False
) -> Axis:
    """Choose a range with round steps, never so narrow that what is steady looks unsteady.

    It ends at its outermost steps; a ``tight`` one a little beyond its values.
    """
    low, high = min(values), max(values)
    spare = max(0.0, least_range - (high - low)) / 2
    low, high = (low - spare, high + spare) if floor is None else (floor, max(high, floor + least_range))
    if tight:
        room = SPARE * (high - low)
        low, high = (low - room if floor is None else low), high + room
    step = round_step((high - low) / (3.5 if tight else 2.5))
    first, last = low / step, high / step
    if tight:
        ends = math.ceil(first - 1e-9), math.floor(last + 1e-9)
    else:
        ends = math.floor(first + 1e-9), math.ceil(last - 1e-9)
        low, high = ends[0] * step, ends[1] * step
    steps = tuple(i * step for i in range(ends[0], ends[1] + 1))
    return Axis(low, high, steps, max(0, -math.floor(math.log10(step) + 1e-9)))


def round_step(least: float) -> float:
    """Return 1, 2 or 5 times a power of ten, at least so large.

    >>> round_step(0.3), round_step(20.0)
    (0.5, 20.0)
    """
    power = 10.0 ** math.floor(math.log10(least))
    return next(nice * power for nice in (1, 2, 5, 10) if nice * power >= least * (1 - 1e-9))


def steps_within(low: float, high: float, sizes: Sequence[float], most: float) -> tuple[float, ...]:
    """Return the multiples between two values of the first size of which no more than ``most`` fit.

    >>> steps_within(0.0, 62.0, TIME_STEPS_S, 8)
    (0, 10, 20, 30, 40, 50, 60)
    """
    size = next((each for each in sizes if (high - low) / each <= most), sizes[-1])
    return tuple(i * size for i in range(math.ceil(low / size - 1e-9), math.floor(high / size + 1e-9) + 1))


def joined(points: Iterable[Point]) -> str:
    """Return a line through places as path data; "" of none."""
    line = "L".join(f"{px(x)} {px(y)}" for x, y in points)
    return f"M{line}" if line else ""


def box(left: float, top: float, right: float, bottom: float) -> str:
    """Return a rectangle as path data."""
    return f"M{px(left)} {px(top)}H{px(right)}V{px(bottom)}H{px(left)}z"


@dataclass(frozen=True, slots=True)
class Frame:
    """A chart's edges and its two axes."""

    left: float
    right: float
    top: float
    bottom: float
    across: Axis
    up: Axis

    def x(self, value: float) -> float:
        """Return where a value of the axis across is drawn."""
        return self.left + self.across.share(value) * (self.right - self.left)

    def y(self, value: float) -> float:
        """Return where a value of the axis upwards is drawn."""
        return self.bottom - self.up.share(value) * (self.bottom - self.top)

    def line(self, points: Iterable[Point]) -> str:
        """Return a line through values as path data."""
        return joined([(self.x(x), self.y(y)) for x, y in points])

    def ribbon(self, points: Sequence[tuple[float, float, float]]) -> str:
        """Draw the pale band between two lines: each point is across, low, high."""
        there = [(x, high) for x, _, high in points]
        back = [(x, low) for x, low, _ in reversed(points)]
        return el("path", class_="band", d=self.line([*there, *back]) + "z")

    def band(self, low: float, high: float) -> str:
        """Draw the pale band between two values of the axis upwards."""
        return el("path", class_="band", d=box(self.left, self.y(high), self.right, self.y(low)))

    def level(self, value: float) -> str:
        """Return a straight line at a value of the axis upwards as path data."""
        return f"M{px(self.left)} {px(self.y(value))}H{px(self.right)}"

    def upright(self, value: float) -> str:
        """Return a straight line at a value of the axis across as path data."""
        return f"M{px(self.x(value))} {px(self.top)}V{px(self.bottom)}"

    def whisker(self, value: float, low: float, high: float) -> str:
        """Return an upright range at a value of the axis across as path data."""
        return f"M{px(self.x(value))} {px(self.y(low))}V{px(self.y(high))}"

    def levels(self) -> Iterator[str]:
        """Draw a line across at each step of the axis upwards, its figure left of it."""
        yield el("path", class_="grid", d="".join(map(self.level, self.up.steps)))
        for step in self.up.steps:
            words = plain(step, self.up.decimals)
            yield text_at(self.left - LABEL_GAP_PX, self.y(step) + HALF_LETTER_PX, words, class_="n")

    def places(self, written: Callable[[float], object], *, below_px: float = 17.0) -> Iterator[str]:
        """Draw a tick at each step of the axis across, and what is written of it below."""
        ticks = "".join(f"M{px(self.x(step))} {px(self.bottom)}v4" for step in self.across.steps)
        yield el("path", class_="grid", d=ticks)
        for step in self.across.steps:
            yield text_at(self.x(step), self.bottom + below_px, written(step), class_="n m")
