"""A studio's students: read what was typed of them, from a form or from a table of many.

Conventions: what is wrong comes back as values, each with its field and, in a table, its row (the
heading is row 1, as a spreadsheet counts); nothing is changed until all of it can be read.

One student of a studio: the week that runs, and the history.

Conventions: days are on the teacher's own clock.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from hashlib import sha256
from typing import Any

from evenhand.acts.documents import rows_of
from evenhand.acts.takes.document import past_take
from evenhand.acts.takes.seen import read_take, with_seen
from evenhand.acts.weeks.document import plan_from_json
from evenhand.errors import BadDocument, BadExercise, BadPlan, BadTempo
from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import stroke_class
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.planning.practice import Block, PracticeItem, PracticePlan
from evenhand.progress.history import History, PastBounce, PastTake
from evenhand.progress.stages.path import PracticePath, plain_name
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.studio.desk import Cache
from evenhand.studio.path import same_stage
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import GRIP, Student, StudioTake, Week, day_recorded

MOST_LETTERS = 80  # of a name
MOST_NOTES = 20_000
MOST_ROWS = 500
COLUMNS = ("name", "stage", "minor", "lesson_day", "lesson_time", "minutes", "days")
DAY_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_YES, _NO = (
    frozenset({"yes", "y", "true", "1", "x", "minor"}),
    frozenset({"", "no", "n", "false", "0", "adult"}),
)
_TIME = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?\s*(am|pm)?", re.IGNORECASE)
_FIELDS = {"minutes": "minutes_a_day", "days": "days_a_week"}


@dataclass(frozen=True, slots=True)
class Wrong:
    """What cannot be read: which field, what stood there, in which row of a table."""

    field: str
    got: str
    row: int | None = None


def read_fields(
    typed: Mapping[str, str], row: int | None = None, *, path: PracticePath = COMMON_PATH
) -> tuple[dict[str, Any], tuple[Wrong, ...]]:
    """Read what was typed of one student, by column; what is not among the columns is passed over."""
    fields: dict[str, Any] = {}
    wrong: list[Wrong] = []
    for column, read in _READERS.items():
        if column not in typed:
            continue
        text = typed[column].strip()
        try:
            value = _stage(text, path) if column == "stage" else read(text)
            fields[_FIELDS.get(column, column)] = value
        except ValueError:
            wrong.append(Wrong(column, text, row))
    return fields, tuple(wrong)


def read_table(
    text: str, there: Iterable[str] = (), *, path: PracticePath = COMMON_PATH
) -> tuple[tuple[dict[str, Any], ...], tuple[Wrong, ...]]:
    """Read a table of students, ``name[,stage,minor,lesson_day,lesson_time,minutes,days]``.

    A heading may name the columns in another order. ``there`` are the names that the studio has.
    """
    rows = list(rows_of(text, ",;\t"))
    columns: Sequence[str] = COLUMNS
    if rows and "name" in [cell.lower() for cell in rows[0][1]]:
        columns = [cell.lower().replace(" ", "_") for cell in rows.pop(0)[1]]
    unknown = [column for column in columns if column not in COLUMNS]
    if unknown or len(set(columns)) < len(columns):
        return (), (Wrong("columns", ", ".join(unknown or columns), 1),)
    if not rows or len(rows) > MOST_ROWS:
        return (), (Wrong("rows", str(len(rows))),)
    found, wrong, names = [], list[Wrong](), {plain_name(name) for name in there}
    for number, cells in rows:
        fields, not_read = _row(number, cells, columns, path)
        wrong += not_read
        name = plain_name(fields.get("name", ""))
        if name and name in names:
            wrong.append(Wrong("same_name", fields["name"], number))
        names.add(name)
        found.append(fields)
    return (() if wrong else tuple(found)), tuple(wrong)


def same_name(name: str, there: Iterable[str]) -> bool:
    """Tell whether somebody of this name is there; capitals and spaces make no difference."""
    return plain_name(name) in {plain_name(each) for each in there}


def take_in(studio: Studio, found: Iterable[Mapping[str, Any]]) -> tuple[Student, ...]:
    """Take many students in, all of them or none."""
    added: list[Student] = []
    try:
        for fields in found:
            added.append(studio.students.add(**fields))  # noqa: PERF401 - those added before an error are taken out
    except BaseException:
        for student in added:
            studio.students.erase(student.id)
        raise
    return tuple(added)


def read_consent(by: str, on: str, today: date) -> tuple[dict[str, Any], tuple[Wrong, ...]]:
    """Read who agreed for a minor, and when; nobody takes the consent back."""
    by, on = by.strip(), on.strip()
    if len(by) > MOST_LETTERS:
        return {}, (Wrong("consent_by", by),)
    if not by:
        return {"consent_by": "", "consent_on": None}, ()
    try:
        day = date.fromisoformat(on) if on else today
    except ValueError:
        return {}, (Wrong("consent_on", on),)
    if day > today:
        return {}, (Wrong("consent_on", on),)
    return {"consent_by": by, "consent_on": day}, ()


def _row(
    number: int, cells: Sequence[str], columns: Sequence[str], path: PracticePath
) -> tuple[dict[str, Any], tuple[Wrong, ...]]:
    if len(cells) > len(columns) and any(cells[len(columns) :]):
        return {}, (Wrong("cells", str(len(cells)), number),)
    typed = {column: cell for column, cell in zip(columns, cells, strict=False) if cell or column == "name"}
    return read_fields(typed, number, path=path)


def _name(text: str) -> str:
    text = " ".join(text.split())
    if not 1 <= len(text) <= MOST_LETTERS or not text.isprintable():
        raise ValueError(text)
    return text


def _stage(text: str, path: PracticePath) -> str:
    stage = path.stage(text)
    if stage is None:
        raise ValueError(text)
    return stage.name


def _yes(text: str) -> bool:
    if text.lower() in _YES:
        return True
    if text.lower() in _NO:
        return False
    raise ValueError(text)


def _day(text: str) -> int | None:
    """Read a day's name, or three letters of it."""
    word = text.lower().rstrip(".")
    if not word:
        return None
    found = [number for number, name in enumerate(DAY_NAMES) if len(word) >= 2 and name.startswith(word)]
    if len(found) != 1:
        raise ValueError(text)
    return found[0]


