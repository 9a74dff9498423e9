"""A week's plan as JSON: ``{"days": [{"seconds", "items": [{"exercise", "tempo", ...}]}]}``.

Conventions: days and items count from 1 in what is said. An item's ``seconds`` leave its
``rest_s`` out; a day's take all in. ``student``, ``starts`` (an ISO date), and an item's
``stroke``, ``rest_s``, ``title`` and ``why`` may be left out. What else stands beside the
days is passed over; an item takes no keys but its own, so that none is misspelt in silence.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import NoReturn, TypeVar

from evenhand.errors import BadExercise, BadPlan, BadTempo
from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import STROKE_CLASSES, StrokeClass
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.report.words.remarks import why_words
from evenhand.take import in_words

MOST_DAYS = 366
MOST_ITEMS = 500  # a day
MOST_REPETITIONS = 100_000
MOST_SECONDS = 86_400.0
MOST_LETTERS = 2000  # of a title or a reason
LARGEST_BYTES = 16 * 2**20
SLACK_S = 1.0  # a day's seconds may be off by this much, for rounding
_ITEM_KEYS = ("exercise", "stroke", "tempo", "repetitions", "seconds", "rest_s", "why", "title")
_SHAPE = '{"days": [{"items": [{"exercise", "tempo", "repetitions", "seconds"}]}]}'

_KINDS: dict[type, str] = {
    dict: "an object",
    list: "a list",
    str: "text",
    bool: "true or false",
    int: "a number",
    float: "a number",
    type(None): "null",
}
_Read = TypeVar("_Read")


def plan_from_json(text: str, *, name: str) -> PracticePlan:
    """Read a week's plan.

    Raises
    ------
    BadPlan
        Naming the day and the item of the first thing that cannot be read.
    """
    data = _loaded(text, name)
    if not isinstance(data, dict) or not isinstance(data.get("days"), list):
        got = "no list of days" if isinstance(data, dict) else _kind(data)
        raise BadPlan(where=name, got=got, must_be=f"a plan such as {_SHAPE}")
    days = data["days"]
    if not 1 <= len(days) <= MOST_DAYS:
        raise BadPlan(where=name, got=f"{len(days)} days", must_be=f"1 to {MOST_DAYS}")
    read = tuple(_day(day, f"{name}, day {number}") for number, day in enumerate(days, start=1))
    if not any(day.items for day in read):
        raise BadPlan(where=name, got="days without an item", must_be="at least one exercise on one day")
    return PracticePlan(read, _Fields(data, name).words("student"), _starts(data, name))


def read_plan(path: Path) -> PracticePlan:
    """Read a plan's file.

    Raises
    ------
    BadPlan
        Naming the file, and the day and item where there is one.
    """
    must_be = f"a text file (UTF-8) of at most {LARGEST_BYTES // 2**20} MB with a plan such as {_SHAPE}"
    try:
        with path.open("rb") as file:  # not its size first: a device has none
            data = file.read(LARGEST_BYTES + 1)
        if len(data) > LARGEST_BYTES:
            raise BadPlan(where=str(path), got="more than that", must_be=must_be)
        text = data.decode("utf-8-sig")
    except OSError as error:
        raise BadPlan(where=str(path), got=error.strerror or str(error), must_be=must_be) from error
    except UnicodeDecodeError as error:
        got = f"no UTF-8 text (at byte {error.start + 1})"
        raise BadPlan(where=str(path), got=got, must_be=must_be) from error
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
    days = [
        {"seconds": _number(day.seconds), "items": [_item_data(item) for item in day.items]}
        for day in plan.days
    ]
    return {**data, "days": days}


def _item_data(item: PracticeItem) -> dict[str, object]:
    data: dict[str, object] = {
        "exercise": print_exercise(item.exercise),
        "stroke": item.stroke,
        "tempo": _tempo_text(item.tempo),
        "repetitions": item.repetitions,
        "seconds": _number(item.seconds),
        "rest_s": _number(item.rest_s),
        "why": why_words(item.why),
    }
    return {**data, "title": item.title} if item.title else data


def _tempo_text(tempo: Tempo) -> str:
    """Write a tempo to the millionth, as far as one is read."""
    bpm = f"{tempo.bpm:.6f}".rstrip("0").rstrip(".")
    return f"{tempo.beat.numerator}/{tempo.beat.denominator} = {bpm}"


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


def _starts(data: dict[str, object], name: str) -> date | None:
    text = _Fields(data, name).words("starts")
    if not text:
        return None
    try:
        starts = date.fromisoformat(text)
    except ValueError:
        starts = date.max
    if date.max - starts < timedelta(days=MOST_DAYS):  # its last day must have a date too
        raise BadPlan(where=f"{name}, starts", got=repr(text), must_be="a date such as 2026-11-30")
    return starts


def _day(data: object, where: str) -> PracticeDay:
    """Read one day; its seconds, where they stand, must be what its items add up to."""
    if not isinstance(data, dict) or not isinstance(data.get("items"), list):
        got = "no list of items" if isinstance(data, dict) else _kind(data)
        raise BadPlan(where=where, got=got, must_be='an object with "items", a list')
    if len(data["items"]) > MOST_ITEMS:
        raise BadPlan(where=where, got=f"{len(data['items'])} items", must_be=f"at most {MOST_ITEMS}")
    items = [_item(item, f"{where}, item {number}") for number, item in enumerate(data["items"], start=1)]
    day = PracticeDay(tuple(items))
    if "seconds" in data:
        said = _Fields(data, where).number("seconds", least=0.0)
        if abs(said - day.seconds) > SLACK_S:
            must_be = f"{day.seconds:g}, what its items and rests add up to"
            raise BadPlan(where=f"{where}, seconds", got=f"{said:g}", must_be=must_be)
    return day


def _item(data: object, where: str) -> PracticeItem:
    if not isinstance(data, dict):
        raise BadPlan(where=where, got=_kind(data), must_be='an object with "exercise" and "tempo"')
    for key in data:
        if key not in _ITEM_KEYS:
            raise BadPlan(where=where, got=f"the key {key!r}", must_be=f"one of {', '.join(_ITEM_KEYS)}")
    fields = _Fields(data, where)
    return PracticeItem(
        exercise=fields.read("exercise", parse_exercise),
        tempo=fields.read("tempo", Tempo.parse),
        repetitions=fields.repetitions(),
        seconds=fields.number("seconds", least=0.0),
        stroke=fields.stroke(),
        rest_s=fields.number("rest_s", least=0.0) if "rest_s" in data else 0.0,
        title=fields.words("title"),
        why=in_words(fields.words("why")),
    )


class _Fields:
    """An object's fields, each read as what it must be or refused by its name."""

    def __init__(self, data: dict[str, object], where: str) -> None:
        self._data, self._where = data, where

    def _fail(self, key: str, must_be: str, got: str | None = None) -> NoReturn:
        said = got or (_shown(self._data[key]) if key in self._data else "nothing")
        raise BadPlan(where=f"{self._where}, {key}", got=said, must_be=must_be)

    def read(self, key: str, reader: Callable[[str], _Read]) -> _Read:
        """Read a needed text by its own reader."""
        text = self._data.get(key)
        if not isinstance(text, str):
            example = {"exercise": "an exercise's text, such as 1/8: RLRR LRLL"}.get(key, "such as 1/8=70")
            self._fail(key, example)
        try:
            return reader(text)
        except BadExercise as error:
            raise BadPlan(
                where=f"{self._where}, {key}, at its character {error.column}",
                got=error.found,
                must_be=error.must_be,
            ) from error
        except BadTempo as error:
            self._fail(key, error.must_be, error.got)

    def words(self, key: str) -> str:
        """Read a text that may be left out."""
        text = self._data.get(key)
        if text is None:
            return ""
        if not isinstance(text, str):
            self._fail(key, "text")
        if len(text) > MOST_LETTERS:
            self._fail(key, f"at most {MOST_LETTERS} characters", f"{len(text)} characters")
        if any("\ud800" <= letter <= "\udfff" for letter in text):
            self._fail(key, "text that can be written", "half of a letter")
        return text.strip()

    def number(self, key: str, *, least: float) -> float:
        """Read seconds."""
        value = self._data.get(key)
        must_be = f"seconds, {least:g} to {MOST_SECONDS:g}"
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self._fail(key, must_be)
        if not (least <= value <= MOST_SECONDS and math.isfinite(value)):
            self._fail(key, must_be)
        return float(value)

    def repetitions(self) -> int:
        """Read how often."""
        value = self._data.get("repetitions")
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_REPETITIONS:
            self._fail("repetitions", f"a whole number, 1 to {MOST_REPETITIONS}")
        return value

    def stroke(self) -> StrokeClass | None:
        """Read which stroke, where one is said."""
        value = self._data.get("stroke")
        known = next((stroke for stroke in STROKE_CLASSES if stroke == value), None)
        if known is None and value is not None:
            self._fail("stroke", f"{', '.join(STROKE_CLASSES[:-1])} or {STROKE_CLASSES[-1]}, or null")
        return known


def _kind(value: object) -> str:
    return _KINDS.get(type(value), "something else")


def _shown(value: object) -> str:
    """Show a value as it stood, cut where it is long."""
    text = json.dumps(value, ensure_ascii=False).encode(errors="backslashreplace").decode()
    return text if len(text) <= 60 else text[:57] + "..."
