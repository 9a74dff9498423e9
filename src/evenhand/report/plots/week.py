"""A student's week in one line: a burst of sticks on each day practised, one stick a take.

Conventions: px, y downwards; days go from left to right, the last one is today. Sticks stand upright and
in plain ink, since they count takes and no hand is meant. Many takes in a day stand closer together; beyond
what can be counted at a look, the words have the number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evenhand.report.plots.marks import Ink
from evenhand.report.plots.markup import el, px, svg
from evenhand.report.words.figures import count, listed

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
