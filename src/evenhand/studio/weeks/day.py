"""Which week, and which day of it, a student practises: one rule for every page and for the sheet.

Conventions: dates are on the teacher's own clock; a week lasts seven days from its first; the plan's days
count from 1 and lie on the dates that ``plan_calendar.date_of_day`` gives them.

The week is the newest one sent that has begun; once it is over, one that was sent ahead comes in its place.
What is sent can be seen at once: a week that has not begun stands beside the one that runs.

The day is the one that lies on today. Where none does, it is where the student left off: the last day of
which something was recorded, or the one after it where that one is done.

A week's printed sheet, the same for the teacher and on the stand: its days are the stand's days.

What is typed into a week's form, kept as it stands there: nothing of it need be right.

Conventions: a draft is of a week's id, of "" for a new one, or of ``as:`` and the id of the week that it
began as a copy of. Its text is JSON: the head's fields, the days, each row's fields, as they were typed.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from typing import Literal

from evenhand.acts.weeks.document import DAYS_A_WEEK, plan_from_json
from evenhand.acts.weeks.sheet import sheet_of_plan
from evenhand.errors import WrongOptions
from evenhand.report.print.lesson_sheet import LessonSheet
from evenhand.studio.values import Student, StudioFacts, Week, WeekDraft
from evenhand.studio.weeks.next import next_start
from evenhand.studio.weeks.typed import FIELDS, TypedWeek, read_week
from evenhand.studio.whole.lessons import Almanac

Standing = Literal["early", "running", "over"]


@dataclass(frozen=True, slots=True)
class WeeksNow:
    """The week to practise, and the other one that a student may look at: the next, or the last."""

    week: Week | None = None
    beside: Week | None = None

    def named(self, week_id: str) -> Week | None:
        """Return the one that is named, else the one to practise."""
        return next((each for each in (self.week, self.beside) if each and each.id == week_id), self.week)


def weeks_now(weeks: Iterable[Week], today: date) -> WeeksNow:
    """Choose from a student's weeks; drafts are nobody's but the teacher's."""
    sent = [each for each in weeks if each.sent_at is not None]
    begun = max((each for each in sent if each.starts <= today), key=_newness, default=None)
    ahead = [each for each in sent if each.starts > today]
    first = min((each.starts for each in ahead), default=None)
    coming = max((each for each in ahead if each.starts == first), key=_newness, default=None)
    if coming is not None and (begun is None or standing_of(begun, today) == "over"):
        return WeeksNow(coming, begun)
    return WeeksNow(begun, coming)


def _newness(week: Week) -> tuple[date, float]:
    return week.starts, week.sent_at.timestamp() if week.sent_at else 0.0


def standing_of(week: Week, today: date) -> Standing:
    """Say how a week stands to a day: not begun yet, on, or over.

    >>> standing_of(Week("", "", date(2026, 3, 3), "tap", ""), date(2026, 3, 10))
    'over'
    """
    if today < week.starts:
        return "early"
    return "running" if today < week.starts + timedelta(days=DAYS_A_WEEK) else "over"


def day_to_practise(
    dates: Mapping[int, date], begun: Collection[int], done: Collection[int], today: date
) -> int:
    """Choose a day by its number: ``dates`` are those with something on them, ``begun`` has recordings.

    >>> day_to_practise({1: date(2026, 3, 2), 2: date(2026, 3, 4)}, {1}, {1}, date(2026, 3, 3))
    2
    """
    numbers = sorted(dates)
    for number in numbers:
        if dates[number] == today:
            return number
    last = max((number for number in numbers if number in begun), default=None)
    if last is None:
        return numbers[0]
    after = next((number for number in numbers if number > last), None)
    return after if after is not None and last in done else last


def sheet_of_week(week: Week, student: Student, studio: StudioFacts, link: str = "") -> LessonSheet:
    """Lay a week's sheet out; ``link`` stands on it as a QR code.

    Raises
    ------
    BadPlan
        Where the week's plan cannot be read.
    """
    plan = plan_from_json(week.plan, name="the week's plan")
    blank = LessonSheet(
        studio=studio.name,
        student=student.name,
        on=week.starts,
        words=week.words,
        link=link,
        unit=studio.unit,
    )
    return sheet_of_plan(replace(plan, starts=week.starts), blank)


HEAD = ("starts", "stage", "minutes", "days", "seed", "words", "story")
NEW, COPY = "", "as:"


def draft_text(head: Mapping[str, str], rows: TypedWeek | None) -> str:
    """Write what was typed; ``rows`` is None before there are any."""
    found: dict[str, object] = {"head": {name: head.get(name, "") for name in HEAD}}
    if rows is not None:
        found |= {"days": rows.days, "rows": [asdict(row) for row in rows.rows]}
    return json.dumps(found, ensure_ascii=False)


def read_draft(text: str) -> tuple[dict[str, str], TypedWeek | None] | None:
    """Read what was typed; None where it is another's text."""
    try:
        found = json.loads(text)
        head = {name: str(found["head"].get(name, "")) for name in HEAD}
        if "rows" not in found:
            return head, None
        columns = {name: [_of_draft(row, name) for row in found["rows"]] for name in FIELDS}
        return head, read_week(columns, int(found["days"]))
    except (ValueError, KeyError, TypeError, AttributeError, WrongOptions):
        return None


def _of_draft(row: Mapping[str, object], name: str) -> str:
    """Return a row's field; drafts of an earlier version had turns, and neither pauses nor blocks."""
    later = {"goes": row.get("turns"), "pause": "0", "block": "", "purpose": ""}
    return str(row[name] if name in row or name not in later else later[name])


def draft_to_go_on_with(drafts: Sequence[WeekDraft], weeks: Sequence[Week]) -> WeekDraft | None:
    """Return what was typed last for a week that is not sent."""
    unsent = {week.id for week in weeks if week.sent_at is None}
    return next((draft for draft in drafts if is_new(draft.of_week) or draft.of_week in unsent), None)


def is_new(of_week: str) -> bool:
    """Tell whether a draft is of a week that was never saved."""
    return of_week == NEW or of_week.startswith(COPY)


def begun_in_time(
    head: Mapping[str, str],
    student: Student,
    weeks: Sequence[Week],
    today: date,
    almanac: Almanac | None = None,
) -> dict[str, str]:
    """Let a new week begin at the next lesson where its own beginning is over, or taken by another."""
    taken = {week.starts.isoformat() for week in weeks if week.sent_at is not None}
    try:
        over = date.fromisoformat(head["starts"]) + timedelta(days=DAYS_A_WEEK) <= today
    except ValueError:  # as it was typed, to be put right there
        over = False
    if not over and head["starts"] not in taken:
        return dict(head)
    return {**head, "starts": next_start(student, today, weeks, almanac).isoformat()}
