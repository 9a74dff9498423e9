"""A student's next week: what is proposed and on what grounds, what it weighs, how it is kept and sent.

Conventions: days are on the teacher's own clock; a week begins on the day of the lesson. What is proposed
is the plan of docs/plan.md, from the studio's book and what was heard of the student.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache

from evenhand.acts.exercises.books import stock
from evenhand.acts.weeks.document import plan_from_json, plan_to_json
from evenhand.acts.weeks.plan import LEAST_MINUTES, MOST_DAYS, MOST_MINUTES, WeekRequest, plan_week
from evenhand.acts.weeks.stages import advise_student
from evenhand.errors import BadExercise, EvenhandError, WrongOptions
from evenhand.music.book import Book, Entry
from evenhand.music.exercise import HANDS
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.planning.load import Jump, assigned_load, recorded_load
from evenhand.planning.practice import PracticePlan
from evenhand.progress.history import History
from evenhand.progress.stages.path import PracticePath
from evenhand.report.words.advice import (
    TEACHER_DECIDES,
    VERDICTS,
    basis_words,
    bound_words,
    figure_words,
    headline,
    reason_words,
)
from evenhand.report.words.figures import duration, short_day
from evenhand.report.words.progress import recorded_week_words, this_week_words, thousands
from evenhand.report.words.remarks import all_remarks, remark_sentences
from evenhand.studio.path import mark_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.typed import notes_of, usual_text, whole_number
from evenhand.studio.values import BookEntry, Student, Week
from evenhand.studio.whole.lessons import Almanac, almanac_of
from evenhand.take import in_words

PLAN_NAME = "the week's plan"
MOST_LETTERS = 5000
WEEKS_BACK = 4  # so many weeks before are weighed beside the new one
FARTHEST = timedelta(days=400)


@dataclass(frozen=True, slots=True)
class WeekOptions:
    """What is asked of a week, read and checked."""

    starts: date
    stage: str
    minutes: float
    days: int
    seed: int = 0
    words: str = ""
    story: str = ""  # the week in two sentences


@dataclass(frozen=True, slots=True)
class ShownAdvice:
    """What the path says: the proposal, why, each condition with what was found, and what it rests on."""

    headline: str
    to: str  # the stage that is proposed instead, "" where it stays
    why: str
    rows: tuple[tuple[str, str, str, str], ...]  # words, asked, found, verdict
    basis: str
    notes: tuple[str, ...]
    decides: str = TEACHER_DECIDES


@dataclass(frozen=True, slots=True)
class ShownLoad:
    """What a week weighs beside those before: a line a week, and what jumps over the one before."""

    lines: tuple[tuple[str, str, str, str], ...]  # which week, right strokes, left strokes, minutes
    jumps: str


def options_of(
    student: Student,
    today: date,
    week: Week | None = None,
    weeks: Sequence[Week] = (),
    almanac: Almanac | None = None,
) -> dict[str, str]:
    """Return what the form's head begins with: a week's own, else what is next after those sent."""
    starts = week.starts if week else next_start(student, today, weeks, almanac)
    return {
        "starts": starts.isoformat(),
        "stage": week.stage if week else student.stage,
        "minutes": f"{student.minutes_a_day:g}",
        "days": str(days_asked(student, starts, almanac)),
        "seed": "0",
        "words": week.words if week else "",
        "story": story_words(read_plan(week)) if week else "",
    }


def next_start(
    student: Student, today: date, weeks: Sequence[Week] = (), almanac: Almanac | None = None
) -> date:
    """Return the day from which the next week counts: the next lesson's, today's too; else today.

    It is a lesson that takes place. Where a week was sent from that day on already, it is the one after.
    """
    almanac = almanac or Almanac()
    sent = {week.starts for week in weeks if week.sent_at is not None}
    day = _lesson_from(student, today, almanac) or today
    while day in sent:
        day = _lesson_from(student, day + timedelta(days=1), almanac) or day + timedelta(days=7)
    return day


def _lesson_from(student: Student, day: date, almanac: Almanac) -> date | None:
    lesson = almanac.next_lesson(student, day)
    return None if lesson is None else lesson.day


def days_asked(student: Student, starts: date, almanac: Almanac | None, last: date | None = None) -> int:
    """Return on how many days of a week (or until ``last``) is practised: by the share outside holidays.

    >>> from datetime import datetime
    >>> from evenhand.studio.values import Holiday
    >>> nora = Student("n", "Nora Veldt", "tap", datetime(2026, 1, 1), days_a_week=5)
    >>> days_asked(nora, date(2026, 3, 2), Almanac((), [Holiday("h", date(2026, 3, 5), date(2026, 3, 20))]))
    2
    """
    if almanac is None:
        return student.days_a_week
    free = almanac.free_days(student.id, starts, last or starts + timedelta(days=6))
    return max(1, round(student.days_a_week * free / 7))


def in_holidays(student: Student, starts: date, almanac: Almanac) -> bool:
    """Tell whether a week has a holiday's day in it."""
    return bool(almanac.holidays_within(student.id, starts, starts + timedelta(days=6)))


