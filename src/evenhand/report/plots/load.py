r"""The picture of a load: each week a line of sticks, the right hand's over the left hand's.

Conventions: px of the drawing's own units, weeks downwards, oldest on top. A stick stands
for a round number of strokes, the same for the whole drawing, in groups of five; the last
one is as long as its share. Right sticks lean ``/``, left ones ``\``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from evenhand.music.exercise import HANDS, Hand
from evenhand.planning.load.counts import Jump, WeekLoad, WeeklyLoad
from evenhand.report.plots.axes import round_step
from evenhand.report.plots.marks import HAND_CLASS, stick_path
from evenhand.report.plots.markup import el, lines_in, px, text_at
from evenhand.report.plots.shell import picture_file
from evenhand.report.words.figures import count, count_words
from evenhand.report.words.load import jump_lines, load_words, rise_words, thousands
from evenhand.report.words.times import duration, short_day

WIDTH = 680.0
LEFT, TOP, BOTTOM = 122.0, 20.0, 38.0
SAID_PX, SAID_LINE = 14.0, 18.0
MARGIN = 24.0  # where a sentence begins: it is longer than the sticks
HEAD_PX, ROW_PX, HAND_PX, BREAK_PX, BETWEEN_PX = 34.0, 46.0, 17.0, 20.0, 20.0
STEP_PX, FIVE_PX = 8.0, 6.0  # from stick to stick, and what is added after each fifth
HALF_X, HALF_Y = 2.8, 5.0
MOST_STICKS = 37  # of one hand in one week: as many as there is room for
MOST_WEEKS = 26


def load_picture(loads: Sequence[WeeklyLoad]) -> str:
    """Draw loads as one SVG document of its own, one under the other."""
    unit = stick_unit(max((most for weekly in loads for most in _strokes(weekly)), default=0))
    inside: list[str] = []
    y = TOP
    for weekly in loads:
        parts, y = _drawn_load(weekly, unit, y if weekly is loads[0] else y + BETWEEN_PX)
        inside += parts
    if any(weekly.weeks for weekly in loads):
        strokes = count_words(unit, "stroke")
        inside.append(text_at(LEFT, y + 16, f"one stick is {strokes}; groups of five"))
    return picture_file(
        "load", inside, WIDTH, y + BOTTOM, title="Strokes of each hand a week", words=" ".join(_words(loads))
    )


def stick_unit(most: int) -> int:
    """Return how many strokes a stick stands for, so that the longest line has room.

    >>> stick_unit(300), stick_unit(3700), stick_unit(3701)
    (10, 100, 200)
    """
    return int(round_step(max(most / MOST_STICKS, 1)))


def _words(loads: Sequence[WeeklyLoad]) -> Iterator[str]:
    for weekly in loads:
        yield load_words(weekly)
        yield from jump_lines(weekly)


def _strokes(weekly: WeeklyLoad) -> list[int]:
    return [load.strokes for week in weekly.weeks[-MOST_WEEKS:] for load in week.hands.values()]


def _drawn_load(weekly: WeeklyLoad, unit: int, y: float) -> tuple[list[str], float]:
    """Draw one load from ``y`` on, and say where it ends."""
    said = lines_in(load_words(weekly), WIDTH - 2 * MARGIN, SAID_PX)
    out = [text_at(MARGIN, y + 6 + i * SAID_LINE, line, class_="said") for i, line in enumerate(said)]
    y += HEAD_PX + (len(said) - 1) * SAID_LINE
    shown = weekly.weeks[-MOST_WEEKS:]
    if len(shown) < len(weekly.weeks):
        out.append(text_at(LEFT, y - 8, f"the newest {len(shown)} of {len(weekly.weeks)} weeks"))
        y += BREAK_PX
    for week in shown:
        if week.empty_before and week is not shown[0]:
            weeks = count(week.empty_before, "week")
            out.append(text_at(LEFT, y + 4, f"{weeks} with nothing {weekly.kind}"))
            y += BREAK_PX
        out += _week(week, [jump for jump in weekly.jumps if jump.week == week.name], unit, y)
        y += ROW_PX
    return out, y


def _week(week: WeekLoad, jumps: Sequence[Jump], unit: int, y: float) -> list[str]:
    """Draw one week: its name, its sticks, its figures, and by how much it jumps."""
    out = [
        el("path", d=f"M{px(LEFT)} {px(y - 8)}H{px(WIDTH - MARGIN)}", class_="grid"),
        text_at(LEFT - 14, y + 7, week.name if week.monday is None else short_day(week.monday), class_="n"),
    ]
    if week.monday is not None:
        out.append(text_at(LEFT - 14, y + 22, week.name, class_="n"))
    for place, hand in enumerate(HANDS):
        load, at = week.hands[hand], y + 4 + place * HAND_PX
        drawn = _sticks(load.strokes / unit, hand, at)
        if drawn:
            out.append(el("path", d=drawn, class_=HAND_CLASS[hand]))
        rises = [jump for jump in jumps if jump.hand == hand]
        words = f"{hand} {thousands(load.strokes)}, {duration(60 * load.minutes, 'minutes')}"
        out.append(text_at(WIDTH - 96, at + 4, words, class_="n ink" if rises else "n"))
        if rises:
            of = "" if rises[0].figure == "strokes" else " min"
            out.append(text_at(WIDTH - MARGIN, at + 4, rise_words(rises[0]) + of, class_="n ink"))
    return out


def _sticks(sticks: float, hand: Hand, y: float) -> str:
    """Lay sticks in a line, the last one shorter where it is not whole."""
    whole = int(sticks)
    out = [stick_path(_x(i), y, HALF_X, HALF_Y, hand) for i in range(whole)]
    rest = sticks - whole
    if rest > 0:
        size = max(rest, 0.12)
        out.append(stick_path(_x(whole), y + HALF_Y * (1 - size), HALF_X * size, HALF_Y * size, hand))
    return "".join(out)


def _x(stick: int) -> float:
    return LEFT + HALF_X + stick * STEP_PX + stick // 5 * FIVE_PX
