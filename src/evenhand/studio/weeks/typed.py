"""A week as it stands in a form while it is changed: rows of text, what they add up to, what is wrong.

Conventions: days and rows count from 1 and 0. A row is one item of a day: an exercise in so many goes, with a
pause between two goes and a rest after the last. A go's seconds are ``planning.practice.turn_seconds``. Of a
week that was planned without blocks, in rounds, the turns of a day that are alike are one row.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date
from functools import lru_cache

from evenhand.errors import BadExercise, BadTempo, WrongOptions
from evenhand.music.exercise import Exercise, Hand, Tempo
from evenhand.music.strokes.heights import stroke_class
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.planning.lesson import REST_S
from evenhand.planning.load import strokes_of
from evenhand.planning.practice import BLOCKS, PracticeDay, PracticeItem, PracticePlan, turn_seconds
from evenhand.report.words.remarks import all_remarks, why_words
from evenhand.studio.typed import full_tempo, whole_number
from evenhand.take import in_words

MOST_ROWS = 400
MOST_DAYS = 7
MOST_REPETITIONS, MOST_GOES, LONGEST_REST_S = 999, 99, 600.0
NEW_REST_S = f"{REST_S}"
NEW_BPM = "80"  # of the exercise's own beat
STEP_S = 30  # an item is made longer and shorter by half a minute


@dataclass(frozen=True, slots=True)
class TypedRow:
    """One row; ``pause`` is between two goes, ``rest`` after the last, in seconds.

    ``title`` and ``why`` are said of the exercise ``was``. ``tempo_was`` is the last tempo with a beat that
    stood there: a number alone is of that beat.
    """

    day: int
    exercise: str = ""
    stroke: str = ""
    tempo: str = ""
    repetitions: str = "4"
    goes: str = "1"
    pause: str = "0"
    rest: str = NEW_REST_S
    block: str = ""
    purpose: str = ""
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

    item: PracticeItem | None = None
    wrong: Mapping[str, str] = field(default_factory=dict)

    @property
    def seconds(self) -> float:
        """Seconds of all its goes, pauses and rest too."""
        return self.item.seconds + self.item.rest_s if self.item else 0.0


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
    """Lay a plan out in rows."""
    rows: list[TypedRow] = []
    for number, day in enumerate(plan.days, start=1):
        alike: dict[object, list[PracticeItem]] = {}
        for place, item in enumerate(day.items):
            key = (item.exercise, item.stroke, item.tempo, item.repetitions)
            alike.setdefault(key if item.block is None else place, []).append(item)
        rows += [_typed_row(number, _in_goes(items)) for items in alike.values()]
    return TypedWeek(tuple(rows), len(plan.days))


def _in_goes(items: Sequence[PracticeItem]) -> PracticeItem:
    """Make one item of turns that are alike: as long as they are, their rests its pauses."""
    if len(items) == 1:
        return items[0]
    goes, rests_s = len(items), sum(item.rest_s for item in items)
    pause_s = round(rests_s / goes)
    seconds = sum(item.seconds for item in items) + (goes - 1) * pause_s
    rest_s = rests_s - (goes - 1) * pause_s
    return replace(items[0], goes=goes, pause_s=float(pause_s), seconds=seconds, rest_s=rest_s)


def _typed_row(day: int, item: PracticeItem) -> TypedRow:
    text = print_exercise(item.exercise)
    return TypedRow(
        day=day,
        exercise=text,
        stroke=item.stroke or "",
        tempo=str(item.tempo),
        repetitions=str(item.repetitions),
        goes=str(item.goes),
        pause=f"{item.pause_s:g}",
        rest=f"{item.rest_s:g}",
        block=item.block or "",
        purpose=" ".join(all_remarks(item.purpose)),
        tempo_was=str(item.tempo),
        title=item.title,
        was=text,
        why=why_words(item.why),
    )


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

    ``remove:3``, ``up:3`` and ``down:3`` are for a row, ``longer:3`` and ``shorter:3`` give it half a minute
    more or less, ``everywhere:3`` takes its exercise with its stroke out of all days; ``add:2``, ``same:2``
    (on all days) and ``drop:2`` are for a day. ``put:1/8 = 90;1/8: RLRR`` puts an exercise on every day; no
    tempo said, it is that of the row before it.
    """
    name, _, text = act.partition(":")
    if name == "put":
        return _put(week, *text.split(";", 1))
    number = whole_number(text, 3)
    if number is None:
        return week
    if name in {"longer", "shorter"} and number < len(week.rows):
        row = _by_half_minutes(week.rows[number], 1 if name == "longer" else -1)
        return replace(week, rows=(*week.rows[:number], row, *week.rows[number + 1 :]))
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


def _put(week: TypedWeek, tempo: str, exercise: str = "") -> TypedWeek:
    """Put an exercise at the end of every day, unless the week has it."""
    tempo, exercise = tempo.strip(), exercise.strip()
    rows = list(week.rows)
    if not exercise or any(row.exercise == exercise for row in rows):
        return week
    for day in range(1, week.days + 1):
        if len(rows) < MOST_ROWS:
            rows = _added(rows, day)
            at = max(i for i, row in enumerate(rows) if row.day == day)
            pace = tempo or full_tempo(rows[at].tempo or NEW_BPM, exercise)
            rows[at] = replace(rows[at], exercise=exercise, tempo=pace, tempo_was=pace)
    return replace(week, rows=tuple(rows))


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


