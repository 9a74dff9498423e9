"""The picture of where a student is on the path: the stages in a row, and each condition on its own scale.

Conventions: px of the drawing's own units, y downwards. The pale band is where a condition is met; a whisker
is a 95 % range, in the ink of its hand and leaning as its hand holds the stick, or in ink for both.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from evenhand.music.exercise import Hand
from evenhand.progress.stages.path import Advice, Judged, PracticePath
from evenhand.report.plots.marks import HAND_CLASS, dot_path, stick_path
from evenhand.report.plots.markup import el, lines_in, picture, px, room_px, text_at
from evenhand.report.plots.shell import DARK, FAMILY, LIGHT

WIDTH, LEFT, RIGHT = 720.0, 24.0, 24.0
STAGE_Y, TO_FIRST, BETWEEN, BOTTOM = 40.0, 50.0, 12.0, 30.0
LETTER_PX, LINE_PX = 13.0, 17.0
SCALE_X, SCALE_PX = 236.0, 200.0
LEFT_PX, RIGHT_PX = SCALE_X - LEFT - 12.0, WIDTH - RIGHT - SCALE_X - SCALE_PX - 20.0  # of the words beside it
STICK_X, STICK_Y = 3.0, 5.5
HAND_APART = 5.0
TWO_SIDED = {"hands_apart_ms", "balance_db"}
STYLE = (
    f"svg{{{LIGHT}}}@media screen and (prefers-color-scheme:dark){{svg{{{DARK}}}}}"
    "@media print{svg{--paper:#fff;--band:#f0ebdf}}"
    f"text{{font:{LETTER_PX:g}px {FAMILY};fill:var(--quiet);font-variant-numeric:lining-nums tabular-nums}}"
    ".said{fill:var(--ink)}.now{font-weight:700;fill:var(--ink)}.m{text-anchor:middle}.e{text-anchor:end}"
    "path{fill:none;stroke-linecap:round;stroke-linejoin:round}"
    ".band{fill:var(--band)}.rule{stroke:var(--rule);stroke-width:.8}.bound{stroke:var(--zero);stroke-width:1.2}"
    ".r{stroke:var(--right)}.l{stroke:var(--left)}.both{stroke:var(--ink)}"
    ".whisker{stroke-width:1.4}.stick{stroke-width:2.2}.dot{stroke-width:6}.path{stroke:var(--quiet)}"
    ".to{stroke:var(--ink);stroke-width:1.4}.paper{fill:var(--paper)}"
)


@dataclass(frozen=True, slots=True)
class RowWords:
    """What is written beside a condition's scale."""

    asked: str
    found: str
    verdict: str


@dataclass(frozen=True, slots=True)
class _Scale:
    """Where a condition's values lie: ``low`` to ``high``, met between ``band``."""

    low: float
    high: float
    band: tuple[float, float]

    def x(self, value: float) -> float:
        """Return where a value is drawn, kept inside the scale."""
        share = (value - self.low) / (self.high - self.low)
        return SCALE_X + min(max(share, 0.0), 1.0) * SCALE_PX


def advice_picture(path: PracticePath, advice: Advice, rows: Sequence[RowWords], words: str) -> str:
    """Draw it as one SVG document of its own; ``rows`` are the words of each condition, ``words`` of all."""
    stages, y = _stages(path, advice)
    y += TO_FIRST
    drawn: list[str] = []
    for judged, said in zip(advice.judged, rows, strict=True):
        row, lines = _row(judged, y, said)
        drawn += row
        y += lines * LINE_PX + BETWEEN
    height = y - LINE_PX + BOTTOM
    inside = [
        el("style", STYLE),
        el("rect", width=WIDTH, height=height, class_="paper"),
        *stages,
        *drawn,
    ]
    return picture(
        inside,
        width=WIDTH,
        height=height,
        key="advice",
        title=f"The path, at {advice.stage}",
        words=words,
        class_="advice",
    )


def _stages(path: PracticePath, advice: Advice) -> tuple[list[str], float]:
    """Draw the stages as places on a line, the present one full, with where the proposal leads.

    Return them and where their names end. Where a name is wider than its place, each second one stands lower.
    """
    step = (WIDTH - LEFT - RIGHT) / len(path.stages)
    places = {stage.name: LEFT + step * (i + 0.5) for i, stage in enumerate(path.stages)}
    names = {name: lines_in(name, step - 8, LETTER_PX, bold=True) for name in places}
    longest = max(room_px(line, LETTER_PX, bold=True) for lines in names.values() for line in lines)
    most, levels = max(map(len, names.values())), min(math.ceil(longest / (step - 8)), len(names))
    out = [el("path", class_="rule", d=f"M{px(LEFT)} {px(STAGE_Y)}H{px(WIDTH - RIGHT)}")]
    for place, (name, x) in enumerate(places.items()):
        now, y = name == advice.stage, STAGE_Y + 22 + place % levels * most * LINE_PX
        out.append(el("path", class_="dot both" if now else "dot path", d=dot_path(x, STAGE_Y)))
        out += _lines(names[name], x, y, "now m" if now else "m")
    here, there = places[advice.stage], places.get(advice.to, places[advice.stage])
    if here != there:
        out.append(el("path", class_="to", d=_arrow(here, there)))
    return out, STAGE_Y + 22 + (levels * most - 1) * LINE_PX


