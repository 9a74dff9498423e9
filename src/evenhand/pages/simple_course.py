"""How an exercise went over the weeks: one small chart a measure, each take with its interval.

Conventions: px, y downwards; days from left to right. A hand's takes are leaning sticks, what is said of
both hands a dot; a whisker is the 95 % interval. The pale band is what an ear can't tell, where it is known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from evenhand.domain.audible import AUDIBLE_LEVEL_DB
from evenhand.domain.exercise import Hand, Note
from evenhand.domain.history import History, PastTake
from evenhand.pages.charts import Axis, axis_over
from evenhand.pages.figures import count, interval_words, plain
from evenhand.pages.markup import el, px, text_at
from evenhand.pages.sticks import HAND_CLASS, dot_path, stick_path

WIDTH, HEIGHT = 340.0, 150.0
LEFT, RIGHT, TOP, BOTTOM = 40.0, 14.0, 12.0, 24.0
LEAST_DAYS = 3  # fewer tell no course
MOST_EXERCISES = 3  # those played on most days
STICK_PX = (3.0, 5.0)  # half a stick's width and height
HANDS_APART_PX = 2.5


@dataclass(frozen=True, slots=True)
class Followed:
    """A measure that is followed: its place in the history, its words, and the least range drawn."""

    place: str
    words: str
    unit: str
    least_range: float
    band: float | None = None


FOLLOWED = (
    Followed("balance.timing_ms", "Right minus left in time", "ms", 20.0),
    Followed("balance.level_db", "Right minus left in level", "dB", 4.0, AUDIBLE_LEVEL_DB),
    Followed("hands.{hand}.timing_sd_ms", "How far each hand's notes scatter", "ms", 10.0),
    Followed("doubles.{hand}.second_minus_first_db", "Second note minus first", "dB", 4.0, AUDIBLE_LEVEL_DB),
)


@dataclass(frozen=True, slots=True)
class SimpleCourse:
    """One chart: the exercise it is of, what it says in words, and the picture."""

    title: str
    words: str
    picture: str


@dataclass(frozen=True, slots=True)
class _Point:
    hand: Hand | None
    day: int
    value: float
    ci95: tuple[float, float] | None


def simple_courses(history: History, titles: Mapping[tuple[Note, ...], str]) -> tuple[SimpleCourse, ...]:
    """Draw what can be followed; ``titles`` has each exercise's text by its notes."""
    groups: dict[tuple[Note, ...], list[PastTake]] = {}
    for take in history.takes:
        if take.clear:
            groups.setdefault(take.exercise.notes, []).append(take)
    followed = [takes for takes in groups.values() if len({take.day for take in takes}) >= LEAST_DAYS]
    followed.sort(key=lambda takes: -len({take.day for take in takes}))
    return tuple(
        course
        for takes in followed[:MOST_EXERCISES]
        for course in _charts(takes, titles[takes[0].exercise.notes])
    )


def _charts(takes: Sequence[PastTake], title: str) -> Iterator[SimpleCourse]:
    for followed in FOLLOWED:
        points = list(_points(takes, followed))
        if len({point.day for point in points}) >= LEAST_DAYS:
            yield SimpleCourse(title, _words(points, takes, followed), _picture(points, takes, followed))


def _points(takes: Sequence[PastTake], followed: Followed) -> Iterator[_Point]:
    """Read a measure off each take, of both hands or of each."""
    hands: tuple[Hand | None, ...] = ("R", "L") if "{hand}" in followed.place else (None,)
    for take in takes:
        for hand in hands:
            measure = take.measures.get(followed.place.format(hand=hand))
            if measure is not None and measure.value is not None:
                yield _Point(hand, take.day.toordinal(), measure.value, measure.ci95)


def _words(points: Sequence[_Point], takes: Sequence[PastTake], followed: Followed) -> str:
    """Say the first and the last take of each line, with their intervals, and how many there are."""
    said = []
    for hand in dict.fromkeys(point.hand for point in points):
        own = [point for point in points if point.hand == hand]
        name = {"R": "right ", "L": "left ", None: ""}[hand]
        said.append(f"{name}{_figure(own[0], followed.unit)} at first, {_figure(own[-1], followed.unit)} now")
    return f"{followed.words}: {'; '.join(said)} ({count(len(takes), 'take')}, from {takes[0].day:%-d %B})."


def _figure(point: _Point, unit: str) -> str:
    interval = f" ({interval_words(point.ci95)})" if point.ci95 else ""
    return f"{plain(point.value)} {unit}{interval}"


def _picture(points: Sequence[_Point], takes: Sequence[PastTake], followed: Followed) -> str:
    """Draw one measure over the days."""
    ends = [edge for point in points for edge in (point.ci95 or (point.value, point.value))]
    middle = median([point.value for point in points])
    kept = [edge for edge in ends if abs(edge - middle) < 12 * max(followed.least_range, 1.0)]
    axis = axis_over([*kept, *((0.0,) if followed.band else ())], least_range=followed.least_range)
    first, last = takes[0].day.toordinal(), takes[-1].day.toordinal()
    return el(
        "svg",
        *_frame(axis, followed),
        *(_mark(point, axis, _x(point.day, first, last)) for point in points),
        text_at(LEFT, HEIGHT - 6, f"{takes[0].day:%-d %b}"),
        text_at(WIDTH - RIGHT, HEIGHT - 6, f"{takes[-1].day:%-d %b}", class_="end"),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {px(WIDTH)} {px(HEIGHT)}",
        width=px(WIDTH),
        height=px(HEIGHT),
        role="img",
        aria_label=_words(points, takes, followed),
        class_="course-chart",
    )


def _x(day: int, first: int, last: int) -> float:
    return LEFT + 8 + (day - first) / max(last - first, 1) * (WIDTH - LEFT - RIGHT - 16)


def _y(value: float, axis: Axis) -> float:
    share = (min(max(value, axis.low), axis.high) - axis.low) / (axis.high - axis.low)
    return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)


def _frame(axis: Axis, followed: Followed) -> Iterator[str]:
    """Draw the steps, and the band where an ear can't tell."""
    if followed.band is not None:
        top, bottom = _y(followed.band, axis), _y(-followed.band, axis)
        data = f"M{px(LEFT)} {px(top)}H{px(WIDTH - RIGHT)}V{px(bottom)}H{px(LEFT)}z"
        yield el("path", class_="band", d=data)
    for step in axis.steps:
        y = _y(step, axis)
        yield el("path", class_="grid", d=f"M{px(LEFT)} {px(y)}H{px(WIDTH - RIGHT)}")
        yield text_at(LEFT - 6, y + 3.5, plain(step, axis.decimals), class_="end")


def _mark(point: _Point, axis: Axis, x: float) -> str:
    """Draw one take: its interval, and a stick or a dot at its figure."""
    look = "both" if point.hand is None else HAND_CLASS[point.hand]
    x += {"R": HANDS_APART_PX, "L": -HANDS_APART_PX, None: 0.0}[point.hand]
    y, drawn = _y(point.value, axis), ""
    if point.ci95 is not None:
        whisker = f"M{px(x)} {px(_y(point.ci95[0], axis))}V{px(_y(point.ci95[1], axis))}"
        drawn = el("path", class_=f"whisker {look}", d=whisker)
    if point.hand is None:
        return drawn + el("path", class_="dot both", d=dot_path(x, y))
    return drawn + el("path", class_=f"at {look}", d=stick_path(x, y, *STICK_PX, point.hand))