def _by_half_minutes(row: TypedRow, steps: int) -> TypedRow:
    """Make an item whole half minutes longer or shorter: by repetitions, and by its rest what is left.

    Where not even one repetition and its rest go in, or it cannot be read, it stays as it is.
    """
    item = read_row(row, {}).item
    if item is None:
        return row
    takes_s = item.seconds + item.rest_s
    wanted_s = STEP_S * (math.floor(takes_s / STEP_S) + 1 if steps > 0 else math.ceil(takes_s / STEP_S) - 1)
    least_rest_s = min(item.rest_s, REST_S)
    most = min(MOST_REPETITIONS, math.ceil(wanted_s / _once_s(item)))
    for repetitions in range(most, 0, -1):
        rest_s = wanted_s - _seconds(item, repetitions)
        if least_rest_s <= rest_s <= LONGEST_REST_S:
            return replace(row, repetitions=str(repetitions), rest=f"{rest_s:g}")
    return row


def _once_s(item: PracticeItem) -> float:
    return float(item.exercise.length) * item.tempo.whole_note_s * item.goes


def _seconds(item: PracticeItem, repetitions: int) -> float:
    """Return what an item takes with so many repetitions, its rest apart."""
    go_s = turn_seconds(item.exercise, item.tempo, repetitions)
    return item.goes * go_s + (item.goes - 1) * item.pause_s


def _added(rows: list[TypedRow], day: int) -> list[TypedRow]:
    """Add a row at a day's end, with the stroke, the tempo and the rest of the one before."""
    last = max((i for i, row in enumerate(rows) if row.day <= day), default=-1)
    like = next((row for row in reversed(rows[: last + 1]) if row.day == day), None)
    new = TypedRow(day)
    if like is not None:
        new = replace(new, stroke=like.stroke, tempo=like.tempo, tempo_was=like.tempo_was)
        new = replace(new, repetitions=like.repetitions, rest=like.rest, block=like.block)
    return [*rows[: last + 1], new, *rows[last + 1 :]]


def add_up(week: TypedWeek, titles: Mapping[str, str] | None = None) -> WeekSum:
    """Read every row and add up the days; ``titles`` names exercises by their text."""
    rows = tuple(read_row(row, titles or {}) for row in week.rows)
    days_s = [0.0] * week.days
    strokes: Counter[Hand] = Counter({"R": 0, "L": 0})
    for row, read in zip(week.rows, rows, strict=True):
        if 1 <= row.day <= week.days:
            days_s[row.day - 1] += read.seconds
        if read.item is not None:
            for hand, blows in strokes_of(read.item.exercise).items():
                strokes[hand] += blows * read.item.repetitions * read.item.goes
    return WeekSum(rows, tuple(days_s), dict(strokes))


def plan_of(week: TypedWeek, added: WeekSum, *, student: str, starts: date) -> PracticePlan:
    """Make the plan of rows that can all be read.

    Raises
    ------
    WrongOptions
        Where a row cannot be read, or nothing is to be practised.
    """
    if added.wrong:
        raise WrongOptions(got=f"{added.wrong} rows that cannot be read", must_be="rows without a mistake")
    days = []
    for number in range(1, week.days + 1):
        own = [read.item for row, read in zip(week.rows, added.rows, strict=True) if row.day == number]
        days.append(PracticeDay(tuple(item for item in own if item is not None)))
    if not any(day.items for day in days):
        raise WrongOptions(got="a week without an exercise", must_be="at least one, on one day")
    return PracticePlan(tuple(days), student, starts)


def read_row(row: TypedRow, titles: Mapping[str, str]) -> ReadRow:
    """Read one row."""
    wrong: dict[str, str] = {}
    read = _exercise(row.exercise, wrong)
    tempo = _tempo(row.full_tempo, wrong)
    repetitions = _count(row.repetitions, MOST_REPETITIONS, "repetitions", wrong)
    goes = _count(row.goes, MOST_GOES, "goes", wrong)
    pause_s, rest_s = (_rest(getattr(row, name), name, wrong) for name in ("pause", "rest"))
    if wrong or read is None or tempo is None:
        return ReadRow(wrong=wrong)
    exercise, text = read
    kept = text == row.was
    item = PracticeItem(
        exercise,
        tempo,
        repetitions,
        0.0,
        stroke_class(row.stroke),
        rest_s,
        (row.title if kept else "") or titles.get(text, ""),
        in_words(row.why) if kept else (),
        goes,
        pause_s if goes > 1 else 0.0,
        next((block for block in BLOCKS if block == row.block), None),
        in_words(row.purpose),
    )
    return ReadRow(replace(item, seconds=float(_seconds(item, repetitions))))


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


def _rest(text: str, name: str, wrong: dict[str, str]) -> float:
    """Read seconds of a pause or a rest."""
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0 <= seconds <= LONGEST_REST_S:  # no NaN passes
        wrong[name] = f"got {text or 'nothing'}; must be seconds, 0 to {LONGEST_REST_S:g}"
        return 0.0
    return seconds
