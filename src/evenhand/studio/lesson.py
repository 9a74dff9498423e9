"""A lesson: the last week's takes to hear in order, what was recorded in it, next week's exercises each once.

Conventions: moments are aware, days on the teacher's own clock. Of heard takes that are alike (one exercise
at one tempo on one day) only the newest is listed, with their number, unless all are asked for. A take
belongs to the lesson where it was recorded for it, or within the last hour. Rows of a week count from 0.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from evenhand.errors import EvenhandError
from evenhand.music.exercise import Tempo
from evenhand.planning.practice import Block
from evenhand.studio.desk import DAYS, LESSON, Glance, Glances, is_students
from evenhand.studio.stand.music import StandMusic, engraved_narrow, stand_music
from evenhand.studio.store.studio import Studio
from evenhand.studio.takes.shown import others_beside
from evenhand.studio.typed import full_tempo
from evenhand.studio.values import IN_LESSON, Student, StudioTake, day_recorded
from evenhand.studio.weeks.next import title_of, titles_of
from evenhand.studio.weeks.typed import ReadRow, TypedRow, TypedWeek, WeekSum

LOOKED_THROUGH = 400  # newest takes of a student
AT_LEAST = 3  # older ones that are listed where the last week has none
FREE_BPM = "80"
FOUR = {"length": 4.0, "beats": [0.0, 1.0, 2.0, 3.0, 4.0], "skipped": 0.0, "accented": True}
# What the bar clicks and records as long as no exercise is chosen: four beats, heard without an exercise.
FREE: dict[str, Any] = {
    "exercise": "",
    "title": "",
    "beat": "1/4",
    "bpm": 80.0,
    "slowest": 5.0,
    "fastest": 1000.0,
    "bars": [FOUR],
    "counted": [FOUR],
    "count_in": 4.0,
    "repetitions": None,
    "beats": 4.0,
    "drops": "",
    "sent": {},
}


@dataclass(frozen=True, slots=True)
class LessonTake:
    """One take to hear. ``alike`` is how many it stands for; ``before`` is the id of one to put it beside."""

    take: StudioTake
    title: str
    glance: Glance | None
    music: StandMusic | None
    alike: int = 1
    before: str = ""


@dataclass(frozen=True, slots=True)
class LessonDay:
    """The takes of a day, those recorded first in front; ``day`` is None for those of the lesson."""

    day: date | None
    takes: tuple[LessonTake, ...]


@dataclass(frozen=True, slots=True)
class LessonExercise:
    """An exercise of the week, with all the rows that hold it; ``tempos`` are its slowest and fastest."""

    rows: tuple[int, ...]
    title: str
    text: str
    stroke: str
    block: Block | None
    tempos: tuple[str, str]
    days: int
    seconds: float
    music: StandMusic | None


def lesson_days(
    studio: Studio, student: Student, now: datetime, glances: Glances, *, every: bool = False
) -> tuple[LessonDay, ...]:
    """List what to hear, the lesson's own takes first; ``every`` lists those that are alike, too."""
    found = studio.takes.all(student.id, limit=LOOKED_THROUGH)
    besides = [*studio.takes.models(student.id), *found]
    titles = titles_of(studio.book.all())
    days: dict[date | None, list[LessonTake]] = {}
    for day, take, alike in _listed(found, now, every=every):
        glance = glances.at(studio, take) if take.status == "heard" else None
        listed = LessonTake(
            take,
            title_of(take.exercise, titles),
            glance,
            music_of(take.exercise, take.tempo),
            alike,
            _before(take, besides),
        )
        days.setdefault(day, []).insert(0, listed)
    return tuple(
        LessonDay(day, tuple(days[day])) for day in sorted(days, key=lambda day: (day is not None, day))
    )


def _listed(
    found: Sequence[StudioTake], now: datetime, *, every: bool
) -> Iterator[tuple[date | None, StudioTake, int]]:
    """Choose takes, the newest first, with the day that each stands under and how many it stands for."""
    own = [take for take in found if is_students(take)]
    since = now.date() - timedelta(days=DAYS)
    week = [
        take
        for take in own
        if max(day_recorded(take, now), take.received_at.astimezone(now.tzinfo).date()) >= since
    ]
    chosen = week or [take for take in own if take.status == "heard"][:AT_LEAST]
    alike: dict[object, list[StudioTake]] = {}
    for take in chosen:
        key = (_heading(take, now), take.exercise, take.tempo)
        alike.setdefault(take.id if every or take.status != "heard" else key, []).append(take)
    for takes in alike.values():
        yield _heading(takes[0], now), takes[0], len(takes)


def _heading(take: StudioTake, now: datetime) -> date | None:
    """Return the day that a take stands under; None for the lesson."""
    day = day_recorded(take, now)
    in_lesson = take.recorded_at > now - LESSON or (IN_LESSON in take.facts and day == now.date())
    return None if in_lesson else day


def _before(take: StudioTake, found: Sequence[StudioTake]) -> str:
    """Return the id of the take that one is put beside: the model, else the newest one before it."""
    if take.status != "heard":
        return ""
    others = others_beside(take, found, most=LOOKED_THROUGH)
    return next((each.id for each in others if each.model or each.recorded_at < take.recorded_at), "")


def music_of(exercise: str, tempo: str) -> StandMusic | None:
    """Engrave an exercise for a tablet, with what the click needs; None where it cannot be read or drawn.

    >>> music_of("1/8: RLRR LRLL", "").facts["bpm"], music_of("", "1/8 = 90")
    (80.0, None)
    """
    try:
        music = stand_music(exercise, Tempo.parse(full_tempo(tempo or FREE_BPM, exercise)), None)
        return replace(music, lines=tuple(line.svg for line in engraved_narrow(exercise).lines))
    except EvenhandError:
        return None


def lesson_exercises(week: TypedWeek, added: WeekSum) -> tuple[LessonExercise, ...]:
    """List a week's exercises once each, as they first come; rows that cannot be read are left out."""
    alike: dict[tuple[str, str], list[tuple[int, TypedRow, ReadRow]]] = {}
    for at, (row, read) in enumerate(zip(week.rows, added.rows, strict=True)):
        if read.item is not None:
            alike.setdefault((row.exercise, row.stroke), []).append((at, row, read))
    return tuple(_exercise(rows) for rows in alike.values())


def _exercise(rows: Sequence[tuple[int, TypedRow, ReadRow]]) -> LessonExercise:
    _, first, read = rows[0]
    items = [row.item for _, _, row in rows if row.item]
    paces = sorted(items, key=lambda item: item.tempo.whole_note_s, reverse=True)
    return LessonExercise(
        rows=tuple(at for at, _, _ in rows),
        title=read.item.title if read.item else "",
        text=first.exercise,
        stroke=first.stroke,
        block=items[0].block,
        tempos=(str(paces[0].tempo), str(paces[-1].tempo)),
        days=len({row.day for _, row, _ in rows}),
        seconds=sum(row.seconds for _, _, row in rows),
        music=music_of(first.exercise, str(paces[0].tempo)),
    )


def bar_facts(music: StandMusic, title: str, tempo: str, stroke: str | None) -> dict[str, Any]:
    """Return what the bar needs of an exercise: its click, and what goes with a take of it."""
    facts = {key: value for key, value in music.facts.items() if key in FREE}
    sent = {"exercise": facts["exercise"], "tempo": tempo, "stroke": stroke or ""}
    return {**facts, "title": title or facts["exercise"], "sent": sent}
