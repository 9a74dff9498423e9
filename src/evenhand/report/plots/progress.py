"""The picture of a student's weeks: small charts side by side, one a measure, the hands in two inks.

Conventions: px of the drawing's own units, y downwards; days along x. A take is a small stick, leaning as
its hand holds it (a dot for both), with a whisker for its 95 % range; the course is a line, solid for the
right hand, dashed for the left, faint where chance would do as well; the pale band is what an ear can't tell.
A heavy line at the end is a plateau.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from evenhand.music.exercise import Hand
from evenhand.progress.trends.values import (
    CeilingTrajectory,
    ExerciseProgress,
    MeasureTrajectory,
    StudentProgress,
)
from evenhand.report.plots.marks import HAND_CLASS, dot_path, stick_path
from evenhand.report.plots.markup import el, in_rows, lines_in, picture, px, room_px, text_at
from evenhand.report.plots.shell import DARK, FAMILY, LIGHT
from evenhand.report.words.figures import plain
from evenhand.report.words.progress import (
    ceiling_words,
    chance_note,
    course_name,
    course_words,
    day_at,
    exercise_facts,
    tempo_note,
)
from evenhand.report.words.times import day_words

WIDTH, MARGIN, GUTTER = 1000.0, 28.0, 30.0
COLUMNS = 3
PANEL_W = (WIDTH - 2 * MARGIN - (COLUMNS - 1) * GUTTER) / COLUMNS
PANEL_H, TITLE_H, BELOW_H, ROW_GAP = 132.0, 30.0, 22.0, 20.0
AXIS_W, END_W = 34.0, 12.0
HEAD_H, KEY_Y, KEY_GAP, KEY_LINE = 46.0, 56.0, 20.0, 18.0
LETTER_PX, HEAD_PX, HEAD_LINE = 11.5, 15.0, 19.0
STICK_X, STICK_Y = 2.4, 4.2
MOST_DAY_LABELS, PADDING = 5, 0.04
FAR = 1.6  # a wished tempo further off than that is not drawn
STYLE = (
    f"svg{{{LIGHT}}}@media screen and (prefers-color-scheme:dark){{svg{{{DARK}}}}}"
    "@media print{svg{--paper:#fff;--band:#f0ebdf}}"
    f"text{{font:{LETTER_PX:g}px {FAMILY};fill:var(--quiet);font-variant-numeric:lining-nums tabular-nums}}"
    ".top{font-size:19px;fill:var(--ink)}.head{font-size:15px;fill:var(--ink)}.said{font-size:12.5px;fill:var(--ink)}"
    ".n{text-anchor:end}.m{text-anchor:middle}"
    "path{fill:none;stroke-linecap:round;stroke-linejoin:round}"
    ".paper{fill:var(--paper)}.band{fill:var(--band)}.grid{stroke:var(--rule);stroke-width:.8}"
    ".r{stroke:var(--right)}.l{stroke:var(--left)}.both{stroke:var(--ink)}"
    ".whisker{stroke-width:1;opacity:.5}.stick{stroke-width:1.8}.dot{stroke-width:4}"
    ".line{stroke-width:1.5}.line.l{stroke-dasharray:5 3}.line.unsure{opacity:.45}"
    ".level{stroke-width:3.2}.wish{stroke:var(--ink);stroke-width:1;stroke-dasharray:2 3}"
)


@dataclass(frozen=True, slots=True)
class _Axis:
    """The range of values drawn, with the written steps inside it."""

    low: float
    high: float
    steps: tuple[float, ...]
    decimals: int


def _axis_over(values: Sequence[float], *, least_range: float, floor: float | None = None) -> _Axis:
    """Fit a range around values, never so narrow that a steady course looks unsteady."""
    low, high = min(values), max(values)
    spare = max(0.0, least_range - (high - low)) / 2
    low, high = (floor, max(high, floor + least_range)) if floor is not None else (low - spare, high + spare)
    room = PADDING * (high - low)
    low, high = (low if floor is not None else low - room), high + room
    rough = (high - low) / 3.5
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(nice * power for nice in (1, 2, 5, 10) if nice * power >= rough * 0.999)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return _Axis(low, high, tuple(i * step for i in range(first, last + 1)), decimals)


@dataclass(frozen=True, slots=True)
class _Panel:
    """One chart's place, its days and its values."""

    x: float
    y: float  # of its top, the title left out
    days: float
    axis: _Axis

    def at(self, day: float, value: float) -> tuple[float, float]:
        """Return where a value is drawn, kept inside the chart."""
        across = day / self.days if self.days else 0.5
        share = (value - self.axis.low) / (self.axis.high - self.axis.low)
        room = PANEL_W - AXIS_W - END_W
        return self.x + AXIS_W + across * room, self.y + PANEL_H * (1 - min(max(share, 0.0), 1.0))


