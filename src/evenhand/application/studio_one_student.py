"""One student of a studio: the week that runs, and the history.

Conventions: days are on the teacher's own clock.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import Any, Protocol

from evenhand.application.past_take import past_take
from evenhand.application.plan_file import plan_from_json
from evenhand.craft.text import print_exercise
from evenhand.domain.history import History, PastTake
from evenhand.domain.practice import PracticePlan
from evenhand.domain.stroke import StrokeClass, stroke_class
from evenhand.domain.studio import Student, StudioTake, Week
from evenhand.errors import BadPlan
from evenhand.practising.common_path import COMMON_PATH

HISTORY_WEEKS, MOST_TAKES = 26, 80


class KnowsTakes(Protocol):
    """The part of a studio that knows a student's takes."""

    def takes(
        self,
        student_id: str | None = None,
        *,
        since: datetime | None = None,
        limit: int | None = None,
        with_heard: bool = False,
    ) -> list[StudioTake]:
        """List takes, newest first."""
        ...


@dataclass(frozen=True, slots=True)
class WeekExercise:
    """One exercise of a week: how fast at first and at last, and how often in all."""

    text: str
    title: str
    stroke: str
    first_tempo: str
    last_tempo: str
    turns: int


@dataclass(frozen=True, slots=True)
class WeekInShort:
    """A week's practice in short, the stage's own stroke first; ``minutes`` of the longest day, rests too."""

    week: Week
    days: int
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
    stage = COMMON_PATH.stage(week.stage)
    own = stage.stroke if stage and stage.stroke else ""
    exercises = sorted(_exercises(plan), key=lambda each: each.stroke != own)
    return WeekInShort(week, len(plan.days), minutes, tuple(exercises))


def _exercises(plan: PracticePlan) -> Iterable[WeekExercise]:
    """Gather a plan's turns by exercise and stroke, in the order in which they first come."""
    turns: dict[tuple[str, str], list[Any]] = {}
    for day in plan.days:
        for item in day.items:
            turns.setdefault((print_exercise(item.exercise), item.stroke or ""), []).append(item)
    for (text, stroke), items in turns.items():
        first, last = str(items[0].tempo), str(items[-1].tempo)
        yield WeekExercise(text, items[0].title, stroke, first, last, len(items))


def stage_since(weeks: Sequence[Week], stage: str) -> date | None:
    """Return since when a stage was practised without a break, from the weeks that were sent."""
    since = None
    for week in weeks:  # newest first
        if week.sent_at is None:
            continue
        if week.stage != stage:
            break
        since = week.starts
    return since


def heard_takes(studio: KnowsTakes, student: Student, now: datetime) -> list[StudioTake]:
    """List the student's own heard takes of the last half year, oldest first, with what was heard."""
    since = now - timedelta(weeks=HISTORY_WEEKS)
    takes = studio.takes(student.id, since=since, limit=MOST_TAKES, with_heard=True)
    own = (take for take in reversed(takes) if not take.model and take.source != "teacher")
    return [take for take in own if take.heard]


def heard_digest(takes: Iterable[StudioTake]) -> str:
    """Name what was heard, so that what is made of it need not be made again."""
    digest = sha256()
    for take in takes:
        digest.update(f"{take.id}|{take.recorded_at}|{take.stroke}|{take.heard}|".encode())
    return digest.hexdigest()


def history_of(takes: Iterable[StudioTake], student: Student, now: datetime) -> History:
    """Gather what was heard of a student."""
    found, left_out = list[PastTake](), list[str]()
    for take in takes:
        day = take.recorded_at.astimezone(now.tzinfo).date()
        past = _past(take.heard or "", day, stroke_class(take.stroke))
        if past is None:
            left_out.append(f"{day}: what was heard cannot be read")
        else:
            found.append(past)
            if not past.clear:
                left_out.append(f"{day}: it does not tell which hand is which")
    found.sort(key=lambda past: past.day)
    return History(tuple(found), left_out=tuple(left_out), student=student.name)


def _past(heard: str, day: date, stroke: StrokeClass | None) -> PastTake | None:
    try:
        return past_take(json.loads(heard), day, stroke)
    except (ValueError, KeyError, TypeError, AttributeError):
        return None
