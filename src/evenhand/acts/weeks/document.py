"""A week's plan as JSON and as a calendar.

JSON: ``{"days": [{"seconds", "items": [{"exercise", "tempo", ...}]}]}``.

Conventions: days and items count from 1 in what is said. An item's ``seconds`` leave its
``rest_s`` out; a day's take all in. ``student``, ``starts`` (an ISO date), ``story``, and an item's
``block``, ``beat`` (its tempo's), ``goes``, ``pause_s``, ``stroke``, ``rest_s``, ``title``, ``purpose`` and
``why`` may be left out. What else stands beside the
days is passed over; an item takes no keys but its own, so that none is misspelt in silence.

Calendar (iCalendar, RFC 5545): one event a practice day, at the student's own local time (a floating time: no
time zone), as long as the day's practice. The same plan gives the same bytes: the time stamp
is the week's first day.
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from evenhand.acts.documents import Fields, read_text_file
from evenhand.errors import BadPlan
from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import STROKE_CLASSES
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.planning.practice import BLOCKS, PracticeDay, PracticeItem, PracticePlan
from evenhand.report.words.figures import PRACTICE_CAUTION, count
from evenhand.report.words.remarks import all_remarks, why_words
from evenhand.take import in_words

if TYPE_CHECKING:
    from icalendar import Event


MOST_DAYS = 366
MOST_ITEMS = 500  # a day
MOST_REPETITIONS = 100_000
MOST_SECONDS = 86_400.0
LARGEST_BYTES = 16 * 2**20
SLACK_S = 1.0  # a day's seconds may be off by this much, for rounding
MOST_GOES = 1000
_ITEM_KEYS = (
    "exercise",
    "block",
    "purpose",
    "stroke",
    "tempo",
    "beat",
    "repetitions",
    "goes",
    "pause_s",
    "seconds",
    "rest_s",
    "why",
    "title",
)
_SHAPE = '{"days": [{"items": [{"exercise", "tempo", "repetitions", "seconds"}]}]}'


def plan_from_json(text: str, *, name: str) -> PracticePlan:
    """Read a week's plan.

    Raises
    ------
    BadPlan
        Naming the day and the item of the first thing that cannot be read.
    """
    must_be = f"a plan such as {_SHAPE}"
    data = Fields(_loaded(text, name), name, BadPlan, must_be)
    if not isinstance(data.found.get("days"), list):
        raise BadPlan(where=name, got="no list of days", must_be=must_be)
    days = tuple(_day(day, where) for where, day in data.inside("days", "day", 1, MOST_DAYS))
    if not any(day.items for day in days):
        raise BadPlan(where=name, got="days without an item", must_be="at least one exercise on one day")
    return PracticePlan(days, data.words("student"), _starts(data), story=in_words(data.words("story")))


def read_plan(path: Path) -> PracticePlan:
    """Read a plan's file.

    Raises
    ------
    BadPlan
        Naming the file, and the day and item where there is one.
    """
    must_be = f"a text file (UTF-8) with a plan such as {_SHAPE}"
    text = read_text_file(path, error=BadPlan, largest_bytes=LARGEST_BYTES, must_be=must_be)
    return plan_from_json(text, name=path.name)


def plan_to_json(plan: PracticePlan) -> str:
    """Write a plan, the same plan always as the same text; seconds to the ms."""
    return json.dumps(plan_as_data(plan), ensure_ascii=False, indent=2) + "\n"


def plan_as_data(plan: PracticePlan) -> dict[str, object]:
    """Return a plan as what JSON is made of, for those who put more beside it."""
    data: dict[str, object] = {}
    if plan.student:
        data["student"] = plan.student
    if plan.starts:
        data["starts"] = plan.starts.isoformat()
    if plan.story:
        data["story"] = " ".join(all_remarks(plan.story))
    days = [
        {"seconds": _number(day.seconds), "items": [_item_data(item) for item in day.items]}
        for day in plan.days
    ]
    return {**data, "days": days}


def _item_data(item: PracticeItem) -> dict[str, object]:
    data: dict[str, object] = {
        "exercise": print_exercise(item.exercise),
        "block": item.block,
        "purpose": " ".join(all_remarks(item.purpose)),
        "stroke": item.stroke,
        "tempo": _tempo_text(item.tempo),
        "beat": _beat_text(item.tempo),
        "repetitions": item.repetitions,
        "goes": item.goes,
        "pause_s": _number(item.pause_s),
        "seconds": _number(item.seconds),
        "rest_s": _number(item.rest_s),
        "why": why_words(item.why),
    }
    return {**data, "title": item.title} if item.title else data


def _tempo_text(tempo: Tempo) -> str:
    """Write a tempo to the millionth, as far as one is read."""
    bpm = f"{tempo.bpm:.6f}".rstrip("0").rstrip(".")
    return f"{_beat_text(tempo)} = {bpm}"


def _beat_text(tempo: Tempo) -> str:
    return f"{tempo.beat.numerator}/{tempo.beat.denominator}"


def _number(seconds: float) -> float:
    """Round to the ms; whole seconds without a point."""
    rounded = round(seconds, 3)
    return int(rounded) if rounded == int(rounded) else rounded


def _loaded(text: str, name: str) -> object:
    """Parse the JSON; what JSON does not know (NaN) is refused."""

    def refuse(constant: str) -> NoReturn:
        raise BadPlan(where=name, got=constant, must_be="a number")

    try:
        return json.loads(text.removeprefix("\ufeff"), parse_constant=refuse)
    except json.JSONDecodeError as error:
        where = f"{name}, line {error.lineno}, column {error.colno}"
        got = f"no JSON ({error.msg[:1].lower()}{error.msg[1:]})"
        raise BadPlan(where=where, got=got, must_be=f"a plan such as {_SHAPE}") from error
    except RecursionError as error:
        raise BadPlan(where=name, got="lists within lists without end", must_be="a plan") from error
    except ValueError as error:  # a whole number of thousands of digits
        raise BadPlan(where=name, got="a number without end", must_be="numbers of a few digits") from error


def _starts(data: Fields) -> date | None:
    text = data.words("starts")
    if not text:
        return None
    try:
        starts = date.fromisoformat(text)
    except ValueError:
        starts = date.max
    if date.max - starts < timedelta(days=MOST_DAYS):  # its last day must have a date too
        data.fail("starts", "a date such as 2026-11-30", repr(text))
    return starts


def _day(found: object, where: str) -> PracticeDay:
    """Read one day; its seconds, where they stand, must be what its items add up to."""
    must_be = 'an object with "items", a list'
    data = Fields(found, where, BadPlan, must_be)
    if not isinstance(data.found.get("items"), list):
        raise BadPlan(where=where, got="no list of items", must_be=must_be)
    items = data.inside("items", "item", 0, MOST_ITEMS)
    day = PracticeDay(tuple(_item(item, place) for place, item in items))
    if "seconds" in data.found:
        said = _seconds(data, "seconds")
        if abs(said - day.seconds) > SLACK_S:
            data.fail("seconds", f"{day.seconds:g}, what its items and rests add up to", f"{said:g}")
    return day


def _item(found: object, where: str) -> PracticeItem:
    data = Fields(found, where, BadPlan, 'an object with "exercise" and "tempo"')
    data.only(_ITEM_KEYS)
    tempo = data.read("tempo", Tempo.parse, "such as 1/8=70")
    if data.words("beat") not in ("", _beat_text(tempo)):
        data.fail("beat", f'"{_beat_text(tempo)}", the beat of its tempo', repr(data.words("beat")))
    return PracticeItem(
        exercise=data.read("exercise", parse_exercise, "an exercise's text, such as 1/8: RLRR LRLL"),
        tempo=tempo,
        repetitions=data.whole("repetitions", 1, MOST_REPETITIONS),
        seconds=_seconds(data, "seconds"),
        stroke=data.choice("stroke", STROKE_CLASSES),
        rest_s=_seconds(data, "rest_s") if "rest_s" in data.found else 0.0,
        title=data.words("title"),
        why=in_words(data.words("why")),
        goes=data.whole("goes", 1, MOST_GOES) if "goes" in data.found else 1,
        pause_s=_seconds(data, "pause_s") if "pause_s" in data.found else 0.0,
        block=data.choice("block", BLOCKS),
        purpose=in_words(data.words("purpose")),
    )


def _seconds(data: Fields, key: str) -> float:
    return data.number(key, 0.0, MOST_SECONDS, f"seconds, 0 to {MOST_SECONDS:g}")


DAYS_A_WEEK = 7


def calendar_of(plan: PracticePlan, starts: date, at: time) -> bytes:
    """Write a plan's days as calendar events, spread over the week that begins on ``starts``."""
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", "-//Evenhand//practice//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    for index, day in enumerate(plan.days):
        if not day.items:
            continue
        on = date_of_day(starts, index, len(plan.days))
        calendar.add_component(_event(plan, day, datetime.combine(on, at), starts))
    return bytes(calendar.to_ical())


