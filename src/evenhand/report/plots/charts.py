"""Small charts of the take from start to end, as SVG.

Conventions: px of the drawing's own units, y downwards; time in seconds from the file's
start along x; a hand's points are leaning sticks, its line solid (right) or dashed (left).

The take from start to end: tempo, spread and level in windows of neighbouring hits.

Conventions: seconds in the file's own time; tempo in beats a minute of the tempo's beat;
spread is the standard deviation (n - 1) of one hand's timing in a window, ms; levels in dB
against the take's middle. Windows never reach across a stop.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from statistics import StatisticsError, fmean, linear_regression

from evenhand.measuring.values import HeardTake
from evenhand.music.exercise import Exercise, Hand, bpm_of
from evenhand.report.plots.marks import HAND_CLASS, dot_path, middle_level_db, stick_path
from evenhand.report.plots.markup import el, picture, px, text_at
from evenhand.report.words.figures import plain
from evenhand.report.words.times import clock_face
from evenhand.take import Hit

MOST_WINDOWS = 14
LEAST_HITS = 16
LEAST_FOR_SPREAD = 4


@dataclass(frozen=True, slots=True)
class Window:
    """Some neighbouring hits. A figure is None where too few stand behind it."""

    time_s: float
    stretch: int
    tempo_bpm: float | None
    spread_ms: dict[Hand, float | None]
    level_db: dict[Hand, float | None]
    n: int


@dataclass(frozen=True, slots=True)
class Course:
    """The windows of a take, and its stops as (last hit before, first hit after), seconds."""

    windows: tuple[Window, ...]
    stops_s: tuple[tuple[float, float], ...]
    start_s: float
    end_s: float
    takes_accents: bool


def course_of(take: HeardTake) -> Course:
    """Cut a take into windows and sum each up."""
    hits = [hit for hit in take.heard.hits if not hit.grace and hit.hand is not None]
    if not hits or take.exercise is None:
        return Course((), (), 0.0, 0.0, takes_accents=False)
    stretches = [list(group) for _, group in groupby(hits, key=lambda hit: hit.stretch)]
    size = max(LEAST_HITS, math.ceil(len(hits) / MOST_WINDOWS))
    plain = _plain_positions(take.exercise)
    middle = middle_level_db(take.heard)
    windows = [_window(cut, take, plain, middle) for stretch in stretches for cut in _cuts(stretch, size)]
    stops = tuple((a[-1].time_s, b[0].time_s) for a, b in pairwise(stretches))
    accents = len(plain) < len(take.exercise.struck)
    return Course(tuple(windows), stops, hits[0].time_s, hits[-1].time_s, accents)


def _plain_positions(exercise: Exercise) -> frozenset[int]:
    """Positions whose level counts: the unaccented, or all where every note is accented."""
    plain = frozenset(i for i in exercise.struck if not exercise.notes[i].accent)
    return plain or frozenset(exercise.struck)


def _cuts(stretch: Sequence[Hit], size: int) -> list[Sequence[Hit]]:
    """Cut an unbroken stretch into windows of nearly equal count."""
    parts = max(1, round(len(stretch) / size))
    edges = [round(i * len(stretch) / parts) for i in range(parts + 1)]
    return [stretch[a:b] for a, b in pairwise(edges)]


def _window(hits: Sequence[Hit], take: HeardTake, plain: frozenset[int], middle_db: float) -> Window:
    click = take.heard.clock == "click"
    spread: dict[Hand, float | None] = {}
    level: dict[Hand, float | None] = {}
    hands: tuple[Hand, Hand] = ("R", "L")
    for hand in hands:
        own = [hit for hit in hits if hit.hand == hand]
        lates = [hit.asynchrony_ms if click else hit.deviation_ms for hit in own]
        told = [late for late in lates if late is not None]
        levels = [hit.level_db for hit in own if hit.position in plain]
        spread[hand] = _spread(told) if len(told) >= LEAST_FOR_SPREAD else None
        level[hand] = fmean(levels) - middle_db if levels else None
    time_s = (hits[0].time_s + hits[-1].time_s) / 2
    return Window(time_s, hits[0].stretch, _tempo(hits, take), spread, level, len(hits))


def _spread(values: Sequence[float]) -> float:
    middle = fmean(values)
    return math.sqrt(sum((value - middle) ** 2 for value in values) / (len(values) - 1))


def _tempo(hits: Sequence[Hit], take: HeardTake) -> float | None:
    """Fit a straight line of time over written place; its slope is the tempo."""
    if take.tempo is None:
        return None
    told = [(hit.written, hit.time_s) for hit in hits if hit.written is not None]
    if len(told) < LEAST_FOR_SPREAD:
        return None
    try:
        seconds_a_whole, _ = linear_regression([w for w, _ in told], [t for _, t in told])
    except StatisticsError:
        return None
    if seconds_a_whole <= 0:
        return None
    return bpm_of(seconds_a_whole, take.tempo.beat)


WIDTH, HEIGHT = 320.0, 150.0
LEFT, RIGHT, TOP, BOTTOM = 38.0, 26.0, 16.0, 26.0
TIME_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200)

Reading = Callable[[Window], float | None]


@dataclass(frozen=True, slots=True)
class Series:
    """One line of a chart: a hand's, or neither's."""

    hand: Hand | None
    points: tuple[tuple[int, float, float], ...]  # stretch, seconds, value


@dataclass(frozen=True, slots=True)
class Axis:
    """The range of values drawn, with its written steps."""

    low: float
    high: float
    steps: tuple[float, ...]
    decimals: int

    def y(self, value: float) -> float:
        """Return where a value is drawn."""
        share = (value - self.low) / (self.high - self.low)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)


def series_of(course: Course, hand: Hand | None, reading: Reading) -> Series:
    """Gather one reading over the windows."""
    read = [(window.stretch, window.time_s, reading(window)) for window in course.windows]
    return Series(hand, tuple((s, t, v) for s, t, v in read if v is not None))


def axis_over(values: Sequence[float], *, least_range: float, floor: float | None = None) -> Axis:
    """Choose a range with round steps, never so narrow that a steady take looks unsteady."""
    low, high = min(values), max(values)
    spare = max(0.0, least_range - (high - low)) / 2
    low, high = low - spare, high + spare
    if floor is not None:
        low, high = floor, max(high, floor + least_range)
    step = _round_step((high - low) / 2.5)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    steps = tuple(i * step for i in range(first, last + 1))
    return Axis(first * step, last * step, steps, decimals)


def _round_step(rough: float) -> float:
    power = 10.0 ** math.floor(math.log10(rough))
    return next(nice * power for nice in (1, 2, 5, 10) if nice * power >= rough * 0.999)


@dataclass(frozen=True, slots=True)
class Chart:
    """One chart. ``asked`` is drawn as a dashed line, ``band`` as the pale band an ear can't tell in."""

    key: str
    title: str
    unit: str
    series: tuple[Series, ...]
    axis: Axis
    asked: float | None = None
    band: tuple[float, float] | None = None


