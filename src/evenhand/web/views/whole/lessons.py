"""The lessons of a fortnight: moved, skipped, in holidays; and the calendar to subscribe to."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from evenhand.report.words.figures import DAY_NAMES, day_words
from evenhand.studio.students import read_time
from evenhand.studio.typed import whole_number
from evenhand.studio.values import Holiday, LessonChange
from evenhand.studio.whole.lessons import Lesson, almanac_of, clashes, feed_of, lessons_of
from evenhand.web.guard import Limiter, comes_from, plain
from evenhand.web.pages import go, now, said_here, today, weekday_words
from evenhand.web.pages import page as made
from evenhand.web.requests import address_of, studio_of, studio_of_link, texts_of

SHOWN = timedelta(days=14)
FARTHEST = timedelta(days=800)
LONGEST_HOLIDAY = timedelta(days=120)
MOST_LETTERS, MOST_HOLIDAYS = 200, 500
LESSON_MINUTES = (10, 240)
HERE = "/lessons"


class WrongLesson(ValueError):
    """What was typed of a lesson or a holiday cannot be read; the words say what must be."""


def page(request: Request) -> Response:
    """Show a fortnight's lessons, the holidays and the calendar."""
    return _page(request)


def _page(
    request: Request,
    *,
    status: int = 200,
    wrong: str = "",
    typed: dict[str, str] | None = None,
    address: str = "",
) -> Response:
    """Show it; after a mistake with what was typed, after a new address with the address."""
    studio, first = studio_of(request), _first(request)
    almanac, students = almanac_of(studio), studio.students.all()
    facts, last = studio.facts, first + SHOWN - timedelta(days=1)
    lessons = lessons_of(almanac, students, first, last)
    every = studio.students.all(archived=None)
    answer = made(
        request,
        "lessons.html",
        status=status,
        days=_by_day(lessons),
        first=first,
        last=last,
        before=first - SHOWN,
        after=first + SHOWN,
        this_day=today(),
        without=[each for each in students if each.lesson_day is None],
        students=students,
        names={each.id: each.name for each in every},
        holidays=[each for each in studio.lessons.holidays() if each.last >= today() - SHOWN],
        state_of=state_words,
        clashes=[clash_words(*each) for each in clashes(lessons, facts.lesson_minutes)],
        span=span_words,
        facts=facts,
        address=address,
        wrong=wrong,
        typed=typed or {},
        said=said_here(request),
    )
    if address:
        answer.headers["Cache-Control"] = "no-store"
    return answer


def change(request: Request) -> Response:
    """Move or skip one lesson."""
    typed, studio = texts_of(request), studio_of(request)
    student = studio.students.get(typed.get("student", ""))
    try:
        kept = studio.lessons.change(_change_of(typed, student.id))
    except WrongLesson as error:
        return _page(request, status=422, wrong=str(error), typed=typed)
    became = f"moved to {weekday_words(kept.moved_to)}" if kept.moved_to else "skipped"
    return go(_back(typed), f"{student.name}'s lesson of {weekday_words(kept.day)} is {became}.")


def as_usual(request: Request) -> Response:
    """Let a lesson be as usual again."""
    studio_of(request).lessons.as_usual(request.path_params["change_id"])
    return go(_back(texts_of(request)), "That lesson is as usual again.")


def add_holiday(request: Request) -> Response:
    """Keep a holiday of the studio, or of one student."""
    typed, studio = texts_of(request), studio_of(request)
    whose = typed.get("student", "")
    try:
        _check_room(len(studio.lessons.holidays()))
        holiday = _holiday_of(typed, studio.students.get(whose).id if whose else None)
    except WrongLesson as error:
        return _page(request, status=422, wrong=str(error), typed={**typed, "of": "holiday"})
    studio.lessons.add_holiday(holiday)
    return go(_back(typed), f"Holiday {span_words(holiday)}: noted.")


def remove_holiday(request: Request) -> Response:
    """Take a holiday out."""
    studio_of(request).lessons.drop_holiday(request.path_params["holiday_id"])
    return go(_back(texts_of(request)), "That holiday is taken out.")


def feed(request: Request) -> Response:
    """Make the calendar's address anew, withdraw it, or say how long a lesson is."""
    studio, typed = studio_of(request), texts_of(request)
    if typed.get("do") == "make":
        secret = studio.lessons.make_feed()
        request.state.act = "feed made"
        return _page(request, address=f"{address_of(request)}/calendar/{secret}/lessons.ics")
    if typed.get("do") == "withdraw":
        studio.lessons.withdraw_feed()
        request.state.act = "feed withdrawn"
        return go(HERE, "The address leads nowhere now. Calendars that had it show nothing new.")
    minutes, (least, most) = whole_number(typed.get("minutes", ""), 3) or 0, LESSON_MINUTES
    if not least <= minutes <= most:
        wrong = f"A lesson must be {least} to {most} minutes long; got “{typed.get('minutes', '')[:20]}”."
        return _page(request, status=422, wrong=wrong, typed=typed)
    studio.change_facts(lesson_minutes=minutes)
    return go(HERE, f"Lessons are {minutes} minutes long in the calendar.")