def progress_picture(progress: StudentProgress, texts: Sequence[str]) -> str:
    """Draw all exercises of a student as one SVG document; ``texts`` are the exercises as written."""
    key, y = _key()
    inside = []
    for each, text in zip(progress.exercises, texts, strict=True):
        drawn, y = _exercise(each, text, y)
        inside += drawn
    if not progress.exercises:
        inside.append(text_at(MARGIN, y + 20, "No exercise was heard on two days yet.", class_="said"))
        y += 40
    note = lines_in(chance_note(progress), WIDTH - 2 * MARGIN, LETTER_PX)
    inside += [text_at(MARGIN, y + 6 + i * 16, line) for i, line in enumerate(note)]
    height = y + 12 + 16 * len(note)
    title = f"{progress.student}: the weeks" if progress.student else "The weeks"
    paper = el("rect", width=WIDTH, height=height, class_="paper")
    return picture(
        [el("style", STYLE), paper, text_at(MARGIN, 32, title, class_="top"), *key, *inside],
        width=WIDTH,
        height=height,
        key="progress",
        title=title,
        words=progress_words(progress, texts),
        class_="progress",
    )


def _key() -> tuple[list[str], float]:
    """Say what the marks are, in rows; return them, and where the charts may begin."""
    marks = [
        ("stick r", stick_path(4, -4, STICK_X, STICK_Y, "R"), 14.0, "right hand"),
        ("stick l", stick_path(4, -4, STICK_X, STICK_Y, "L"), 14.0, "left hand"),
        ("dot both", dot_path(4, -4), 14.0, "both"),
        ("whisker both", "M4 -10v12", 14.0, "95 % range"),
        ("band", "M0 -10h18v12h-18z", 24.0, "what an ear can't tell"),
        ("line both unsure", "M0 -4h20", 26.0, "no more than chance"),
        ("level both", "M0 -4h20", 26.0, "a plateau"),
    ]
    widths = [room + room_px(words, LETTER_PX) for _, _, room, words in marks]
    places = list(in_rows(widths, WIDTH - 2 * MARGIN, KEY_GAP))
    out = []
    for (class_, mark, room, words), (right, row) in zip(marks, places, strict=True):
        x, y = MARGIN + right, KEY_Y + row * KEY_LINE
        out.append(el("path", class_=class_, d=mark, transform=f"translate({px(x)} {px(y)})"))
        out.append(text_at(x + room, y, words))
    return out, KEY_Y + places[-1][1] * KEY_LINE + 22


def progress_words(progress: StudentProgress, texts: Sequence[str]) -> str:
    """Say the whole picture in words."""
    parts = []
    for each, text in zip(progress.exercises, texts, strict=True):
        first = each.takes[0].day
        parts.append(f"{text}, {exercise_facts(each)}.")
        parts += [f"{course_name(course)}: {course_words(course, first)}" for course in each.trajectories]
        if each.ceiling is not None:
            parts.append(f"tempo ceiling: {ceiling_words(each.ceiling, first)}")
    return " ".join(parts)