def read_time(text: str) -> str:
    """Read a time of day; write it as ``16:30``.

    >>> read_time("4:30 pm"), read_time("9.05"), read_time("16h30"), read_time("")
    ('16:30', '09:05', '16:30', '')
    """
    if not text:
        return ""
    match = _TIME.fullmatch(text)
    if match is None:
        raise ValueError(text)
    hour, minute, half = int(match[1]), int(match[2] or 0), (match[3] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            raise ValueError(text)
        hour = hour % 12 + (12 if half == "pm" else 0)
    if hour > 23 or minute > 59 or (match[2] is None and not half):
        raise ValueError(text)
    return f"{hour:02}:{minute:02}"


def _minutes(text: str) -> float:
    minutes = float(text)
    if not 1 <= minutes <= 240:
        raise ValueError(text)
    return minutes


def _days(text: str) -> int:
    days = int(text)
    if not 1 <= days <= 7:
        raise ValueError(text)
    return days


def _notes(text: str) -> str:
    if len(text) > MOST_NOTES:
        raise ValueError(text)
    return text


_READERS: Mapping[str, Callable[[str], Any]] = {
    "name": _name,
    "stage": str,
    "minor": _yes,
    "lesson_day": _day,
    "lesson_time": read_time,
    "minutes": _minutes,
    "days": _days,
    "notes": _notes,
}


HISTORY_WEEKS, MOST_TAKES = 26, 160
WITHOUT_CLICK = frozenset({"off", "count-in"})  # of ``stand.sent.CLICK_PLACES``: nothing says when to drop
MOST_A_DAY = (
    2  # goes at one exercise at one tempo on one day: a day of many goes does not crowd the weeks out
)


@dataclass(frozen=True, slots=True)
class WeekExercise:
    """An exercise of a week in one block: its tempo on the first and on the last day, and its goes in all."""

    text: str
    title: str
    stroke: str
    block: Block | None
    first_tempo: str
    last_tempo: str
    goes: int


@dataclass(frozen=True, slots=True)
class WeekInShort:
    """A week's practice in short; ``minutes`` of the longest day, rests too."""

    week: Week
    plan: PracticePlan
    minutes: float
    exercises: tuple[WeekExercise, ...]


def week_in_short(week: Week | None) -> WeekInShort | None:
    """Read a week's plan; None where there is none, or it cannot be read."""
    if week is None:
        return None
    try:
        plan = plan_from_json(week.plan, name="the week's plan")
    except BadPlan:
        return None
    minutes = max(day.seconds for day in plan.days) / 60
    return WeekInShort(week, plan, minutes, tuple(_exercises(plan)))


def _exercises(plan: PracticePlan) -> Iterator[WeekExercise]:
    """Gather a plan's items that are alike, in the order in which they first come."""
    alike: dict[object, list[PracticeItem]] = {}
    for day in plan.days:
        for item in day.items:
            alike.setdefault((item.exercise, item.stroke, item.block), []).append(item)
    for items in alike.values():
        first, goes = items[0], sum(item.goes for item in items)
        text, stroke = print_exercise(first.exercise), first.stroke or ""
        tempos = str(first.tempo), str(items[-1].tempo)
        yield WeekExercise(text, first.title, stroke, first.block, *tempos, goes)


def stage_since(weeks: Sequence[Week], stage: str, path: PracticePath = COMMON_PATH) -> date | None:
    """Return since when a stage was practised without a break, from the weeks that were sent."""
    since = None
    for week in weeks:  # newest first
        if week.sent_at is None:
            continue
        if not same_stage(path, week.stage, stage):
            break
        since = week.starts
    return since


def heard_takes(
    studio: Studio, student: Student, now: datetime, *, within: tuple[date, date] | None = None
) -> list[StudioTake]:
    """List the student's own heard takes of the last half year, oldest first, with what was heard.

    Of the goes at one exercise at one tempo on one day, the newest ``MOST_A_DAY``. ``within`` are the first
    and the last day of another time that is meant.
    """
    since, alike = now - timedelta(weeks=HISTORY_WEEKS), Counter[object]()
    if within is not None:
        since = datetime.combine(within[0], time(), now.tzinfo)
    newest = []
    for take in studio.takes.all(student.id, since=since):
        day = day_recorded(take, now)
        key = (day, take.exercise, take.tempo, take.stroke, take.facts.get(GRIP))
        own = not take.model and take.source != "teacher" and take.status != "failed"
        meant = within is None or within[0] <= day <= within[1]
        if own and meant and alike[key] < MOST_A_DAY:
            alike[key] += 1
            newest.append(take.id)
    takes = studio.takes.all(student.id, ids=newest[:MOST_TAKES], with_heard=True)
    return [take for take in reversed(takes) if take.heard]


def heard_digest(takes: Iterable[StudioTake]) -> str:
    """Name what was heard, so that what is made of it need not be made again."""
    digest = sha256()
    for take in takes:
        digest.update(f"{take.recorded_at}|{_made_of(take)}|".encode())
    return digest.hexdigest()


def _made_of(take: StudioTake) -> str:
    """Name all that a take's past is made of, but for its day; what is heard of drops names no exercise."""
    facts = take.facts.get("click"), take.facts.get(GRIP)
    return f"{take.id}|{take.stroke}|{take.exercise}|{take.tempo}|{facts}|{take.heard}"


def history_of(takes: Iterable[StudioTake], student: Student, now: datetime) -> History:
    """Gather what was heard of a student."""
    found, dropped, left_out = list[PastTake](), list[PastBounce](), list[str]()
    for take in takes:
        day = day_recorded(take, now)
        past = _past_once(take, day)
        if isinstance(past, PastBounce):
            dropped.append(past)
        elif past is None:
            left_out.append(f"{day}: what was heard cannot be read")
        else:
            found.append(past)
            if not past.clear:
                left_out.append(f"{day}: it does not tell which hand is which")
    found.sort(key=lambda past: past.day)
    dropped.sort(key=lambda past: past.day)
    return History(tuple(found), tuple(dropped), tuple(left_out), student.name)


HISTORIES: Cache[History] = Cache(64)
PASTS: Cache[PastTake | PastBounce | None] = Cache(4096)  # of 13 kB each


def heard_so_far(studio: Studio, student: Student, now: datetime) -> tuple[History, str]:
    """Give a student's history, and a name for what it was made of."""
    return read_once(heard_takes(studio, student, now), student, now)


def read_once(takes: Sequence[StudioTake], student: Student, now: datetime) -> tuple[History, str]:
    """Read a history once for the same takes; beside it, a name for what it was made of."""
    digest = heard_digest(takes)
    key = (student.id, student.name, digest, now.utcoffset())
    return HISTORIES.get(key, lambda: history_of(takes, student, now)), digest


def _past_once(take: StudioTake, day: date) -> PastTake | PastBounce | None:
    """Read a take's past once for what was heard in it: where one comes, all others are known."""
    key = day, sha256(_made_of(take).encode()).digest()
    return PASTS.get(key, lambda: _past(take, day))


def _past(take: StudioTake, day: date) -> PastTake | PastBounce | None:
    """Read what was heard in a take: strokes, or the drops of an exercise of drops."""
    try:
        heard, seen = read_take(take.heard or "")
        if heard.exercise is None and take.exercise:
            from evenhand.acts.takes.drops import past_drops

            clicked = take.facts.get("click") not in WITHOUT_CLICK
            tempo = Tempo.parse(take.tempo) if clicked else None
            return past_drops(heard, parse_exercise(take.exercise), tempo, day, take.facts.get(GRIP, ""))
        return with_seen(past_take(heard, day, stroke_class(take.stroke)), seen)
    except (BadDocument, BadExercise, BadTempo):
        return None
