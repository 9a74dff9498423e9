"""One student of a studio: the week that runs, the history, and all of it as one archive.

Conventions: days are on the teacher's own clock. The archive's ``takes.csv`` is a history's table
(docs/path.md), so that ``evenhand path --history`` reads what was taken out of the studio.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any, Protocol
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

from evenhand.application.past_take import past_take
from evenhand.application.plan_file import plan_from_json
from evenhand.craft.text import print_exercise
from evenhand.domain.history import History, PastTake
from evenhand.domain.practice import PracticePlan
from evenhand.domain.stroke import StrokeClass, stroke_class
from evenhand.domain.studio import Device, Student, StudentLink, StudioTake, Week, WeekDraft
from evenhand.errors import BadPlan
from evenhand.practising.common_path import COMMON_PATH

HISTORY_WEEKS, MOST_TAKES = 26, 80
TABLE = ("date", "file", "exercise", "tempo", "click", "stroke", "kind")
_NO_NAME = re.compile(r"[^\w-]+")


class KnowsStudents(Protocol):
    """The part of a studio that knows all of a student."""

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

    def weeks(self, student_id: str) -> list[Week]:
        """List weeks, newest first."""
        ...

    def drafts(self, student_id: str) -> list[WeekDraft]:
        """List what was typed for a student and not sent."""
        ...

    def links(self, student_id: str) -> list[StudentLink]:
        """List links, without their secrets."""
        ...

    def devices(self, student_id: str) -> list[Device]:
        """List devices."""
        ...

    def recording(self, take: StudioTake) -> Path:
        """Say where a recording lies."""
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


def heard_takes(studio: KnowsStudents, student: Student, now: datetime) -> list[StudioTake]:
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


def export_student(
    studio: KnowsStudents,
    student: Student,
    to: Path,
    now: datetime,
    progress: Callable[[float], None] = lambda _done: None,
) -> None:
    """Write all that is kept of a student to one zip file: recordings, what was heard, weeks, notes."""
    takes = studio.takes(student.id, with_heard=True)
    with ZipFile(to, "w", ZIP_DEFLATED) as archive:
        archive.writestr("student.json", _json(_facts(studio, student, takes)))
        rows = list[tuple[str, ...]]()
        for done, take in enumerate(takes, start=1):
            stem = _stem(take, now)
            if take.heard:
                archive.writestr(f"heard/{stem}.json", take.heard)
                rows.append(_row(take, f"heard/{stem}.json", now))
            if take.recording:
                place = studio.recording(take)
                archive.write(place, f"recordings/{stem}{place.suffix}", ZIP_STORED)
            progress(done / len(takes))
        archive.writestr("takes.csv", _table(rows))


def file_name(student: Student, now: datetime) -> str:
    """Name a student's archive, in letters that every system takes.

    >>> file_name(Student("1", "Nora Veldt", "tap", datetime(2026, 1, 1)), datetime(2026, 3, 2))
    'nora-veldt-2026-03-02.zip'
    """
    plain = _NO_NAME.sub("-", student.name.encode("ascii", "ignore").decode()).strip("-").lower()
    return f"{plain or 'student'}-{now:%Y-%m-%d}.zip"


def _facts(studio: KnowsStudents, student: Student, takes: Sequence[StudioTake]) -> dict[str, Any]:
    """Gather everything that is not a recording."""
    weeks = [asdict(week) | {"plan": _plan(week)} for week in studio.weeks(student.id)]
    return {
        "student": asdict(student),
        "weeks": weeks,
        "drafts": [asdict(draft) for draft in studio.drafts(student.id)],
        "takes": [{k: v for k, v in asdict(take).items() if k != "heard"} for take in takes],
        "devices": [asdict(device) for device in studio.devices(student.id)],
        "links": [asdict(link) for link in studio.links(student.id)],
    }


def _plan(week: Week) -> object:
    """Return a plan as JSON; one that is none stays the text that it is."""
    try:
        return json.loads(week.plan)
    except ValueError:
        return week.plan


def _json(facts: dict[str, Any]) -> str:
    return json.dumps(facts, ensure_ascii=False, indent=1, default=lambda day: day.isoformat()) + "\n"


def _stem(take: StudioTake, now: datetime) -> str:
    return f"{take.recorded_at.astimezone(now.tzinfo):%Y-%m-%d-%H%M}-{take.id[:8]}"


def _row(take: StudioTake, file: str, now: datetime) -> tuple[str, ...]:
    day = take.recorded_at.astimezone(now.tzinfo).date().isoformat()
    return (day, file, take.exercise, take.tempo, take.click, take.stroke or "", "take")


def _table(rows: Iterable[tuple[str, ...]]) -> str:
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(TABLE)
    writer.writerows(sorted(rows))
    return text.getvalue()