def read_options(
    typed: Mapping[str, str], today: date, path: PracticePath
) -> tuple[WeekOptions | None, dict[str, str]]:
    """Read the form's head; what is wrong goes by field."""
    wrong: dict[str, str] = {}
    starts = _starts(typed.get("starts", ""), today, wrong)
    stage = path.stage(typed.get("stage", ""))
    if stage is None:
        wrong["stage"] = f"must be one of {', '.join(each.name for each in path.stages)}"
    minutes = _number(typed.get("minutes", ""), LEAST_MINUTES, MOST_MINUTES, "minutes", wrong)
    days = _number(typed.get("days", ""), 1, MOST_DAYS, "days", wrong)
    if days != int(days):
        wrong["days"] = f"must be a whole number, 1 to {MOST_DAYS}"
    said = {name: typed.get(name, "").replace("\r\n", "\n").strip() for name in ("words", "story")}
    for name, words in said.items():
        if len(words) > MOST_LETTERS:
            wrong[name] = f"must be at most {MOST_LETTERS} characters; these are {len(words)}"
    if wrong or starts is None or stage is None:
        return None, wrong
    seed = whole_number(typed.get("seed", "0"), 5) or 0
    return WeekOptions(starts, stage.name, minutes, int(days), seed, said["words"], said["story"]), {}


def _starts(text: str, today: date, wrong: dict[str, str]) -> date | None:
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        wrong["starts"] = f"got {text or 'nothing'}; must be a day such as {today.isoformat()}"
        return None
    if not today - FARTHEST <= day <= today + FARTHEST:
        wrong["starts"] = f"got {day.isoformat()}; must be a day of these times"
        return None
    return day


def _number(text: str, least: float, most: float, name: str, wrong: dict[str, str]) -> float:
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        value = -1.0
    if not least <= value <= most:
        wrong[name] = f"got {text or 'nothing'}; must be {least:g} to {most:g}"
        return 0.0
    return value


def propose(
    options: WeekOptions,
    student: Student,
    history: History,
    entries: Sequence[BookEntry],
    weeks: Sequence[Week],
    path: PracticePath,
) -> PracticePlan:
    """Propose a week's plan.

    Raises
    ------
    WrongOptions
        Where nothing fits into a day.
    """
    asked = WeekRequest(
        minutes=options.minutes,
        days=options.days,
        stage=options.stage,
        seed=options.seed,
        student=student.name,
        starts=options.starts,
        before=_plan_before(weeks, options.starts),
    )
    return plan_week(asked, path, book=playable_book(entries, path), history=history)


def playable_book(entries: Sequence[BookEntry], path: PracticePath | None = None) -> Book | None:
    """Return the studio's book as far as it can be played; None where there is nothing in it.

    With a path come the marks, their stages by the names that they have on it.
    """
    found = []
    for entry in entries:
        with suppress(BadExercise):
            mark = mark_of(entry, path) if path else None
            found.append(Entry(parse_exercise(entry.text), entry.title, entry.section, mark))
    return Book(tuple(found)) if found else None


def titles_of(entries: Sequence[BookEntry]) -> dict[str, str]:
    """Name the exercises of the book, or of the stock where there is none, by their text."""
    own = {text: entry.title for entry in entries if (text := usual_text(entry.text)) is not None}
    return own or {print_exercise(entry.exercise): entry.title for entry in stock().entries}


def title_of(text: str, titles: Mapping[str, str]) -> str:
    """Return an exercise's title, however its text was typed; "" where it has none.

    >>> title_of("1/8:RLRR LRLL", {"1/8: RLRR LRLL": "Single paradiddle"})
    'Single paradiddle'
    """
    return titles.get(notes_of(text), "")


def story_words(plan: PracticePlan | None) -> str:
    """Say a week in its two sentences; "" where it has none."""
    return " ".join(all_remarks(plan.story)) if plan else ""


