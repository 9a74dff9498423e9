"""How figures, durations, days and cautions are written for people, the same everywhere.

Conventions: ms and dB; a true minus sign; an interval is "4.1 to 8.3".

What body and ears need is one set of words for every page, sheet and command. To whom they speak:
``PRACTICE_CAUTION`` to the student, ``TEACHER_CAUTION`` to the teacher about a student; the others to whoever
plays. None of them is a diagnosis.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import Literal

from evenhand.measuring.values import Measure, Side, either_way
from evenhand.music.exercise import HAND_NAMES, Hand

SideWords = Literal["can be heard", "can't be heard", "can't tell yet"]
SIDE_WORDS: dict[Side, SideWords] = {
    "over": "can be heard",
    "under": "can't be heard",
    "open": "can't tell yet",
}


def side_of_audible(measure: Measure, audible_from: float, *, about: float = 0.0) -> SideWords | None:
    """Say on which side of audible a measure's interval lies; None where there is no interval.

    ``about`` is the value that means "no difference".

    >>> side_of_audible(Measure(8.0, 40, "ms", (6.5, 9.5)), 6.0)
    'can be heard'
    >>> side_of_audible(Measure(-1.0, 40, "ms", (-3.0, 1.0)), 6.0)
    "can't be heard"
    """
    if measure.value is None or measure.ci95 is None:
        return None
    return SIDE_WORDS[either_way(measure, audible_from, about)]


def plain(value: float, decimals: int = 1) -> str:
    """Write a figure rounded for reading, halves away from zero, with a true minus sign and no minus zero.

    >>> plain(-3.25), plain(-0.01), plain(12.5, 0)
    ('−3.3', '0.0', '13')
    """
    scale = 10**decimals
    size = math.floor(abs(value) * scale + 0.5) / scale
    return f"{'−' if value < 0 and size else ''}{size:.{decimals}f}"


def signed(value: float, decimals: int = 1) -> str:
    """Write a difference, its sign always shown (but for zero).

    >>> signed(4.96), signed(-2.0, 0), signed(0.2, 0)
    ('+5.0', '−2', '0')
    """
    written = plain(value, decimals)
    return written if written.startswith("−") or float(written) == 0 else f"+{written}"


def interval_words(ci95: tuple[float, float] | None, decimals: int = 1) -> str:
    """Write an interval.

    >>> interval_words((-1.0, 2.25))
    '−1.0 to 2.3'
    """
    if ci95 is None:
        return "–"
    return f"{plain(ci95[0], decimals)} to {plain(ci95[1], decimals)}"


def with_range(
    figure: Measure, decimals: int | None = None, unit: str | None = None, *, sign: bool = False
) -> str:
    """Write a figure with its unit and its interval.

    >>> with_range(Measure(6.26, 40, "ms", (5.1, 7.4)))
    '6.3 ms (5.1 to 7.4)'
    >>> with_range(Measure(3.0, 9, "%", (1.0, 5.0)), 0, sign=True)
    '+3 % (1 to 5)'
    """
    places = decimals_for(figure.unit) if decimals is None else decimals
    value = (signed if sign else plain)(figure.value or 0.0, places)
    said = f"{value} {figure.unit if unit is None else unit}".rstrip()
    return f"{said} ({interval_words(figure.ci95, places)})"


def decimals_for(unit: str) -> int:
    """Return how many decimals a figure of this unit deserves."""
    return {"share": 3, "": 3, "ratio": 3, "notes": 0, "hits": 0, "repetitions": 0}.get(unit, 1)


def count(number: int, one: str, many: str | None = None) -> str:
    """Write a count with its noun.

    >>> count(1, "hit"), count(3, "hit"), count(2000, "half", "halves")
    ('1 hit', '3 hits', '2,000 halves')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def count_words(number: int, one: str, many: str | None = None) -> str:
    """Write a count with its noun, one as a word.

    >>> count_words(1, "minute"), count_words(3, "minute")
    ('one minute', '3 minutes')
    """
    return f"one {one}" if number == 1 else count(number, one, many)


