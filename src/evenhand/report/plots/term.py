"""A term's weeks for paper: a stick for each day with a recording, side by side, under each week's Monday.

Conventions: px, y downwards; weeks go from left to right, in rows where they are many. A week's sticks stand
in plain ink, since they count days and no hand is meant; days in a holiday are a pale band behind. For paper
all inks and the font stand inside.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from evenhand.report.plots.markup import el, px, svg, text_at
from evenhand.report.plots.shell import inks
from evenhand.report.words.figures import short_day
from evenhand.report.words.term import TermWeek

WEEK_PX, ROW_PX = 50.0, 54.0
A_ROW = 13  # weeks: a quarter of a year
LINE_Y, STICK_PX, STEP_PX, LEFT_PX = 26.0, 16.0, 5.6, 4.0
DAYS = 7
FIGURE_Y, LETTERS_Y = 9.0, 42.0
RISES = (0.0, -1.2, 0.9, -0.6, 1.3, -0.9, 0.4)  # they are played, not ruled


def term_weeks(weeks: Sequence[TermWeek]) -> tuple[str, float]:
    """Draw the weeks as SVG for paper; give it and its width, px."""
    across = min(len(weeks), A_ROW)
    rows = -(-len(weeks) // A_ROW)
    drawn = [
        part
        for number, week in enumerate(weeks)
        for part in _week(week, number % A_ROW * WEEK_PX, number // A_ROW * ROW_PX)
    ]
    size = across * WEEK_PX, rows * ROW_PX
    return svg(size, _style(), *drawn, width=px(size[0]), height=px(size[1])), size[0]


def _style() -> str:
    found = inks()
    return el(
        "style",
        f'text{{font-family:"Libertinus Serif";font-size:10px;fill:{found["quiet"]}}}'
        f".n{{fill:{found['ink']};font-size:11px}}"
        f".day{{stroke:{found['ink']};stroke-width:1.7;stroke-linecap:round}}"
        f".line{{stroke:{found['zero']};stroke-width:1}}.away{{fill:{found['band']}}}",
    )


def _week(week: TermWeek, left: float, top: float) -> Iterator[str]:
    """Draw one week: the holiday's band, the line, a stick a day, the number, the Monday."""
    if week.away:
        width = (WEEK_PX - 6) * week.away / DAYS
        yield el(
            "rect", class_="away", x=left, y=top + LINE_Y - STICK_PX, width=px(width), height=px(2 * STICK_PX)
        )
    yield el("path", class_="line", d=f"M{px(left)} {px(top + LINE_Y)}h{px(WEEK_PX - 6)}")
    if week.days:
        foot = top + LINE_Y + STICK_PX / 2
        sticks = (
            f"M{px(left + LEFT_PX + day * STEP_PX)} {px(foot + rise)}v{px(-STICK_PX)}"
            for day, rise in zip(range(week.days), RISES, strict=False)
        )
        yield el("path", class_="day", d="".join(sticks))
        yield text_at(left, top + FIGURE_Y, str(week.days), class_="n")
    yield text_at(left, top + LETTERS_Y + 6, short_day(week.monday))
