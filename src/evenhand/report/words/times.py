"""Durations, days and dates in words, the same in every locale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import Literal

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
DAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def duration(seconds: float, to: Literal["tenths", "seconds", "minutes"] = "tenths") -> str:
    """Say how long: to the second, or under ten seconds to the tenth, or from a minute on to the minute.

    >>> [duration(s) for s in (8.2, 83.4, 120.0, 5400.0)]
    ['8.2 s', '1 min 23 s', '2 min', '1 h 30 min']
    >>> duration(8.2, "seconds"), duration(45, "minutes"), duration(225, "minutes")
    ('8 s', '45 s', '4 min')
    """
    if to == "tenths" and seconds < 10:
        return f"{seconds:.1f} s"
    whole = max(math.floor(seconds + 0.5), 1)
    if to == "minutes" and whole >= 60:
        whole = 60 * math.floor(seconds / 60 + 0.5)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return " ".join(f"{n} {unit}" for n, unit in ((hours, "h"), (minutes, "min"), (left, "s")) if n)


def span_words(times_s: Sequence[float]) -> str:
    """Say one time, or from which to which of several that rise.

    >>> span_words([30]), span_words([20, 30, 90])
    ('30 s', '20 s to 1 min 30 s')
    """
    first, last = duration(times_s[0], "seconds"), duration(times_s[-1], "seconds")
    return first if first == last else f"{first} to {last}"


def clock_face(seconds: float) -> str:
    """Write a place on a time axis.

    >>> clock_face(5), clock_face(65)
    ('0:05', '1:05')
    """
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"


def day_words(day: date, *, weekday: bool = False, year: bool = False) -> str:
    """Write a day.

    >>> day_words(date(2026, 4, 3)), day_words(date(2026, 4, 3), year=True)
    ('3 April', '3 April 2026')
    >>> day_words(date(2026, 11, 25), weekday=True)
    'Wednesday 25 November'
    """
    said = f"{day.day} {MONTHS[day.month - 1]}"
    before, after = f"{DAY_NAMES[day.weekday()]} " if weekday else "", f" {day.year}" if year else ""
    return f"{before}{said}{after}"


def short_day(day: date) -> str:
    """Write a day where there is little room.

    >>> short_day(date(2026, 3, 9))
    '9 Mar'
    """
    return f"{day.day} {MONTHS[day.month - 1][:3]}"


def day_name(day: date) -> str:
    """Name a day for the head of a column.

    >>> day_name(date(2026, 11, 30))
    'Mon 30'
    """
    return f"{DAY_NAMES[day.weekday()][:3]} {day.day}"
