"""Next week's page: what its templates show, from what was typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from evenhand.acts.weeks.document import date_of_day
from evenhand.planning.practice import PracticePlan
from evenhand.report.words.figures import capitalised, count, day_name, duration, listed
from evenhand.report.words.practice import BLOCK_NAMES
from evenhand.studio.desk import Cache
from evenhand.studio.lesson import bar_facts, lesson_exercises
from evenhand.studio.path import path_of, stage_names
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import heard_so_far, stage_since
from evenhand.studio.typed import whole_number
from evenhand.studio.values import Student, Week, WeekDraft
from evenhand.studio.weeks.day import COPY, NEW
from evenhand.studio.weeks.next import (
    ShownAdvice,
    WeekOptions,
    days_asked,
    propose,
    read_options,
    recorded_words,
    shown_advice,
    shown_load,
    titles_of,
)
from evenhand.studio.weeks.typed import ReadRow, TypedWeek, WeekSum, add_up, plan_of
from evenhand.studio.whole.lessons import almanac_of
from evenhand.web.pages import clock_words, weekday_words
from evenhand.web.pages import today as this_day
from evenhand.web.views.widget import stroke_choices

LISTED_WEEKS = 8
ADVICE: Cache[ShownAdvice | None] = Cache(128)
PLANS: Cache[PracticePlan] = Cache(128)


@dataclass(frozen=True, slots=True)
class WeekPage:
    """All that the page of a week knows: the form's head as typed, its rows, what is wrong."""

    student: Student
    typed: Mapping[str, str]
    week: Week | None = None
    rows: TypedWeek | None = None
    wrong: Mapping[str, str] | None = None
    notes: tuple[str, ...] = ()
    notice: str = ""
    copied: str = ""  # the id of the week that a new one began as a copy of
    draft: WeekDraft | None = None  # what was typed and not sent: as it is shown
    fresh: bool = False  # it was typed just now

    @property
    def of_week(self) -> str:
        """What its draft is kept as."""
        if self.week is not None:
            return self.week.id
        return f"{COPY}{self.copied}" if self.copied else NEW


def week_facts(studio: Studio, shown: WeekPage, *, act: str = "", said: str = "") -> dict[str, Any]:
    """Return what the templates show, but for what the path says."""
    titles = titles_of(studio.book.all())
    added = add_up(shown.rows, titles) if shown.rows else WeekSum((), (), {})
    options, _ = read_options(shown.typed, this_day(), path_of(studio))
    weeks = studio.weeks.all(shown.student.id)
    starts = options.starts if options else this_day()
    plan = None
    if shown.rows is not None and not added.wrong and any(added.days_s):
        plan = plan_of(shown.rows, added, student=shown.student.name, starts=starts)
    return {
        "student": shown.student,
        "typed": {**shown.typed, "stage": options.stage if options else shown.typed.get("stage", "")},
        "week": shown.week,
        "days": _days(shown, added, options),
        "added": added,
        "has_rows": shown.rows is not None,
        "total_s": sum(added.days_s),
        "asked_s": options.minutes * 60 if options else 0.0,
        "wrong": shown.wrong or {},
        "notes": shown.notes,
        "notice": shown.notice,
        "titles": titles,
        "stages": stage_names(studio),
        "strokes": stroke_choices(),
        "block_names": BLOCK_NAMES,
        "duration": duration,
        "said": said,
        "load": shown_load(plan, starts, weeks) if shown.rows is not None else None,
        "others": [each for each in weeks if shown.week is None or each.id != shown.week.id][:LISTED_WEEKS],
        "copied": shown.copied,
        "draft": shown.draft,
        "draft_said": _draft_words(shown),
        "drafts": _other_drafts(studio, shown),
        "copy_to": [each for each in studio.students.all() if each.id != shown.student.id],
        "holiday": holiday_words(studio, shown.student, starts),
        "grounds": False,
        "in_lesson": False,
        "opened": _opened(shown, act),
    }


def holiday_words(studio: Studio, student: Student, starts: date) -> str:
    """Say which holidays lie in a week, and on how many days is practised then; "" where there are none."""
    almanac, last = almanac_of(studio), starts + timedelta(days=6)
    found = almanac.holidays_within(student.id, starts, last)
    if not found:
        return ""
    named = listed([each.name or "a holiday" for each in found])
    free = almanac.free_days(student.id, starts, last)
    usual, asked = student.days_a_week, days_asked(student, starts, almanac)
    return (
        f"{capitalised(named)}: {free} of these 7 days lie outside it. "
        f"Usual are {count(usual, 'day')} of practice, so {count(asked, 'day')} here; the usual number stays."
    )


