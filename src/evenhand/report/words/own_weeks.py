"""A student's own weeks in one sentence: what a hand did at first, what it does now, and how sure that is.

Conventions: the figures at first and now are those of the line through all takes; "now" has its 95 % range
and its count. Nothing is said to have changed that chance would do as well (``progress.trends.clearest``).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from evenhand.measuring.values import Measure
from evenhand.music.exercise import HAND_NAMES, Hand
from evenhand.progress.trends.clearest import ClearestChange
from evenhand.progress.trends.trajectory import FEWEST_DAYS, MeasureTrajectory
from evenhand.report.words.figures import (
    count,
    day_words,
    decimals_for,
    plain,
    side_of_audible,
    sized,
)

NOTHING_YET = (
    "Nothing can be followed yet: the same exercise must be recorded on different days. "
    f"A change can show from {FEWEST_DAYS} days on."
)
HEARD: Mapping[str, str] = {
    "can be heard": "It can still be heard.",
    "can't be heard": "So little can't be heard any more.",
    "can't tell yet": "Can't tell yet whether it can be heard.",
}
Said = Callable[[float, str], str]


def _two_sided(over: str, under: str) -> Said:
    """Say a figure that may lie to either side of none."""

    def said(value: float, figure: str) -> str:
        return f"{figure} {over if value >= 0 else under}"

    return said


def _spread(_value: float, figure: str) -> str:
    return figure


# By the measure's place: its name on the picture, the sentence's beginning, how a figure is said.
_WAYS: Mapping[str, tuple[str, str, Said]] = {
    "hands.{hand}.timing_mean_ms": (
        "{hand} hand, late (under 0: early)",
        "Your {hand} hand was",
        _two_sided("late", "early"),
    ),
    "balance.timing_ms": (
        "left hand against the right (under 0: behind)",
        "Your left hand came",
        _two_sided("before your right", "after your right"),
    ),
    "balance.level_db": (
        "right hand over the left (under 0: softer)",
        "Your left hand was",
        _two_sided("softer than your right", "louder than your right"),
    ),
    "hands.{hand}.timing_sd_ms": ("{hand} hand, wandering in time", "Your {hand} hand wandered by", _spread),
    "hands.{hand}.level_sd_db": ("{hand} hand, uneven in level", "Your {hand} hand was uneven by", _spread),
    "doubles.{hand}.second_minus_first_db": (
        "{hand} hand, second of two over the first (under 0: softer)",
        "The second of two with your {hand} hand was",
        _two_sided("louder than the first", "softer than the first"),
    ),
    "doubles.{hand}.short_share": (
        "{hand} hand, first half of a double",
        "The first half of a double with your {hand} hand took",
        _spread,
    ),
    "drift_bpm_per_min": (
        "tempo over a take (under 0: slower)",
        "Over a take you got",
        _two_sided("faster", "slower"),
    ),
}


def curve_name(course: MeasureTrajectory) -> str:
    """Name a course on its picture, with its unit."""
    name, _, _ = _WAYS[course.followed.place]
    return f"{name.format(hand=_hand(course.hand))}, {course.followed.unit}"


def own_sentence(found: ClearestChange | None) -> str:
    """Say in a sentence what changed, or that it can't be told yet."""
    if found is None:
        return NOTHING_YET
    course, change = found.course, found.course.change
    if change is None:
        days = f"heard on {count(course.days, 'day')}"
        return f"Can't tell yet what has changed: {days}, and a change can show from {FEWEST_DAYS} on."
    if not found.is_sure:
        return "Can't tell yet what has changed: what did may be chance, or form on the day."
    _, begins, said = _WAYS[course.followed.place]
    start, end = (_figure(each) for each in (change.start, change.end))
    at_first, now = said(change.start.value or 0.0, start), said(change.end.value or 0.0, end)
    if at_first.removeprefix(start) == now.removeprefix(end):
        now = end
    worse = " Ask in the lesson what to do about it." if change.direction == "worse" else ""
    return f"{begins.format(hand=_hand(course.hand))} {at_first}, now {now}.{worse}"


def own_figures(found: ClearestChange | None) -> str:
    """Say how sure a change is, and what it rests on."""
    if found is None or not found.is_sure or found.course.change is None:
        return ""
    course, end = found.course, found.course.change.end
    over = f"{count(len(course.points), 'recording')} on {count(course.days, 'day')}"
    since = f"{day_words(course.points[0].take.day)} to {day_words(course.points[-1].take.day)}"
    side = None if course.audible_from is None else side_of_audible(end, course.audible_from)
    now = f"Now: {sized(end)}; in brackets, where it most likely lies."
    return " ".join(part for part in (now, f"From {over}, {since}.", HEARD[side] if side else "") if part)


def _figure(measure: Measure) -> str:
    return f"{plain(abs(measure.value or 0.0), _decimals(measure))} {measure.unit}"


def _decimals(measure: Measure) -> int:
    return 0 if measure.unit == "ms" else decimals_for(measure.unit)


def _hand(hand: Hand | None) -> str:
    return HAND_NAMES[hand or "L"]