def calendar(request: Request) -> Response:
    """Give the calendar of lessons to whoever has its secret address; wrong ones are counted."""
    studio, limiter = studio_of_link(request), request.app.state.limiter
    if not studio.lessons.is_feed(request.path_params["secret"]):
        counted: Limiter = limiter
        if not counted.allows("link", comes_from(request)):
            return plain(request, 429, "Too many tries in a short time. Wait a few minutes, then try again.")
        return plain(request, 404, "There is no calendar at this address, or not any more.")
    headers = {"Content-Disposition": 'inline; filename="lessons.ics"', "Cache-Control": "no-store"}
    return Response(feed_of(studio, now().astimezone()), media_type="text/calendar", headers=headers)


# What the page says, and what was typed.


def state_words(lesson: Lesson) -> str:
    """Say why a lesson is not as usual; "" where it is."""
    if lesson.state == "holiday" and lesson.holiday is not None:
        return f"holiday{_in_brackets(lesson.holiday.name)}"
    why = _in_brackets(lesson.change.why) if lesson.change else ""
    if lesson.state == "moved":
        return f"moved from {weekday_words(lesson.usual)}{why}"
    return f"skipped{why}" if lesson.state == "skipped" else ""


def _in_brackets(words: str) -> str:
    return f" ({words})" if words else ""


def clash_words(one: Lesson, other: Lesson) -> str:
    """Say that a lesson begins before another is over."""
    whose = f"{other.student.name} ({other.at})"
    return f"{weekday_words(one.day)}: {whose} begins before {one.student.name} ({one.at}) is over."


def span_words(holiday: Holiday) -> str:
    """Say from when to when a holiday is."""
    first = f"{DAY_NAMES[holiday.first.weekday()]} {day_words(holiday.first, year=True)}"
    if holiday.first == holiday.last:
        return f"on {first}"
    return f"from {first} to {DAY_NAMES[holiday.last.weekday()]} {day_words(holiday.last, year=True)}"


def _by_day(lessons: list[Lesson]) -> list[tuple[date, list[Lesson]]]:
    days: dict[date, list[Lesson]] = {}
    for lesson in lessons:
        days.setdefault(lesson.day, []).append(lesson)
    return list(days.items())


def _first(request: Request) -> date:
    """Read from which Monday on is asked for; this week's where it is not said."""
    text = request.query_params.get("from") or texts_of(request).get("from", "")
    day = _day(text) or today()
    return day - timedelta(days=day.weekday())


def _back(typed: dict[str, str]) -> str:
    day = _day(typed.get("from", ""))
    return f"{HERE}?from={day.isoformat()}" if day else HERE


def _day(text: str) -> date | None:
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return None
    return day if abs(day - today()) <= FARTHEST else None


def _words(typed: dict[str, str], name: str) -> str:
    words = " ".join(typed.get(name, "").split())
    if len(words) > MOST_LETTERS:
        raise WrongLesson(f"At most {MOST_LETTERS} characters; these are {len(words)}.")
    return words


def _change_of(typed: dict[str, str], student_id: str) -> LessonChange:
    """Read what becomes of a lesson."""
    words: dict[str, Any] = {"why": _words(typed, "why")}
    day = _day(typed.get("day", ""))
    if day is None:
        raise WrongLesson("Say which day's lesson is meant, as a date within two years.")
    if typed.get("do") != "move":
        return LessonChange("", student_id, day, **words)
    to = _day(typed.get("to", ""))
    if to is None:
        raise WrongLesson("Say to which day the lesson is moved, as a date within two years.")
    try:
        at = read_time(typed.get("at", "").strip())
    except ValueError:
        raise WrongLesson("The time must be one such as 16:30, or empty.") from None
    return LessonChange("", student_id, day, to, at, **words)


def _check_room(there: int) -> None:
    if there >= MOST_HOLIDAYS:
        raise WrongLesson(f"There are {there} holidays already; take old ones out first.")


def _holiday_of(typed: dict[str, str], student_id: str | None) -> Holiday:
    """Read a holiday; without a last day it is one day long."""
    first = _day(typed.get("first", ""))
    last = _day(typed.get("last", "")) if typed.get("last", "").strip() else first
    if first is None or last is None:
        raise WrongLesson("A holiday needs its first day, and its last one where it is longer.")
    if last < first:
        raise WrongLesson("The holiday's last day must not be before its first.")
    if last - first > LONGEST_HOLIDAY:
        raise WrongLesson(f"A holiday is at most {LONGEST_HOLIDAY.days} days long; archive whoever is away.")
    return Holiday("", first, last, student_id, _words(typed, "name"))