def _exercise(each: ExerciseProgress, text: str, y: float) -> tuple[list[str], float]:
    """Draw one exercise's charts in rows; return them and where the next may begin."""
    facts = " ".join(part for part in (f"{exercise_facts(each)}.", tempo_note(each)) if part)
    heads = lines_in(text, WIDTH - 2 * MARGIN, HEAD_PX)
    out = [text_at(MARGIN, y + 18 + i * HEAD_LINE, line, class_="head") for i, line in enumerate(heads)]
    y += (len(heads) - 1) * HEAD_LINE
    told = lines_in(facts, WIDTH - 2 * MARGIN, LETTER_PX)
    out += [text_at(MARGIN, y + 36 + i * 16, line) for i, line in enumerate(told)]
    y += HEAD_H + (len(told) - 1) * 16
    first = each.takes[0].day
    days = float((each.takes[-1].day - first).days)
    charts = [list(group) for _, group in groupby(each.trajectories, key=lambda course: course.followed)]
    n = len(charts) + (each.ceiling is not None)
    for place in range(n):
        x = MARGIN + (place % COLUMNS) * (PANEL_W + GUTTER)
        top = y + (place // COLUMNS) * (TITLE_H + PANEL_H + BELOW_H + ROW_GAP) + TITLE_H
        if place < len(charts):
            out += _measure_chart(charts[place], _Panel(x, top, days, _axis(charts[place])), first)
        elif each.ceiling is not None:
            out += _ceiling_chart(each.ceiling, x, top, days, first)
    rows = (n + COLUMNS - 1) // COLUMNS
    return out, y + rows * (TITLE_H + PANEL_H + BELOW_H + ROW_GAP)


def _axis(trajectories: Sequence[MeasureTrajectory]) -> _Axis:
    values = [
        edge
        for course in trajectories
        for point in course.points
        for edge in (point.measure.ci95 or ((point.measure.value or 0.0),) * 2)
    ]
    followed = trajectories[0].followed
    if followed.on_log:
        return _axis_over(values, least_range=followed.least_range, floor=0.0)
    return _axis_over([0.0, *values], least_range=followed.least_range)


def _measure_chart(trajectories: Sequence[MeasureTrajectory], panel: _Panel, first: date) -> Iterator[str]:
    """Draw one measure, both hands in one chart."""
    followed = trajectories[0].followed
    yield text_at(panel.x, panel.y - 12, f"{followed.words}, {followed.unit}", class_="said")
    edge = trajectories[0].audible_from
    if edge is not None:
        low = 0.0 if followed.on_log else -edge
        yield _band(panel, low, edge)
    yield from _grid(panel, first)
    for course in trajectories:
        yield from _course(course, panel)


def _course(course: MeasureTrajectory, panel: _Panel) -> Iterator[str]:
    ink = _ink(course.hand)
    whiskers, marks = [], []
    for point in course.points:
        x, y = panel.at(point.x_days, point.measure.value or 0.0)
        if point.measure.ci95 is not None:
            low, high = (panel.at(point.x_days, edge)[1] for edge in point.measure.ci95)
            whiskers.append(f"M{px(x)} {px(low)}V{px(high)}")
        marks.append(
            dot_path(x, y) if course.hand is None else stick_path(x, y, STICK_X, STICK_Y, course.hand)
        )
    yield el("path", class_=f"whisker {ink}", d="".join(whiskers))
    yield el("path", class_=f"{'dot' if course.hand is None else 'stick'} {ink}", d="".join(marks))
    line = course.line if course.curve is None else course.curve.line
    if line:
        unsure = " unsure" if course.change is not None and course.change.direction == "can't tell" else ""
        yield el("path", class_=f"line {ink}{unsure}", d=_path(panel, line))
    if course.plateau is not None:
        level = course.plateau.level.value or 0.0
        since = course.plateau.since_days.value or 0.0
        yield el("path", class_=f"level {ink}", d=_path(panel, ((since, level), (panel.days, level))))


def _ceiling_chart(course: CeilingTrajectory, x: float, y: float, days: float, first: date) -> Iterator[str]:
    """Draw the ceiling: each week's by itself, the course with its band, and the wished tempo."""
    beat = f"{course.beat.numerator}/{course.beat.denominator}"
    values = _ceiling_values(course)
    wish = None if course.wish is None else course.wish.tempo_bpm
    if not values:
        return
    near = [] if wish is None or not 1 / FAR < wish / max(values) < FAR else [wish]
    panel = _Panel(x, y, days, _axis_over([*values, *near], least_range=20.0))
    yield text_at(x, y - 12, f"tempo ceiling, {beat} a minute", class_="said")
    if course.band:
        there = [panel.at(day, high) for day, _, _, high in course.band]
        back = [panel.at(day, low) for day, _, low, _ in reversed(course.band)]
        yield el("path", class_="band", d=_joined([*there, *back]) + "z")
    yield from _grid(panel, first)
    if course.band:
        yield el(
            "path", class_="line both", d=_joined([panel.at(day, value) for day, value, _, _ in course.band])
        )
    yield el("path", class_="whisker both", d="".join(_week_spans(course, panel)))
    dots = [
        dot_path(*panel.at(week.x_days, week.ceiling.value))
        for week in course.weeks
        if week.ceiling.value is not None
    ]
    yield el("path", class_="dot both", d="".join(dots))
    if near:
        yield from _wish_line(panel, near[0], beat)


def _ceiling_values(course: CeilingTrajectory) -> list[float]:
    """Return the tempos that must be inside: the band, or where there is none what each week tells."""
    if course.band:
        return [edge for _, _, low, high in course.band for edge in (low, high)]
    return [
        edge
        for week in course.weeks
        for edge in (*(week.ceiling.ci95 or ()), week.at_least_bpm, week.at_most_bpm)
        if edge is not None
    ]


def _week_spans(course: CeilingTrajectory, panel: _Panel) -> Iterator[str]:
    """Draw a week's interval, open to a side where it is not bounded."""
    for week in course.weeks:
        low, high = week.ceiling.ci95 or (week.at_least_bpm, week.at_most_bpm)
        if low is None and high is None:
            continue
        x, bottom = panel.at(week.x_days, panel.axis.low if low is None else low)
        _, top = panel.at(week.x_days, panel.axis.high if high is None else high)
        yield f"M{px(x)} {px(bottom)}V{px(top)}"


def _wish_line(panel: _Panel, wish: float, beat: str) -> Iterator[str]:
    x, y = panel.at(0.0, wish)
    yield el("path", class_="wish", d=f"M{px(x)} {px(y)}H{px(panel.x + PANEL_W)}")
    over = y - 5 if y - 16 > panel.y else y + 13
    yield text_at(x + 3, over, f"wished: {beat} = {wish:g}")


def _band(panel: _Panel, low: float, high: float) -> str:
    left, top = panel.at(0.0, high)
    _, bottom = panel.at(0.0, low)
    return el(
        "path", class_="band", d=f"M{px(left)} {px(top)}H{px(panel.x + PANEL_W)}V{px(bottom)}H{px(left)}z"
    )


def _grid(panel: _Panel, first: date) -> Iterator[str]:
    """Draw the written values and days."""
    lines = []
    for step in panel.axis.steps:
        left, y = panel.at(0.0, step)
        lines.append(f"M{px(left)} {px(y)}H{px(panel.x + PANEL_W)}")
        yield text_at(left - 6, y + 4, plain(step, panel.axis.decimals), class_="n")
    bottom = panel.y + PANEL_H
    for day in _days(panel.days):
        x, _ = panel.at(day, 0.0)
        lines.append(f"M{px(x)} {px(bottom)}v4")
        yield text_at(x, bottom + 17, _short_day(day_at(first, day)), class_="m")
    yield el("path", class_="grid", d="".join(lines))


def _days(days: float) -> list[float]:
    """Choose days to write: whole weeks apart."""
    step = next(
        (weeks * 7.0 for weeks in (1, 2, 4, 8, 13, 26, 52) if days / (weeks * 7.0) < MOST_DAY_LABELS), 364.0
    )
    return [i * step for i in range(int(days // step) + 1)]


def _short_day(day: date) -> str:
    number, month = day_words(day).split(" ")
    return f"{number} {month[:3]}"


def _path(panel: _Panel, line: Sequence[tuple[float, float]]) -> str:
    return _joined([panel.at(day, value) for day, value in line])


def _joined(places: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{px(x)} {px(y)}" for x, y in places)


def _ink(hand: Hand | None) -> str:
    return "both" if hand is None else HAND_CLASS[hand]
