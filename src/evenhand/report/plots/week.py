r"""Weeks as sticks: a week in one line, one stick a take; and the load of many, the right hand over the left.

Conventions: px, y downwards; days go from left to right, the last one is today. Sticks stand upright and
in plain ink, since they count takes and no hand is meant. Many takes in a day stand closer together; beyond
what can be counted at a look, the words have the number.

In a load's picture weeks go downwards, oldest on top. A stick stands
for a round number of strokes, the same for the whole drawing, in groups of five; the last
one is as long as its share. Right sticks lean ``/``, left ones ``\``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from evenhand.music.exercise import HANDS, Hand
from evenhand.planning.load import Jump, WeekLoad, WeeklyLoad
from evenhand.report.plots.marks import HAND_CLASS, Ink, stick_path
from evenhand.report.plots.markup import el, lines_in, px, round_step, svg, text_at
from evenhand.report.plots.shell import picture_file
from evenhand.report.words.figures import count, count_words, duration, listed, short_day
from evenhand.report.words.progress import jump_lines, load_words, rise_words, thousands

DAY_PX, HEIGHT_PX = 38.0, 44.0
LINE_Y, DAY_TICK_PX, LETTERS_Y = 20.0, 6.0, 36.5
MOST_STICKS = 12  # drawn in a day
WIDEST_STEP_PX, LEFT_PX = 5.4, 6.0
STICK_PX = 12.8  # a stick's height
WEIGHT_PX = 1.7
RISES = (0.0, -1.6, 1.2, -0.8, 1.8)  # a burst is played, not ruled


@dataclass(frozen=True, slots=True)
class DayMarks:
    """One day: its short name, how many takes came, whether the lesson is on it."""

    name: str
    takes: int
    lesson: bool = False


def week_marks(days: Sequence[DayMarks]) -> str:
    """Draw the days as SVG; ``week_words`` says the same."""
    width = DAY_PX * len(days)
    ink = Ink()
    for number, day in enumerate(days):
        _burst(ink, number * DAY_PX, day.takes)
    return svg(
        (width, HEIGHT_PX),
        el("path", class_="rule", d=_axis(len(days))),
        *(_name(day, number * DAY_PX) for number, day in enumerate(days)),
        ink.drawn(),
        width=px(width),
        height=px(HEIGHT_PX),
        role="img",
        aria_label=week_words(days),
        class_="week-marks",
    )


def week_words(days: Sequence[DayMarks]) -> str:
    """Say the week in words.

    >>> week_words([DayMarks("Thu", 2), DayMarks("Fri", 0), DayMarks("Sat", 1)])
    'Thu 2 takes and Sat 1 take; nothing on the other days.'
    >>> week_words([DayMarks("Thu", 0)])
    'No take in these days.'
    """
    played = [f"{day.name} {count(day.takes, 'take')}" for day in days if day.takes]
    if not played:
        return "No take in these days."
    return listed(played) + ("." if len(played) == len(days) else "; nothing on the other days.")


def _axis(days: int) -> str:
    """Draw the line of the days, a tick where each begins."""
    ticks = (
        f"M{px(day * DAY_PX + 0.5)} {px(LINE_Y - DAY_TICK_PX)}v{px(2 * DAY_TICK_PX)}" for day in range(days)
    )
    return f"M0.5 {px(LINE_Y)}H{px(days * DAY_PX)}{''.join(ticks)}"


def _name(day: DayMarks, left: float) -> str:
    return el("text", day.name, x=left + 2.5, y=LETTERS_Y, class_="lesson" if day.lesson else None)


def _burst(ink: Ink, left: float, takes: int) -> None:
    """Put a day's sticks on the line."""
    shown = min(takes, MOST_STICKS)
    room = DAY_PX - 2 * LEFT_PX
    step = min(WIDEST_STEP_PX, room / max(shown - 1, 1))
    for each in range(shown):
        x, y = left + LEFT_PX + each * step, LINE_Y + RISES[each % len(RISES)]
        ink.add("both", WEIGHT_PX, f"M{px(x)} {px(y + STICK_PX / 2)}v{px(-STICK_PX)}")


WIDTH = 680.0
LEFT, TOP, BOTTOM = 122.0, 20.0, 38.0
SAID_PX, SAID_LINE = 14.0, 18.0
MARGIN = 24.0  # where a sentence begins: it is longer than the sticks
HEAD_PX, ROW_PX, HAND_PX, BREAK_PX, BETWEEN_PX = 34.0, 46.0, 17.0, 20.0, 20.0
STEP_PX, FIVE_PX = 8.0, 6.0  # from stick to stick, and what is added after each fifth
HALF_X, HALF_Y = 2.8, 5.0
LOAD_MOST_STICKS = 37  # of one hand in one week: as many as there is room for
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
    return int(round_step(max(most / LOAD_MOST_STICKS, 1)))


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
