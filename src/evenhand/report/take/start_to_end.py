"""The take from start to end: tempo, spread and level in windows of neighbouring hits, as three small charts.

Conventions: seconds in the file's own time; tempo in beats a minute of the tempo's beat; spread is the
standard deviation (n - 1) of one hand's timing in a window, ms; levels in dB against the take's middle.
Windows never reach across a stop. A hand's points are leaning sticks, its line solid (right) or dashed
(left).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from statistics import StatisticsError, fmean, linear_regression, stdev

from evenhand.measuring.values import HeardTake, Measure, audible_ms
from evenhand.music.exercise import HAND_NAMES, HANDS, Exercise, Hand, bpm_of
from evenhand.report.plots.marks import HAND_CLASS, hand_mark, middle_level_db
from evenhand.report.plots.markup import (
    TIME_STEPS_S,
    Axis,
    Frame,
    axis_over,
    el,
    esc,
    picture,
    prose,
    steps_within,
    text_at,
)
from evenhand.report.plots.shell import fold, section, table
from evenhand.report.take.layout import interval_of
from evenhand.report.take.table import UNIT_WORDS
from evenhand.report.words.figures import clock_face, decimals_for, interval_words, plain, signed
from evenhand.report.words.take import chart_words
from evenhand.take import Hit

MOST_WINDOWS = 14
LEAST_HITS = 16
LEAST_FOR_SPREAD = 4
WIDTH, HEIGHT = 320.0, 150.0
LEFT, RIGHT, TOP, BOTTOM = 38.0, 26.0, 16.0, 26.0
STICK_X, STICK_Y = 2.6, 3.9
STEADY_SHARE = 0.06  # a tempo chart shows at least this share of the tempo
LEAST_SPREAD_MS = 15.0
LEAST_LEVELS_DB = 6.0


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
class TakeTrajectory:
    """The windows of a take, and its stops as (last hit before, first hit after), seconds."""

    windows: tuple[Window, ...]
    stops_s: tuple[tuple[float, float], ...]
    start_s: float
    end_s: float
    takes_accents: bool


def trajectory_of(take: HeardTake) -> TakeTrajectory:
    """Cut a take into windows and sum each up."""
    hits = [hit for hit in take.heard.hits if not hit.grace and hit.hand is not None]
    if not hits or take.exercise is None:
        return TakeTrajectory((), (), 0.0, 0.0, takes_accents=False)
    stretches = [list(group) for _, group in groupby(hits, key=lambda hit: hit.stretch)]
    size = max(LEAST_HITS, math.ceil(len(hits) / MOST_WINDOWS))
    counted = _counted_for_level(take.exercise)
    middle = middle_level_db(take.heard)
    windows = [_window(cut, take, counted, middle) for stretch in stretches for cut in _cuts(stretch, size)]
    stops = tuple((a[-1].time_s, b[0].time_s) for a, b in pairwise(stretches))
    accents = len(counted) < len(take.exercise.struck)
    return TakeTrajectory(tuple(windows), stops, hits[0].time_s, hits[-1].time_s, accents)


def _counted_for_level(exercise: Exercise) -> frozenset[int]:
    """Positions whose level counts: the unaccented, or all where every note is accented."""
    unaccented = frozenset(i for i in exercise.struck if not exercise.notes[i].accent)
    return unaccented or frozenset(exercise.struck)


def _cuts(stretch: Sequence[Hit], size: int) -> list[Sequence[Hit]]:
    """Cut an unbroken stretch into windows of nearly equal count."""
    parts = max(1, round(len(stretch) / size))
    edges = [round(i * len(stretch) / parts) for i in range(parts + 1)]
    return [stretch[a:b] for a, b in pairwise(edges)]


def _window(hits: Sequence[Hit], take: HeardTake, counted: frozenset[int], middle_db: float) -> Window:
    click = take.heard.clock == "click"
    spread: dict[Hand, float | None] = {}
    level: dict[Hand, float | None] = {}
    for hand in HANDS:
        own = [hit for hit in hits if hit.hand == hand]
        lates = [hit.asynchrony_ms if click else hit.deviation_ms for hit in own]
        known = [late for late in lates if late is not None]
        levels = [hit.level_db for hit in own if hit.position in counted]
        spread[hand] = stdev(known) if len(known) >= LEAST_FOR_SPREAD else None
        level[hand] = fmean(levels) - middle_db if levels else None
    time_s = (hits[0].time_s + hits[-1].time_s) / 2
    return Window(time_s, hits[0].stretch, _tempo(hits, take), spread, level, len(hits))


def _tempo(hits: Sequence[Hit], take: HeardTake) -> float | None:
    """Fit a straight line of time over written place; its slope is the tempo."""
    if take.tempo is None:
        return None
    known = [(hit.written, hit.time_s) for hit in hits if hit.written is not None]
    if len(known) < LEAST_FOR_SPREAD:
        return None
    try:
        seconds_a_whole, _ = linear_regression([w for w, _ in known], [t for _, t in known])
    except StatisticsError:
        return None
    if seconds_a_whole <= 0:
        return None
    return bpm_of(seconds_a_whole, take.tempo.beat)


@dataclass(frozen=True, slots=True)
class Series:
    """One line of a chart: a hand's, or neither's."""

    hand: Hand | None
    points: tuple[tuple[int, float, float], ...]  # stretch, seconds, value


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


def start_to_end(take: HeardTake) -> str:
    """Return the section of charts; "" where too little was heard."""
    trajectory = trajectory_of(take)
    if len(trajectory.windows) < 2:
        return ""
    charts = "".join(_figure(trajectory, *each) for each in _charts(take, trajectory))
    return section(
        "From start to end", charts and el("div", charts, class_="charts") + _table(trajectory), "course"
    )


def _charts(take: HeardTake, trajectory: TakeTrajectory) -> Iterator[tuple[Chart, str]]:
    """Give each chart that has points, with its trend in words."""
    measures = take.measures
    series: tuple[Series, ...] = (_series(trajectory, None, lambda window: window.tempo_bpm),)
    if (values := _values(series)) and take.tempo is not None:
        asked, beat = take.tempo.bpm, take.tempo.beat
        near = [asked] if abs(asked / values[0] - 1) < STEADY_SHARE else []
        axis = axis_over([*values, *near], least_range=STEADY_SHARE * values[0])
        title = f"Tempo, beats of {beat.numerator}/{beat.denominator} a minute"
        drift = _trend("drift", measures.drift_bpm_per_min if measures else None)
        yield Chart("tempo", title, "bpm", series, axis, asked), drift
    series = _by_hand(trajectory, lambda window: window.spread_ms)
    if values := _values(series):
        axis = axis_over(values, least_range=LEAST_SPREAD_MS, floor=0.0)
        band = (0.0, audible_ms(interval_of(take)))
        change = _trend("change", measures.spread_trend_ms_per_min if measures else None)
        yield Chart("spread", "Spread of timing, ms", "ms", series, axis, band=band), change
    series = _by_hand(trajectory, lambda window: window.level_db)
    if values := _values(series):
        axis = axis_over(values, least_range=LEAST_LEVELS_DB)
        change = _trend("change", measures.level_trend_db_per_min if measures else None)
        counted = "of the unaccented notes" if trajectory.takes_accents else ""
        said = "; ".join(part for part in (counted, change) if part)
        yield Chart("level", "Level, dB from the take's middle", "dB", series, axis), said


def _series(
    trajectory: TakeTrajectory, hand: Hand | None, reading: Callable[[Window], float | None]
) -> Series:
    """Gather one reading over the windows."""
    read = [(window.stretch, window.time_s, reading(window)) for window in trajectory.windows]
    return Series(hand, tuple((s, t, v) for s, t, v in read if v is not None))


def _by_hand(
    trajectory: TakeTrajectory, reading: Callable[[Window], dict[Hand, float | None]]
) -> tuple[Series, ...]:
    def of(hand: Hand) -> Series:
        return _series(trajectory, hand, lambda window: reading(window)[hand])

    return tuple(map(of, HANDS))


def _values(series: Sequence[Series]) -> list[float]:
    return [value for each in series for _, _, value in each.points]


def _figure(trajectory: TakeTrajectory, chart: Chart, trend: str) -> str:
    readings = [(HAND_NAMES[s.hand] if s.hand else None, [v for _, _, v in s.points]) for s in chart.series]
    drawn = draw_chart(trajectory, chart, chart_words(readings, chart.unit, len(trajectory.stops_s)))
    return el("figure", el("h3", esc(chart.title)), drawn, el("figcaption", prose(trend)) if trend else "")


def _trend(name: str, measure: Measure | None) -> str:
    """Write a trend with its interval, and whether it can be told from none."""
    if measure is None or measure.value is None:
        return ""
    decimals = decimals_for(measure.unit)
    unit = UNIT_WORDS.get(measure.unit, measure.unit)
    said = f"{name} {signed(measure.value, decimals)} {unit}"
    if measure.ci95 is None:
        return f"{said} (from {measure.n} hits)"
    low, high = measure.ci95
    verdict = ": can't tell yet whether it changes" if low <= 0 <= high else ""
    return f"{said} (95 % range {interval_words(measure.ci95, decimals)}, from {measure.n} hits){verdict}"


def draw_chart(trajectory: TakeTrajectory, chart: Chart, words: str) -> str:
    """Draw one chart, with the stops as gaps."""
    start, end = trajectory.start_s, trajectory.end_s
    across = Axis(start, max(end, start + 1e-9), steps_within(start, end, TIME_STEPS_S, 5))
    frame = Frame(LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM, across, chart.axis)
    inside = [
        *frame.levels(),
        "" if chart.band is None else frame.band(*chart.band),
        *(_stop(frame, *stop) for stop in trajectory.stops_s),
        *frame.places(clock_face),
        _asked(frame, chart),
        *(_line(frame, each) for each in chart.series),
        *_ends(frame, chart.series),
    ]
    key = f"course-{chart.key}"
    return picture(
        inside, width=WIDTH, height=HEIGHT, key=key, title=chart.title, words=words, class_="chart"
    )


def _asked(frame: Frame, chart: Chart) -> str:
    if chart.asked is None or not chart.axis.low <= chart.asked <= chart.axis.high:
        return ""
    points = chart.series[0].points
    below = bool(points) and points[0][2] > chart.asked
    rule = el("path", class_="asked", d=frame.level(chart.asked))
    return rule + text_at(LEFT + 3, frame.y(chart.asked) + (12 if below else -5), "asked")


def _stop(frame: Frame, last: float, first: float) -> str:
    rules = el("path", class_="gap", d=frame.upright(last) + frame.upright(first))
    return rules + text_at((frame.x(last) + frame.x(first)) / 2, TOP - 4, "stop", class_="stop m")


def _line(frame: Frame, series: Series) -> str:
    hand = HAND_CLASS[series.hand]
    lines = [frame.line((t, v) for _, t, v in group) for _, group in groupby(series.points, lambda p: p[0])]
    marks = [hand_mark(frame.x(t), frame.y(v), STICK_X, STICK_Y, series.hand) for _, t, v in series.points]
    line = el("path", class_=f"line {hand}", d="".join(lines))
    return line + el("path", class_=f"at {hand}", d="".join(marks))


def _ends(frame: Frame, series: Sequence[Series]) -> Iterator[str]:
    """Name each hand's line at its end, kept apart where the ends lie close."""
    ends = [(frame.y(each.points[-1][2]), each) for each in series if each.points and each.hand]
    above = -99.0
    for y, each in sorted(ends, key=lambda end: end[0]):
        above = max(y, above + 11)
        x = frame.x(each.points[-1][1]) + 7
        yield text_at(x, above + 4, each.hand, class_=f"hand {HAND_CLASS[each.hand]}")


def _table(trajectory: TakeTrajectory) -> str:
    """Return the charts' points as a table."""
    heads = ("time, s", "hits", "tempo", "spread R, ms", "spread L, ms", "level R, dB", "level L, dB")
    rows = [
        (
            plain(window.time_s),
            str(window.n),
            _cell(window.tempo_bpm),
            *(_cell(window.spread_ms[hand]) for hand in HANDS),
            *(_cell(window.level_db[hand]) for hand in HANDS),
        )
        for window in trajectory.windows
    ]
    caption = "Windows of neighbouring hits; the time is each window's middle."
    return fold(
        "The course in figures", table(heads, rows, caption, label="The course in figures"), class_="tables"
    )


def _cell(value: float | None) -> str:
    return "–" if value is None else plain(value)
