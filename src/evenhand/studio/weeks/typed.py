"""A week as it stands in a form while it is changed: rows of text, what they add up to, what is wrong.

Conventions: days and rows count from 1 and 0. A row is one exercise of one day as it is played, with how
many turns it has that day; turns go in rounds, each row once a round, so that none comes in one block. A
turn's seconds are ``planning.practice.turn_seconds``; a rest comes after each turn.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date
from functools import lru_cache

from evenhand.errors import BadExercise, BadTempo, WrongOptions
from evenhand.music.exercise import Exercise, Hand, Tempo
from evenhand.music.strokes.heights import stroke_class
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.planning.lesson import REST_S
from evenhand.planning.load import strokes_of
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan, turn_seconds
from evenhand.report.words.remarks import why_words
from evenhand.studio.typed import full_tempo, whole_number
from evenhand.take import in_words

MOST_ROWS = 400
MOST_DAYS = 7
MOST_REPETITIONS, MOST_TURNS, LONGEST_REST_S = 999, 99, 600.0
NEW_REST_S = f"{REST_S}"


@dataclass(frozen=True, slots=True)
class TypedRow:
    """One row. ``rests`` are the seconds after each turn, as planned; ``rest`` is what is shown of them.

    ``title`` and ``why`` are said of the exercise ``was``. ``tempo_was`` is the last tempo with a beat that
    stood there: a number alone is of that beat.
    """

    day: int
    exercise: str = ""
    stroke: str = ""
    tempo: str = ""
    repetitions: str = "4"
    turns: str = "1"
    rest: str = NEW_REST_S
    rests: str = ""
    tempo_was: str = ""
    title: str = ""
    was: str = ""
    why: str = ""

    @property
    def full_tempo(self) -> str:
        """The tempo with its beat, where a number alone was typed."""
        return full_tempo(self.tempo, self.exercise, shown=self.tempo_was, shown_for=self.exercise)


FIELDS = tuple(each.name for each in fields(TypedRow))


@dataclass(frozen=True, slots=True)
class TypedWeek:
    """All rows of a week, and for how many days."""

    rows: tuple[TypedRow, ...]
    days: int


@dataclass(frozen=True, slots=True)
class ReadRow:
    """What a row says, or what is wrong with which of its fields."""

    items: tuple[PracticeItem, ...] = ()  # one a turn
    wrong: Mapping[str, str] = field(default_factory=dict)

    @property
    def seconds(self) -> float:
        """Seconds of all its turns, rests too."""
        return sum(item.seconds + item.rest_s for item in self.items)


@dataclass(frozen=True, slots=True)
class WeekSum:
    """What a week adds up to; days in their order."""

    rows: tuple[ReadRow, ...]
    days_s: tuple[float, ...]
    strokes: Mapping[Hand, int]

    @property
    def wrong(self) -> int:
        """How many rows cannot be read."""
        return sum(bool(row.wrong) for row in self.rows)


def typed_week(plan: PracticePlan) -> TypedWeek:
    """Lay a plan out in rows: the turns of a day that are alike are one row."""
    rows: list[TypedRow] = []
    for number, day in enumerate(plan.days, start=1):
        alike: dict[tuple[object, ...], list[PracticeItem]] = {}
        for item in day.items:
            key = (item.exercise, item.stroke, item.tempo, item.repetitions)
            alike.setdefault(key, []).append(item)
        rows += [_typed_row(number, items) for items in alike.values()]
    return TypedWeek(tuple(rows), len(plan.days))


def _typed_row(day: int, items: Sequence[PracticeItem]) -> TypedRow:
    first = items[0]
    text = print_exercise(first.exercise)
    rests = tuple(item.rest_s for item in items)
    return TypedRow(
        day=day,
        exercise=text,
        stroke=first.stroke or "",
        tempo=str(first.tempo),
        repetitions=str(first.repetitions),
        turns=str(len(items)),
        rest=_mean(rests),
        rests=" ".join(f"{rest:g}" for rest in rests),
        tempo_was=str(first.tempo),
        title=first.title,
        was=text,
        why=why_words(first.why),
    )


def _mean(rests: Sequence[float]) -> str:
    return f"{round(sum(rests) / len(rests), 1):g}" if rests else NEW_REST_S


def read_week(sent: Mapping[str, Sequence[str]], days: int) -> TypedWeek:
    """Read a form's rows, each field a list as long as there are rows.

    Raises
    ------
    WrongOptions
        Where the lists do not fit together, as no page of ours sends them.
    """
    columns = {name: sent.get(name, ()) for name in FIELDS}
    lengths = {len(column) for column in columns.values()}
    if len(lengths) != 1 or max(lengths) > MOST_ROWS:
        got = f"a form of {max(lengths)} rows that do not fit together"
        raise WrongOptions(got=got, must_be=f"whole rows, at most {MOST_ROWS}")
    rows = []
    for values in zip(*columns.values(), strict=True):
        named = {name: value.strip() for name, value in zip(FIELDS, values, strict=True)}
        row = TypedRow(whole_number(named.pop("day"), 2) or 1, **named)
        rows.append(replace(row, tempo_was=row.tempo) if "=" in row.tempo else row)
    days = max([days, *(row.day for row in rows)])
    return TypedWeek(tuple(sorted(rows, key=lambda row: row.day)), min(days, MOST_DAYS))


def changed(week: TypedWeek, act: str) -> TypedWeek:
    """Do what a button asks; what asks for nothing that there is changes nothing.

    ``remove:3``, ``up:3`` and ``down:3`` are for a row, ``everywhere:3`` takes its exercise with its stroke
    out of all days; ``add:2``, ``same:2`` (on all days) and ``drop:2`` are for a day.
    """
    name, _, text = act.partition(":")
    number = whole_number(text, 3)
    if number is None:
        return week
    if name in {"remove", "up", "down", "everywhere"} and number < len(week.rows):
        return replace(week, rows=tuple(_with_row(list(week.rows), name, number)))
    if name in {"add", "same", "drop"} and 1 <= number <= week.days:
        return _with_day(week, name, number)
    return week


def _with_day(week: TypedWeek, name: str, number: int) -> TypedWeek:
    """Add a row to a day, do the same on all days, or leave a day out."""
    rows = list(week.rows)
    if name == "add" and len(rows) < MOST_ROWS:
        return replace(week, rows=tuple(_added(rows, number)))
    if name == "same":
        own = [row for row in rows if row.day == number]
        every = [replace(row, day=day) for day in range(1, week.days + 1) for row in own]
        return replace(week, rows=tuple(every[:MOST_ROWS]))
    if name == "drop" and week.days > 1:
        left = [replace(row, day=row.day - (row.day > number)) for row in rows if row.day != number]
        return TypedWeek(tuple(left), week.days - 1)
    return week


def _with_row(rows: list[TypedRow], name: str, number: int) -> list[TypedRow]:
    """Remove a row, or change its place within its day."""
    row = rows[number]
    if name == "remove":
        return rows[:number] + rows[number + 1 :]
    if name == "everywhere":
        return [each for each in rows if (each.exercise, each.stroke) != (row.exercise, row.stroke)]
    other = number + (1 if name == "down" else -1)
    if 0 <= other < len(rows) and rows[other].day == row.day:
        rows[number], rows[other] = rows[other], row
    return rows


def _added(rows: list[TypedRow], day: int) -> list[TypedRow]:
    """Add a row at a day's end, with the stroke, the tempo and the rest of the one before."""
    last = max((i for i, row in enumerate(rows) if row.day <= day), default=-1)
    like = next((row for row in reversed(rows[: last + 1]) if row.day == day), None)
    new = TypedRow(day)
    if like is not None:
        new = replace(new, stroke=like.stroke, tempo=like.tempo, tempo_was=like.tempo_was)
        new = replace(new, repetitions=like.repetitions, rest=like.rest)
    return [*rows[: last + 1], new, *rows[last + 1 :]]