def from_words(measure: str, n: int) -> str:
    """Say how many a measure, by its name, comes from.

    >>> (
    ...     from_words("hands.R.timing_sd_ms", 40),
    ...     from_words("missed", 12),
    ...     from_words("doubles.L.short_share", 1),
    ... )
    ('from 40 hits', 'from 12 repetitions', 'from 1 double')
    """
    of = {"missed": "repetition", "doubles": "double", "graces": "grace note"}
    return f"from {count(n, of.get(measure.partition('.')[0], 'hit'))}"


def listed(items: Sequence[str]) -> str:
    """Join as a sentence does.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def hand_words(hand: Hand | None, both: str = "") -> str:
    """Name a hand; ``both`` where none is meant alone.

    >>> hand_words("R"), hand_words(None, "both hands")
    ('right hand', 'both hands')
    """
    return both if hand is None else f"{HAND_NAMES[hand]} hand"


def capitalised(text: str) -> str:
    """Return text that begins with a capital letter."""
    return text[:1].upper() + text[1:]


def sized(figure: Measure, unit: str | None = None) -> str:
    """Say how large a figure is, with its interval: ``9 ms (7 to 11)``.

    >>> sized(Measure(-9.2, 40, "ms", (-11.4, -7.0)))
    '9 ms (7 to 11)'
    >>> sized(Measure(2.04, 40, "dB", (1.5, 2.58)))
    '2.0 dB (1.5 to 2.6)'
    """
    size, interval = _size_and_interval(figure, figure.unit if unit is None else unit)
    return f"{size} ({interval})"


def sized_way(figure: Measure, way: str) -> str:
    """Say how large a figure is, which way it lies, and its interval.

    >>> sized_way(Measure(9.2, 40, "ms", (7.0, 11.4)), "late")
    '9 ms late (7 to 11)'
    """
    size, interval = _size_and_interval(figure, figure.unit)
    return f"{size} {way} ({interval})"


def _size_and_interval(figure: Measure, unit: str) -> tuple[str, str]:
    """Write a figure and its ends, counted the way the figure lies, smaller end first."""
    value = figure.value or 0.0
    low, high = figure.ci95 or (value, value)
    if value < 0:
        value, low, high = -value, -high, -low
    digits = _digits(unit, high - low)
    return f"{plain(value, digits)} {unit}".rstrip(), f"{plain(low, digits)} to {plain(high, digits)}"


def _digits(unit: str, width: float) -> int:
    """Return how many digits after the point to say: fewer than two steps of them lie in no interval."""
    if unit == "dB":
        return 1
    if not unit:
        return 2
    return 0 if width >= 2 else 1


PAIN = "Pain, numbness or tingling: stop, rest, and see a clinician."
HEARING = "Loud clicks and drums harm hearing: keep the click low, use a pad or ear protection."
CLICK_CAUTION = (
    "Loud clicks harm hearing, on headphones most of all: set it low, then only as loud as you need."
)
PLAYING_CAUTION = f"{PAIN} {HEARING}"
PRACTICE_CAUTION = f"{PLAYING_CAUTION} Let the load rise gradually. Your teacher decides."
EXERCISES_CAUTION = f"{PLAYING_CAUTION} Let the load rise gradually. The teacher decides."
TEACHER_CAUTION = (
    "A student with pain, numbness or tingling stops, rests, and sees a clinician. "
    "Loud clicks and drums harm hearing: have them keep the click low, and use a pad or ear protection. "
    "Let the load rise gradually. You decide."
)
PARENT_CAUTION = (
    "More minutes are not better. A child with pain, numbness or tingling stops, rests, "
    "and sees a clinician. Loud clicks and drums harm hearing."
)
DROP_CAUTION = f"Drop the stick from the same height each time, the hand open and loose. {PLAYING_CAUTION}"
MINUTE_CAUTION = f"Only as fast as the hands stay loose. {PLAYING_CAUTION}"


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