def _lines(lines: Sequence[str], x: float, y: float, class_: str = "") -> Iterator[str]:
    """Write lines one under the other."""
    for place, line in enumerate(lines):
        yield text_at(x, y + place * LINE_PX, line, class_=class_)


def _arrow(here: float, there: float) -> str:
    """Return a bow from one place to another, with a head of two strokes."""
    end_y, bow_y = STAGE_Y - 8, STAGE_Y - 28
    middle = (here + there) / 2
    way = math.atan2(end_y - bow_y, there - middle)
    arms = [(there - 8 * math.cos(way + turn), end_y - 8 * math.sin(way + turn)) for turn in (-0.5, 0.5)]
    bow = f"M{px(here)} {px(end_y)}Q{px(middle)} {px(bow_y)} {px(there)} {px(end_y)}"
    return bow + "".join(f"M{px(x)} {px(y)}L{px(there)} {px(end_y)}" for x, y in arms)


def _row(judged: Judged, y: float, said: RowWords) -> tuple[list[str], int]:
    """Draw one condition: its words, its scale, and what was found; return how many lines it takes."""
    words, asked = (lines_in(each, LEFT_PX, LETTER_PX) for each in (judged.condition.words, said.asked))
    verdict, found = (lines_in(each, RIGHT_PX, LETTER_PX) for each in (said.verdict, said.found))
    out = [
        *_lines(words, LEFT, y - 2, "said"),
        *_lines(asked, LEFT, y - 2 + len(words) * LINE_PX),
        *_lines(verdict, WIDTH - RIGHT, y - 2, "said e"),
        *_lines(found, WIDTH - RIGHT, y - 2 + len(verdict) * LINE_PX, "e"),
    ]
    scale = _scale_of(judged)
    if scale is not None:
        out += _drawn_scale(judged, scale, y)
    return out, max(len(words) + len(asked), len(verdict) + len(found))


def _drawn_scale(judged: Judged, scale: _Scale, y: float) -> Iterator[str]:
    """Draw where a condition is met, and each hand's figure."""
    top, bottom = px(y - 13), px(y + 9)
    a, b = scale.x(scale.band[0]), scale.x(scale.band[1])
    yield el("path", class_="band", d=f"M{px(a)} {top}H{px(b)}V{bottom}H{px(a)}z")
    yield el("path", class_="rule", d=f"M{px(SCALE_X)} {px(y - 2)}h{px(SCALE_PX)}")
    edges = "".join(f"M{px(x)} {top}V{bottom}" for x in {a, b} if SCALE_X < x < SCALE_X + SCALE_PX)
    yield el("path", class_="bound", d=edges)
    yield from _marks(judged, scale, y - 2)


def _scale_of(judged: Judged) -> _Scale | None:
    """Choose the values that are drawn: the bound lies in the middle of what is asked and what is not."""
    bound = judged.bound
    if bound is None or bound == 0:
        return None
    reach = abs(bound)
    if judged.condition.measure in TWO_SIDED:
        return _Scale(-3 * reach, 3 * reach, (-reach, reach))
    if judged.condition.relation == "at most":
        return _Scale(0.0, 2 * reach, (0.0, bound))
    return _Scale(bound - reach, bound + reach, (bound, bound + reach))


def _marks(judged: Judged, scale: _Scale, y: float) -> Iterator[str]:
    """Draw each hand's figure, or that of both."""
    rows: Sequence[tuple[Hand | None, float | None, tuple[float, float] | None]]
    if judged.hands and judged.hand is not None:
        rows = [(hand, measure.value, measure.ci95) for hand, measure in judged.hands.items()]
    else:
        rows = [(None, judged.value, judged.ci95 or _open_ended(judged, scale))]
    for hand, value, ci95 in rows:
        at = y + {None: 0.0, "R": -HAND_APART, "L": HAND_APART}[hand]
        ink = "both" if hand is None else HAND_CLASS[hand]
        if ci95 is not None:
            low, high = scale.x(ci95[0]), scale.x(ci95[1])
            yield el("path", class_=f"whisker {ink}", d=f"M{px(low)} {px(at)}H{px(high)}")
        if value is not None:
            x = scale.x(value)
            mark = dot_path(x, at) if hand is None else stick_path(x, at, STICK_X, STICK_Y, hand)
            yield el("path", class_=f"{'dot' if hand is None else 'stick'} {ink}", d=mark)
            yield from _beyond(value, scale, at)


def _beyond(value: float, scale: _Scale, y: float) -> Iterator[str]:
    """Mark a value that lies outside the scale by a small arrow head."""
    if scale.low <= value <= scale.high:
        return
    side = 1 if value > scale.high else -1
    x = SCALE_X + (SCALE_PX if side > 0 else 0.0) + side * 10
    yield el(
        "path",
        class_="to",
        d=f"M{px(x - 4 * side)} {px(y - 4)}L{px(x)} {px(y)}L{px(x - 4 * side)} {px(y + 4)}",
    )


def _open_ended(judged: Judged, scale: _Scale) -> tuple[float, float] | None:
    """Return the span of a ceiling that is bounded on one side only."""
    if judged.at_least is None and judged.at_most is None:
        return None
    low = scale.low if judged.at_least is None else judged.at_least
    return low, scale.high if judged.at_most is None else judged.at_most