def lesson_facts(rows: TypedWeek | None, added: WeekSum) -> dict[str, Any]:
    """Return what the week of a lesson shows besides: each exercise once, with its music."""
    return {
        "in_lesson": True,
        "bar_facts": bar_facts,
        "exercises": lesson_exercises(rows, added) if rows else (),
        "not_read": [
            (row, read.wrong)
            for row, read in zip(rows.rows if rows else (), added.rows, strict=True)
            if read.wrong
        ],
    }


def _draft_words(shown: WeekPage) -> str:
    """Say that what was typed is kept, and from when it is."""
    if shown.draft is None:
        return ""
    at, name = shown.draft.changed_at, shown.student.name
    if shown.fresh:
        return f"What you type is kept. {name} does not see it until you send it."
    return (
        f"You typed this on {weekday_words(at)}, {clock_words(at)}. {name} does not see it until you send it."
    )


def _other_drafts(studio: Studio, shown: WeekPage) -> dict[str, str]:
    """Return the addresses of what was typed elsewhere and not sent, by what it is of."""
    here = f"/students/{shown.student.id}/week"
    found = {}
    for draft in studio.weeks.drafts(shown.student.id):
        if draft.of_week == shown.of_week:
            continue
        copied = draft.of_week.removeprefix(COPY) if draft.of_week.startswith(COPY) else ""
        query = f"as={copied}" if copied else f"week={draft.of_week}" if draft.of_week else "new"
        found[draft.of_week] = f"{here}?{query}"
    return found


def week_grounds(studio: Studio, shown: WeekPage) -> dict[str, Any]:
    """Gather what the path says, and what was recorded; once for the same takes."""
    student = shown.student
    history, digest = heard_so_far(studio, student, datetime.now().astimezone())
    options, _ = read_options(shown.typed, this_day(), path_of(studio))
    stage = options.stage if options else student.stage
    before = [
        week for week in studio.weeks.all(student.id) if options is None or week.starts < options.starts
    ]
    path, today = path_of(studio), this_day()
    since = stage_since(before, stage, path)
    key = (student.id, path, stage, since, today, digest)
    return {
        "grounds": True,
        "advice": ADVICE.get(key, lambda: shown_advice(history, path, stage, since, today)),
        "recorded": recorded_words(history),
    }


def proposed_plan(studio: Studio, student: Student, options: WeekOptions) -> PracticePlan:
    """Propose a week; the same is proposed once for the same takes, the same book and the same weeks.

    Raises
    ------
    WrongOptions
        Where nothing fits into a day.
    """
    history, digest = heard_so_far(studio, student, datetime.now().astimezone())
    entries, weeks = studio.book.all(), studio.weeks.all(student.id)
    path = path_of(studio)
    key = (student.id, student.name, options, digest, tuple(entries), tuple(weeks), path)
    return PLANS.get(key, lambda: propose(options, student, history, entries, weeks, path))


def _opened(shown: WeekPage, act: str) -> int:
    """Return the day that a button's act was for, so that it stays open; 0 for none."""
    name, _, text = act.partition(":")
    number = whole_number(text)
    if shown.rows is None or number is None:
        return 0
    if name in {"add", "same"}:
        return number
    rows = shown.rows.rows
    return rows[min(number, len(rows) - 1)].day if rows and name != "drop" else 0


def _days(shown: WeekPage, added: WeekSum, options: WeekOptions | None) -> list[dict[str, Any]]:
    """Gather each day's rows with what they add up to."""
    if shown.rows is None:
        return []
    starts = options.starts if options else this_day()
    days = []
    for number in range(1, shown.rows.days + 1):
        own: list[dict[str, Any]] = [
            {"at": i, "typed": row, "read": read, "takes": takes_words(read)}
            for i, (row, read) in enumerate(zip(shown.rows.rows, added.rows, strict=True))
            if row.day == number
        ]
        on = day_name(date_of_day(starts, number - 1, shown.rows.days))
        seconds = added.days_s[number - 1]
        days.append({"number": number, "on": on, "rows": own, "seconds": seconds})
    return days


def takes_words(read: ReadRow) -> str:
    """Say how long a row takes, a dash where it cannot be read."""
    return duration(read.seconds, "seconds") if read.item else "–"