def add_up(week: TypedWeek, titles: Mapping[str, str] | None = None) -> WeekSum:
    """Read every row and add up the days; ``titles`` names exercises by their text."""
    rows = tuple(read_row(row, titles or {}) for row in week.rows)
    days_s = [0.0] * week.days
    strokes: Counter[Hand] = Counter({"R": 0, "L": 0})
    for row, read in zip(week.rows, rows, strict=True):
        if 1 <= row.day <= week.days:
            days_s[row.day - 1] += read.seconds
        for hand, blows in _strokes(read.items).items():
            strokes[hand] += blows
    return WeekSum(rows, tuple(days_s), dict(strokes))


def _strokes(items: Sequence[PracticeItem]) -> Mapping[Hand, int]:
    """Count what the turns of one row ask of each hand; they are all of the same exercise."""
    if not items:
        return {}
    often = sum(item.repetitions for item in items)
    return {hand: blows * often for hand, blows in strokes_of(items[0].exercise).items()}


def plan_of(week: TypedWeek, added: WeekSum, *, student: str, starts: date) -> PracticePlan:
    """Make the plan of rows that can all be read; turns go in rounds.

    Raises
    ------
    WrongOptions
        Where a row cannot be read, or nothing is to be practised.
    """
    if added.wrong:
        raise WrongOptions(got=f"{added.wrong} rows that cannot be read", must_be="rows without a mistake")
    days = []
    for number in range(1, week.days + 1):
        own = [read.items for row, read in zip(week.rows, added.rows, strict=True) if row.day == number]
        most = max((len(items) for items in own), default=0)
        days.append(PracticeDay(tuple(items[i] for i in range(most) for items in own if i < len(items))))
    if not any(day.items for day in days):
        raise WrongOptions(got="a week without an exercise", must_be="at least one, on one day")
    return PracticePlan(tuple(days), student, starts)