def date_of_day(starts: date, index: int, days: int) -> date:
    """Say on which date a day of a plan lies.

    >>> date_of_day(date(2026, 3, 2), 3, 5)
    datetime.date(2026, 3, 6)
    """
    return starts + timedelta(days=day_of_week(index, days))


def day_of_week(index: int, days: int) -> int:
    """Spread days over a week: how many days after its first.

    >>> [day_of_week(index, 5) for index in range(5)]
    [0, 1, 2, 4, 5]
    """
    if days > DAYS_A_WEEK:
        return index
    return index * DAYS_A_WEEK // days


def _event(plan: PracticePlan, day: PracticeDay, begins: datetime, stamp: date) -> Event:
    from icalendar import Event

    minutes = round(day.seconds / 60)
    event = Event()
    whose = f", {plan.student}" if plan.student else ""
    event.add("summary", f"Hand practice, {minutes} min{whose}")
    event.add("dtstart", begins)
    event.add("dtend", begins + timedelta(minutes=minutes))
    event.add("dtstamp", datetime.combine(stamp, time(), tzinfo=UTC))
    lines = [_line(item) for item in day.items]
    event.add("description", "\n".join([*lines, "", PRACTICE_CAUTION]))
    event.add("uid", _uid(plan, begins, lines))
    return event


def _line(item: PracticeItem) -> str:
    what = item.title or print_exercise(item.exercise)
    stroke = f", {item.stroke} strokes" if item.stroke else ""
    sticking = f" ({print_exercise(item.exercise)})" if item.title else ""
    often = count(item.repetitions, "repetition")
    return f"{what}{sticking}: {item.tempo}{stroke}, {often}, then {item.rest_s:.0f} s rest"


def _uid(plan: PracticePlan, begins: datetime, lines: list[str]) -> str:
    key = hashlib.sha256("\n".join([plan.student, begins.isoformat(), *lines]).encode()).hexdigest()
    return f"{key[:32]}@evenhand"
