"""The picture of where a student is on the path: the stages in a row, and each condition on its own scale.

Conventions: px of the drawing's own units, y downwards. The pale band is where a condition is met; a whisker
is a 95 % range, in the ink of its hand and leaning as its hand holds the stick, or in ink for both.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from evenhand.music.exercise import Hand
from evenhand.progress.stages.path import PracticePath
from evenhand.progress.stages.verdicts import Advice, Judged
from evenhand.report.plots.marks import HAND_CLASS, dot_path, hand_mark
from evenhand.report.plots.markup import Axis, Frame, box, el, joined, lines_in, px, room_px, text_at
from evenhand.report.plots.shell import picture_file
from evenhand.report.words.advice import (
    TEACHER_DECIDES,
    VERDICTS,
    bound_words,
    figure_words,
    headline,
    reason_words,
)

WIDTH, LEFT, RIGHT = 720.0, 24.0, 24.0
STAGE_Y, TO_FIRST, BETWEEN, BOTTOM = 40.0, 50.0, 12.0, 30.0
LETTER_PX, LINE_PX = 13.0, 17.0
SCALE_X, SCALE_PX = 236.0, 200.0
LEFT_PX, RIGHT_PX = SCALE_X - LEFT - 12.0, WIDTH - RIGHT - SCALE_X - SCALE_PX - 20.0  # of the words beside it
STICK_X, STICK_Y = 3.0, 5.5
HAND_APART = 5.0
NAMED_ALL = 8  # stages of a path that are all named
TWO_SIDED = {"hands_apart_ms", "balance_db", "second_ms", "heights_apart_percent"}


def advice_picture(path: PracticePath, advice: Advice) -> str:
    """Draw the advice at a stage as one SVG document of its own."""
    stages, y = _stages(path, advice)
    y += TO_FIRST
    drawn: list[str] = []
    for judged in advice.judged:
        if judged.verdict == "not seen" and not judged.counts:
            continue
        row, lines = _row(judged, y)
        drawn += row
        y += lines * LINE_PX + BETWEEN
    return picture_file(
        "advice",
        [*stages, *drawn],
        WIDTH,
        y - LINE_PX + BOTTOM,
        title=f"The path, at {advice.stage}",
        words=f"{headline(advice).capitalize()}. {reason_words(advice, path)} {TEACHER_DECIDES}",
    )


def _stages(path: PracticePath, advice: Advice) -> tuple[list[str], float]:
    """Draw the stages as places on a line, the present one full, with where the proposal leads.

    Return them and where their names end. Where a name is wider than its place, each second one stands lower.
    Of a long path those are named that lie near, and where it begins and ends.
    """
    step = (WIDTH - LEFT - RIGHT) / len(path.stages)
    places = {stage.name: LEFT + step * (i + 0.5) for i, stage in enumerate(path.stages)}
    named = _named(list(places), advice)
    names = {name: lines_in(name, step - 8, LETTER_PX, bold=True) for name in named}
    longest = max(room_px(line, LETTER_PX, bold=True) for lines in names.values() for line in lines)
    most, levels = max(map(len, names.values())), min(math.ceil(longest / (step - 8)), len(names))
    out = [el("path", class_="grid", d=f"M{px(LEFT)} {px(STAGE_Y)}H{px(WIDTH - RIGHT)}")]
    for name, x in places.items():
        now = name == advice.stage
        out.append(el("path", class_="dot both" if now else "dot stage", d=dot_path(x, STAGE_Y)))
        if name in named:
            y = STAGE_Y + 22 + named.index(name) % levels * most * LINE_PX
            out += _lines(names[name], x, y, "ink now m" if now else "m")
    here, there = places[advice.stage], places.get(advice.to, places[advice.stage])
    if here != there:
        out.append(el("path", class_="to", d=_arrow(here, there)))
    return out, STAGE_Y + 22 + (levels * most - 1) * LINE_PX


def _named(names: Sequence[str], advice: Advice) -> list[str]:
    """Choose which stages are named: all of a short path; of a long one, those near, and its two ends."""
    if len(names) <= NAMED_ALL:
        return list(names)
    here = names.index(advice.stage)
    near = {here - 1, here, here + 1, 0, len(names) - 1}
    return [name for place, name in enumerate(names) if place in near or name == advice.to]


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


def _row(judged: Judged, y: float) -> tuple[list[str], int]:
    """Draw one condition: its words, its scale, and what was found; return how many lines it takes."""
    asked = lines_in(bound_words(judged.condition, judged.bound), LEFT_PX, LETTER_PX)
    words = lines_in(judged.condition.words, LEFT_PX, LETTER_PX)
    verdict = lines_in(VERDICTS[judged.verdict], RIGHT_PX, LETTER_PX)
    found = lines_in(figure_words(judged), RIGHT_PX, LETTER_PX)
    out = [
        *_lines(words, LEFT, y - 2, "ink"),
        *_lines(asked, LEFT, y - 2 + len(words) * LINE_PX),
        *_lines(verdict, WIDTH - RIGHT, y - 2, "ink n"),
        *_lines(found, WIDTH - RIGHT, y - 2 + len(verdict) * LINE_PX, "n"),
        *_scale(judged, y),
    ]
    return out, max(len(words) + len(asked), len(verdict) + len(found))


def _scale(judged: Judged, y: float) -> Iterator[str]:
    """Draw where a condition is met, and each hand's figure.

    The bound lies in the middle of what is asked and what is not.
    """
    bound = judged.bound
    if bound is None or bound == 0:
        return
    reach = abs(bound)
    if judged.condition.measure in TWO_SIDED:
        values, met = Axis(-3 * reach, 3 * reach), (-reach, reach)
    elif judged.condition.relation == "at most":
        values, met = Axis(0.0, 2 * reach), (0.0, bound)
    else:
        values, met = Axis(bound - reach, bound + reach), (bound, bound + reach)
    frame = Frame(SCALE_X, SCALE_X + SCALE_PX, y - 13, y + 9, values, Axis(0.0, 1.0))
    a, b = map(frame.x, met)
    yield el("path", class_="band", d=box(a, frame.top, b, frame.bottom))
    yield el("path", class_="grid", d=f"M{px(SCALE_X)} {px(y - 2)}h{px(SCALE_PX)}")
    edges = [edge for edge, x in zip(met, (a, b), strict=True) if frame.left < x < frame.right]
    yield el("path", class_="bound", d="".join(map(frame.upright, edges)))
    yield from _marks(judged, frame, y - 2)


def _marks(judged: Judged, frame: Frame, y: float) -> Iterator[str]:
    """Draw each hand's figure, or that of both."""
    rows: Sequence[tuple[Hand | None, float | None, tuple[float, float] | None]]
    if judged.hands and judged.hand is not None:
        rows = [(hand, measure.value, measure.ci95) for hand, measure in judged.hands.items()]
    else:
        rows = [(None, judged.value, judged.ci95 or _open_ended(judged, frame.across))]
    for hand, value, ci95 in rows:
        at = y + {None: 0.0, "R": -HAND_APART, "L": HAND_APART}[hand]
        ink = HAND_CLASS[hand]
        if ci95 is not None:
            low, high = map(frame.x, ci95)
            yield el("path", class_=f"whisker {ink}", d=f"M{px(low)} {px(at)}H{px(high)}")
        if value is not None:
            mark = hand_mark(frame.x(value), at, STICK_X, STICK_Y, hand)
            yield el("path", class_=f"{'dot' if hand is None else 'stick'} {ink}", d=mark)
            yield _beyond(value, frame, at)


def _beyond(value: float, frame: Frame, y: float) -> str:
    """Mark a value that lies outside the scale by a small arrow head."""
    if frame.across.low <= value <= frame.across.high:
        return ""
    side = 1 if value > frame.across.high else -1
    x = (frame.right if side > 0 else frame.left) + side * 10
    return el("path", class_="to", d=joined([(x - 4 * side, y - 4), (x, y), (x - 4 * side, y + 4)]))


def _open_ended(judged: Judged, values: Axis) -> tuple[float, float] | None:
    """Return the span of a ceiling that is bounded on one side only."""
    if judged.at_least is None and judged.at_most is None:
        return None
    low = values.low if judged.at_least is None else judged.at_least
    return low, values.high if judged.at_most is None else judged.at_most
