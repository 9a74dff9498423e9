"""The section of the take from start to end: three charts, each with its words, and their table."""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.measuring.values import HeardTake, Measure, audible_ms
from evenhand.music.exercise import Hand
from evenhand.report.plots.charts import (
    Chart,
    Course,
    Reading,
    Series,
    axis_over,
    course_of,
    draw_chart,
    series_of,
)
from evenhand.report.plots.marks import interval_of
from evenhand.report.plots.markup import el, esc, prose
from evenhand.report.take.table import HAND_WORD, UNIT_WORDS
from evenhand.report.words.figures import decimals_for, interval_words, plain, signed
from evenhand.report.words.take import chart_words

HANDS: tuple[Hand, Hand] = ("R", "L")
STEADY_SHARE = 0.06  # a tempo chart shows at least this share of the tempo
LEAST_SPREAD_MS = 15.0
LEAST_LEVELS_DB = 6.0


def start_to_end(take: HeardTake) -> str:
    """Return the section; "" where too little was heard to show a course."""
    course = course_of(take)
    if len(course.windows) < 2:
        return ""
    charts = [each for each in (_tempo(take, course), _spread(take, course), _level(take, course)) if each]
    if not charts:
        return ""
    return el(
        "section",
        el("h2", "From start to end", id="h-course"),
        el("div", *charts, class_="charts"),
        _table(course),
        aria_labelledby="h-course",
    )


def _tempo(take: HeardTake, course: Course) -> str:
    series = (series_of(course, None, lambda window: window.tempo_bpm),)
    values = _values(series)
    if not values or take.tempo is None:
        return ""
    asked, beat = take.tempo.bpm, take.tempo.beat
    near = [asked] if abs(asked / values[0] - 1) < STEADY_SHARE else []
    axis = axis_over([*values, *near], least_range=STEADY_SHARE * values[0])
    title = f"Tempo, beats of {beat.numerator}/{beat.denominator} a minute"
    drift = take.measures.drift_bpm_per_min if take.measures else None
    return _figure(course, Chart("tempo", title, "bpm", series, axis, asked), _trend("drift", drift))


def _spread(take: HeardTake, course: Course) -> str:
    series = tuple(series_of(course, hand, _spread_of(hand)) for hand in HANDS)
    values = _values(series)
    if not values:
        return ""
    axis = axis_over(values, least_range=LEAST_SPREAD_MS, floor=0.0)
    band = (0.0, audible_ms(interval_of(take)))
    trend = take.measures.spread_trend_ms_per_min if take.measures else None
    chart = Chart("spread", "Spread of timing, ms", "ms", series, axis, band=band)
    return _figure(course, chart, _trend("change", trend))


def _level(take: HeardTake, course: Course) -> str:
    series = tuple(series_of(course, hand, _level_of(hand)) for hand in HANDS)
    values = _values(series)
    if not values:
        return ""
    axis = axis_over(values, least_range=LEAST_LEVELS_DB)
    trend = take.measures.level_trend_db_per_min if take.measures else None
    told = _trend("change", trend)
    if course.takes_accents:
        told = f"of the unaccented notes; {told}" if told else "of the unaccented notes"
    return _figure(course, Chart("level", "Level, dB from the take's middle", "dB", series, axis), told)


def _spread_of(hand: Hand) -> Reading:
    return lambda window: window.spread_ms[hand]


def _level_of(hand: Hand) -> Reading:
    return lambda window: window.level_db[hand]


def _values(series: Sequence[Series]) -> list[float]:
    return [value for each in series for _, _, value in each.points]


def _figure(course: Course, chart: Chart, trend: str) -> str:
    readings = [(HAND_WORD[s.hand] if s.hand else None, [v for _, _, v in s.points]) for s in chart.series]
    drawn = draw_chart(course, chart, chart_words(course, readings, chart.unit))
    return el("figure", el("h3", esc(chart.title)), drawn, el("figcaption", prose(trend)) if trend else "")


def _trend(name: str, measure: Measure | None) -> str:
    """Write a trend with its interval, and whether it can be told from none."""
    if measure is None or measure.value is None:
        return ""
    decimals = decimals_for(measure.unit)
    unit = UNIT_WORDS.get(measure.unit, measure.unit)
    told = f"{name} {signed(measure.value, decimals)} {unit}"
    if measure.ci95 is None:
        return f"{told} (from {measure.n} hits)"
    low, high = measure.ci95
    verdict = ": can't tell yet whether it changes" if low <= 0 <= high else ""
    return f"{told} (95 % range {interval_words(measure.ci95, decimals)}, from {measure.n} hits){verdict}"


def _table(course: Course) -> str:
    """Return the charts' points as a table."""
    names = ("time, s", "hits", "tempo", "spread R, ms", "spread L, ms", "level R, dB", "level L, dB")
    head = el("thead", el("tr", *(el("th", esc(name), scope="col") for name in names)))
    rows = []
    for window in course.windows:
        cells = [
            str(window.n),
            _cell(window.tempo_bpm),
            *(_cell(window.spread_ms[hand]) for hand in HANDS),
            *(_cell(window.level_db[hand]) for hand in HANDS),
        ]
        head_cell = el("th", plain(window.time_s), scope="row")
        rows.append(el("tr", head_cell, *(el("td", esc(cell)) for cell in cells)))
    caption = el("caption", "Windows of neighbouring hits; the time is each window's middle.")
    table = el("table", caption, head, el("tbody", *rows), class_="notes")
    scroll = el("div", table, class_="scroll", tabindex=0, role="region", aria_label="The course in figures")
    return el("details", el("summary", "The course in figures"), scroll, class_="tables")


def _cell(value: float | None) -> str:
    return "–" if value is None else plain(value)