def draw_chart(course: Course, chart: Chart, words: str) -> str:
    """Draw one chart, with the stops as gaps."""
    inside = [
        _grid(chart.axis),
        _band(chart),
        _stops(course),
        _times(course),
        _asked(chart),
        *(_line(course, each, chart.axis) for each in chart.series),
        *_ends(course, chart.series, chart.axis),
    ]
    key = f"course-{chart.key}"
    return picture(
        inside, width=WIDTH, height=HEIGHT, key=key, title=chart.title, words=words, class_="chart"
    )


def _band(chart: Chart) -> str:
    if chart.band is None:
        return ""
    top = px(chart.axis.y(min(chart.band[1], chart.axis.high)))
    bottom = px(chart.axis.y(max(chart.band[0], chart.axis.low)))
    return el("path", class_="band", d=f"M{px(LEFT)} {top}H{px(WIDTH - RIGHT)}V{bottom}H{px(LEFT)}z")


def _asked(chart: Chart) -> str:
    asked = chart.asked
    if asked is None or not chart.axis.low <= asked <= chart.axis.high:
        return ""
    y = chart.axis.y(asked)
    points = chart.series[0].points
    below = bool(points) and points[0][2] > asked
    rule = el("path", class_="asked", d=f"M{px(LEFT)} {px(y)}H{px(WIDTH - RIGHT)}")
    return rule + text_at(LEFT + 3, y + (12 if below else -5), "asked")


def _x(course: Course, time_s: float) -> float:
    span = max(course.end_s - course.start_s, 1e-9)
    return LEFT + (time_s - course.start_s) / span * (WIDTH - LEFT - RIGHT)


def _grid(axis: Axis) -> str:
    lines = "".join(f"M{px(LEFT)} {px(axis.y(step))}H{px(WIDTH - RIGHT)}" for step in axis.steps)
    labels = [text_at(LEFT - 6, axis.y(s) + 3.5, plain(s, axis.decimals), class_="n e") for s in axis.steps]
    return el("path", class_="grid", d=lines) + "".join(labels)


def _times(course: Course) -> str:
    span = course.end_s - course.start_s
    step = next((s for s in TIME_STEPS_S if span / s <= 5), TIME_STEPS_S[-1])
    first = math.ceil(course.start_s / step)
    out = []
    for i in range(first, int(course.end_s // step) + 1):
        x = _x(course, i * step)
        out.append(el("path", class_="grid", d=f"M{px(x)} {px(HEIGHT - BOTTOM)}v4"))
        out.append(text_at(x, HEIGHT - BOTTOM + 15, clock_face(i * step), class_="n m"))
    return "".join(out)


def _stops(course: Course) -> str:
    out = []
    for last, first in course.stops_s:
        a, b = _x(course, last), _x(course, first)
        rule = f"M{px(a)} {px(TOP)}V{px(HEIGHT - BOTTOM)}M{px(b)} {px(TOP)}V{px(HEIGHT - BOTTOM)}"
        out.append(el("path", class_="gap", d=rule))
        out.append(text_at((a + b) / 2, TOP - 4, "stop", class_="stop m"))
    return "".join(out)


def _line(course: Course, series: Series, axis: Axis) -> str:
    hand = "both" if series.hand is None else HAND_CLASS[series.hand]
    paths, marks = [], []
    for _, group in groupby(series.points, key=lambda point: point[0]):
        places = [(_x(course, t), axis.y(v)) for _, t, v in group]
        paths.append("M" + "L".join(f"{px(x)} {px(y)}" for x, y in places))
        marks += [
            dot_path(x, y) if series.hand is None else stick_path(x, y, 2.6, 3.9, series.hand)
            for x, y in places
        ]
    return el("path", class_=f"line {hand}", d="".join(paths)) + el(
        "path", class_=f"at {hand}", d="".join(marks)
    )


def _ends(course: Course, series: Sequence[Series], axis: Axis) -> list[str]:
    """Name each hand's line at its end, kept apart where the ends lie close."""
    ends = [(axis.y(each.points[-1][2]), each) for each in series if each.points and each.hand]
    ends.sort(key=lambda end: end[0])
    out, above = [], -99.0
    for y, each in ends:
        above = max(y, above + 11)
        x = _x(course, each.points[-1][1]) + 7
        out.append(text_at(x, above + 4, each.hand, class_=f"hand {HAND_CLASS[each.hand or 'R']}"))
    return out