def read_row(row: TypedRow, titles: Mapping[str, str]) -> ReadRow:
    """Read one row."""
    wrong: dict[str, str] = {}
    read = _exercise(row.exercise, wrong)
    tempo = _tempo(row.full_tempo, wrong)
    repetitions = _count(row.repetitions, MOST_REPETITIONS, "repetitions", wrong)
    turns = _count(row.turns, MOST_TURNS, "turns", wrong)
    rests = list(_rests(row, turns or 1, wrong))
    stroke = stroke_class(row.stroke)
    if wrong or read is None or tempo is None:
        return ReadRow(wrong=wrong)
    exercise, text = read
    kept = text == row.was
    item = PracticeItem(
        exercise,
        tempo,
        repetitions,
        float(turn_seconds(exercise, tempo, repetitions)),
        stroke,
        title=titles.get(text, row.title if kept else ""),
        why=in_words(row.why) if kept else (),
    )
    return ReadRow(tuple(replace(item, rest_s=rest) for rest in rests))


@lru_cache(maxsize=1024)
def _parsed(text: str) -> tuple[Exercise, str]:
    """Read an exercise, and print it in its usual form."""
    exercise = parse_exercise(text)
    return exercise, print_exercise(exercise)


def _exercise(text: str, wrong: dict[str, str]) -> tuple[Exercise, str] | None:
    if not text:
        wrong["exercise"] = "choose or type an exercise, or take the row out"
        return None
    try:
        return _parsed(text)
    except BadExercise as error:
        wrong["exercise"] = f"at its character {error.column}: found {error.found}; must be {error.must_be}"
        return None


def _tempo(text: str, wrong: dict[str, str]) -> Tempo | None:
    try:
        return Tempo.parse(text)
    except BadTempo as error:
        wrong["tempo"] = f"got {error.got}; must be {error.must_be}"
        return None


def _count(text: str, most: int, name: str, wrong: dict[str, str]) -> int:
    number = whole_number(text, 4)
    if number is not None and 1 <= number <= most:
        return number
    wrong[name] = f"got {text or 'nothing'}; must be a whole number, 1 to {most}"
    return 0


def _rests(row: TypedRow, turns: int, wrong: dict[str, str]) -> Iterator[float]:
    """Give a rest for each turn: those planned while the one shown is theirs, else the one typed."""
    planned = [float(each) for each in row.rests.split() if _is_rest(each)]
    if planned and row.rest == _mean(planned):
        yield from (planned[i % len(planned)] for i in range(turns))
    elif _is_rest(row.rest):
        yield from [float(row.rest)] * turns
    else:
        wrong["rest"] = f"got {row.rest or 'nothing'}; must be seconds, 0 to {LONGEST_REST_S:g}"


def _is_rest(text: str) -> bool:
    try:
        seconds = float(text)
    except ValueError:
        return False
    return math.isfinite(seconds) and 0 <= seconds <= LONGEST_REST_S