def read_plan(week: Week) -> PracticePlan | None:
    """Read a kept week's plan; None where it cannot be read."""
    return _read_plan(week.plan)


@lru_cache(maxsize=128)
def _read_plan(text: str) -> PracticePlan | None:
    try:
        return plan_from_json(text, name=PLAN_NAME)
    except EvenhandError:
        return None


def _plan_before(weeks: Sequence[Week], starts: date) -> PracticePlan | None:
    """Return the plan of the newest week that was sent and begins before."""
    before = next((each for each in weeks if each.sent_at is not None and each.starts < starts), None)
    return None if before is None else read_plan(before)


def newest_draft(weeks: Sequence[Week], today: date) -> Week | None:
    """Return the draft to go on with: the newest, unless it is over or a later week was sent."""
    for week in weeks:
        if week.sent_at is not None or week.starts + timedelta(days=7) <= today:
            return None
        if read_plan(week) is not None:
            return week
    return None


def keep(
    studio: Studio, student: Student, options: WeekOptions, plan: PracticePlan, week: Week | None
) -> Week:
    """Keep a week, new or changed; what the student sees of one that was sent changes with it."""
    base = week or Week("", student.id, options.starts, options.stage, "")
    story = in_words(options.story)
    text = plan_to_json(replace(plan, student=student.name, starts=options.starts, story=story))
    return studio.weeks.save(
        replace(base, starts=options.starts, stage=options.stage, plan=text, words=options.words)
    )


def send(studio: Studio, student: Student, week: Week, options: WeekOptions | None = None) -> Week:
    """Let the student see a week; stage, minutes and days (but a holiday's) become the student's own."""
    sent = studio.weeks.send(week.id)
    fields: dict[str, object] = {"stage": week.stage}
    if options is not None:
        fields["minutes_a_day"] = options.minutes
        if not in_holidays(student, week.starts, almanac_of(studio)):
            fields["days_a_week"] = options.days
    studio.students.change(student.id, **fields)
    return sent


def shown_advice(
    history: History, path: PracticePath, stage: str, since: date | None, today: date
) -> ShownAdvice | None:
    """Say what the path proposes; None where it has no such stage."""
    try:
        found = advise_student(history, path, stage, since=since, until=today)
    except WrongOptions:
        return None
    advice = found.advice
    rows = tuple(
        (
            each.condition.words,
            bound_words(each.condition, each.bound),
            figure_words(each),
            VERDICTS[each.verdict],
        )
        for each in advice.judged
    )
    return ShownAdvice(
        headline=headline(advice).capitalize(),
        to=advice.to if advice.to != advice.stage else "",
        why=reason_words(advice, found.path),
        rows=rows,
        basis=basis_words(advice),
        notes=tuple(remark_sentences(note)[0] for note in advice.notes if note.kind != "strokes not said"),
    )


def shown_load(plan: PracticePlan | None, starts: date, weeks: Sequence[Week]) -> ShownLoad:
    """Weigh a week beside those that were sent before it."""
    before = [each for each in weeks if each.sent_at is not None and each.starts < starts][:WEEKS_BACK]
    plans = [each for week in before if (each := read_plan(week)) is not None]
    lines = [line for week in reversed(before) if (line := _weighed(week.starts, week.plan)) is not None]
    if plan is not None:
        lines.append(_line_of(starts, plan))
    jumps: tuple[Jump, ...] = ()
    if plan is not None and plans:
        jumps = assigned_load([replace(each, starts=None) for each in (plans[0], plan)]).jumps
    return ShownLoad(tuple(lines), this_week_words(jumps))


@lru_cache(maxsize=128)
def _weighed(day: date, text: str) -> tuple[str, str, str, str] | None:
    """Weigh a kept week once; None where its plan cannot be read."""
    plan = _read_plan(text)
    return None if plan is None else _line_of(day, plan)


def _line_of(day: date, plan: PracticePlan) -> tuple[str, str, str, str]:
    """Weigh one week: its day, each hand's strokes, the minutes played."""
    course = assigned_load([replace(plan, starts=day)])
    hands = {hand: sum(week.hands[hand].strokes for week in course.weeks) for hand in HANDS}
    minutes = duration(60 * sum(week.minutes for week in course.weeks), "minutes")
    return f"{short_day(day)}", thousands(hands["R"]), thousands(hands["L"]), minutes


def recorded_words(history: History) -> str:
    """Say what was recorded in the last week with takes; "" where there is none."""
    weeks = recorded_load(history).weeks
    return recorded_week_words(weeks[-1]) if weeks else ""
