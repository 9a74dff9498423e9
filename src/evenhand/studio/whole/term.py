"""What a term's report rests on: lessons and holidays as noted, takes as recorded, courses as followed.

Conventions: days are on the teacher's own clock, both ends of a term included; what lies ahead is not
counted. Weeks and lessons count from the day since which the student is here, lessons by their day as it is
now. Of what was heard, the goes are chosen as for the weeks (``students.heard_takes``), and a change is that
of docs/progress.md over the term's takes alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from evenhand.acts.weeks.progress import show_progress
from evenhand.errors import BadTempo
from evenhand.music.exercise import Tempo
from evenhand.music.text import print_exercise
from evenhand.progress.history import History
from evenhand.report.words.term import Term, TermChange, TermExercise, TermLessons, TermWeek
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import heard_takes, history_of
from evenhand.studio.typed import notes_of
from evenhand.studio.values import Student, TakeOutline, day_recorded
from evenhand.studio.weeks.next import title_of, titles_of
from evenhand.studio.whole.lessons import Almanac, almanac_of, days_between

USUAL = timedelta(weeks=12)
LONGEST = timedelta(days=400)


def usual_term(today: date) -> tuple[date, date]:
    """Return the twelve weeks that end today, from a Monday."""
    first = today - USUAL + timedelta(days=1)
    return first - timedelta(days=first.weekday()), today


def term_of(
    studio: Studio, student: Student, first: date, last: date, now: datetime, words: str = ""
) -> Term:
    """Gather a term; ``now`` is on the teacher's own clock, aware."""
    seen = min(last, now.date())
    begins = datetime.combine(first, time(), now.tzinfo)
    takes = _own(studio.takes.outlines(begins, student_id=student.id), first, seen, now)
    almanac = almanac_of(studio)
    joined = [student.created_at.astimezone(now.tzinfo).date(), *(day_recorded(take, now) for take in takes)]
    here = max(first, min(*joined, seen))
    history = history_of(heard_takes(studio, student, now, within=(first, seen)), student, now)
    titles = titles_of(studio.book.all())
    return Term(
        student=student.name,
        studio=studio.facts.name,
        first=first,
        last=last,
        on=now.date(),
        lessons=_lessons(almanac, student, here, seen),
        weeks=tuple(_weeks(almanac, student, takes, (here, seen), now)),
        takes=len(takes),
        seconds=sum(take.seconds or 0.0 for take in takes),
        exercises=_exercises(takes, titles, now),
        changes=_changes(history, titles),
        words=words,
    )


def _own(takes: Sequence[TakeOutline], first: date, last: date, now: datetime) -> list[TakeOutline]:
    """Keep the student's own takes of the term that were recordings, oldest first."""
    return [
        take
        for take in reversed(takes)
        if take.source != "teacher"
        and not take.model
        and take.status != "failed"
        and first <= day_recorded(take, now) <= last
    ]


def _lessons(almanac: Almanac, student: Student, first: date, last: date) -> TermLessons:
    states = Counter(lesson.state for lesson in almanac.lessons(student, first, last))
    given = states["usual"] + states["moved"]
    return TermLessons(given, states["moved"], states["skipped"], states["holiday"])


def _weeks(
    almanac: Almanac, student: Student, takes: Sequence[TakeOutline], term: tuple[date, date], now: datetime
) -> list[TermWeek]:
    """Count the term's weeks, from Monday; the first and the last may be cut."""
    played = {day_recorded(take, now) for take in takes}
    weeks: dict[date, list[date]] = {}
    for day in days_between(*term):
        weeks.setdefault(day - timedelta(days=day.weekday()), []).append(day)
    return [
        TermWeek(
            monday,
            sum(day in played for day in days),
            len(days),
            sum(almanac.holiday(student.id, day) is not None for day in days),
        )
        for monday, days in weeks.items()
    ]


def _exercises(
    takes: Sequence[TakeOutline], titles: dict[str, str], now: datetime
) -> tuple[TermExercise, ...]:
    """Gather the term's exercises, those of most days first; ``takes`` are oldest first."""
    alike: dict[str, list[TakeOutline]] = {}
    for take in takes:
        if take.exercise:
            alike.setdefault(notes_of(take.exercise), []).append(take)
    found = [
        TermExercise(
            title_of(notes, titles) or notes,
            _in_one_way(own[0].tempo),
            _in_one_way(own[-1].tempo),
            len(own),
            len({day_recorded(take, now) for take in own}),
        )
        for notes, own in alike.items()
    ]
    return tuple(sorted(found, key=lambda each: (-each.days, -each.takes, each.title)))


def _in_one_way(tempo: str) -> str:
    """Write a tempo in its one way; what is no tempo stays as it is."""
    try:
        return str(Tempo.parse(tempo))
    except BadTempo:
        return tempo


def _changes(history: History, titles: dict[str, str]) -> tuple[TermChange, ...]:
    """Follow each figure over the term."""
    if not history.takes:
        return ()
    return tuple(
        TermChange(title_of(text, titles) or text, course)
        for each in show_progress(history).exercises
        for text in (print_exercise(each.exercise),)
        for course in each.trajectories
    )
