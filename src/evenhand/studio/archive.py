"""All that is kept of a student as one archive, given bit by bit while it is made.

Conventions: days are on the teacher's own clock. The archive's ``takes.csv`` is a history's table
(docs/path.md), so that ``evenhand path --history`` reads what was taken out of the studio. A recording
that is missing, or whose bytes have changed, costs nothing but itself: ``missing.txt`` names it.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from collections.abc import Generator, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict
from datetime import datetime
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZipFile

from evenhand.errors import NotFound
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import HeardVersion, Said, Student, StudioTake, Week, day_recorded

TABLE = ("date", "file", "exercise", "tempo", "click", "stroke", "kind")
MISSING = "missing.txt"
MISSING_HEAD = "Not in this archive, or not as it was recorded:"
GONE, CHANGED = "its recording is missing", "its recording is damaged: its bytes are not those that came in"
_NO_NAME = re.compile(r"[^\w-]+")
_AT_ONCE = 1 << 20
_PACKED, _AS_IT_IS = 6, 0  # how hard zlib tries; sound is packed already


class _Out(io.RawIOBase):
    """Where the archive is written: what came is handed on and forgotten."""

    def __init__(self) -> None:
        super().__init__()
        self._came: list[bytes] = []

    def writable(self) -> bool:
        """Say yes."""
        return True

    def write(self, data: Any, /) -> int:  # noqa: ANN401 - bytes, or what looks like them
        """Take bytes."""
        self._came.append(bytes(data))
        return len(self._came[-1])

    def taken(self) -> bytes:
        """Hand on what came since the last time."""
        came = b"".join(self._came)
        self._came.clear()
        return came


def student_archive(studio: Studio, student: Student, now: datetime) -> Iterator[bytes]:
    """Make the archive of all that is kept of a student, in pieces as they come."""
    out = _Out()
    takes = studio.takes.all(student.id)
    rows, missing = list[tuple[str, ...]](), list[str]()
    with ZipFile(out, "w", ZIP_DEFLATED, compresslevel=_PACKED) as archive:
        for take in takes:
            stem = _stem(take, now)
            whole = studio.takes.find(take.id)
            if whole is not None and whole.heard:
                archive.writestr(f"heard/{stem}.json", whole.heard)
                if not take.model and take.source != "teacher":
                    rows.append(_row(take, f"heard/{stem}.json", now))
            for other in studio.hearings.of_takes([take.id], with_heard=True):
                if other.heard:
                    archive.writestr(f"heard/{stem}-ear-{other.ear}.json", other.heard)
            wrong = yield from _recording(archive, out, studio, take, stem)
            if wrong:
                missing.append(f"{stem}, {take.exercise or 'no exercise'}: {wrong}")
        for spoken in (each for each in studio.threads.of_student(student.id) if each.recording):
            stem = f"{spoken.said_at.astimezone(now.tzinfo):%Y-%m-%d-%H%M}-said-{spoken.id[:8]}"
            wrong = yield from _recording(archive, out, studio, spoken, stem)
            if wrong:
                missing.append(f"{stem}: {wrong}")
        archive.writestr("student.json", _json(_facts(studio, student, takes)))
        archive.writestr("takes.csv", _table(rows))
        if missing:
            archive.writestr(MISSING, "\n".join([MISSING_HEAD, "", *missing]) + "\n")
        yield out.taken()
    yield out.taken()


def _recording(
    archive: ZipFile, out: _Out, studio: Studio, take: StudioTake | Said, stem: str
) -> Generator[bytes, None, str]:
    """Add a recording, block by block; give what is wrong with it at the end, "" for nothing."""
    if not take.recording:
        return ""
    try:
        place = studio.data.recordings.path(take.recording)
        source = place.open("rb")
    except (NotFound, OSError):
        return GONE
    found = hashlib.sha256()
    archive.compresslevel = _AS_IT_IS
    with source, archive.open(f"recordings/{stem}{place.suffix}", "w") as target:
        for block in _blocks(source):
            found.update(block)
            target.write(block)
            yield out.taken()
    archive.compresslevel = _PACKED
    return "" if found.hexdigest() == place.stem else CHANGED


def _blocks(source: IO[bytes]) -> Iterator[bytes]:
    """Read a file as far as it can be read."""
    with suppress(OSError):
        while block := source.read(_AT_ONCE):
            yield block


def file_name(student: Student, now: datetime) -> str:
    """Name a student's archive, in letters that every system takes.

    >>> file_name(Student("1", "Nora Veldt", "tap", datetime(2026, 1, 1)), datetime(2026, 3, 2))
    'nora-veldt-2026-03-02.zip'
    """
    plain = _NO_NAME.sub("-", student.name.encode("ascii", "ignore").decode()).strip("-").lower()
    return f"{plain or 'student'}-{now:%Y-%m-%d}.zip"


def _facts(studio: Studio, student: Student, takes: Sequence[StudioTake]) -> dict[str, Any]:
    """Gather everything that is not a recording."""
    weeks = [asdict(week) | {"plan": _plan(week)} for week in studio.weeks.all(student.id)]
    return {
        "student": asdict(student),
        "weeks": weeks,
        "drafts": [asdict(draft) for draft in studio.weeks.drafts(student.id)],
        "takes": [_without_heard(take) for take in takes],
        "hearings": [_without_heard(each) for each in studio.hearings.of_takes([take.id for take in takes])],
        "said": [asdict(each) for each in studio.threads.of_student(student.id)],
        "devices": [asdict(device) for device in studio.students.devices(student.id)],
        "lesson_changes": [asdict(each) for each in studio.lessons.changes(student.id)],
        "holidays": [asdict(each) for each in studio.lessons.holidays() if each.student_id == student.id],
        "links": [asdict(link) for link in studio.access.links(student.id)],
        "acts": [asdict(act) for act in studio.log.of_student(student.id)],
    }


def _without_heard(row: StudioTake | HeardVersion) -> dict[str, Any]:
    return {k: v for k, v in asdict(row).items() if k != "heard"}


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
    day = day_recorded(take, now).isoformat()
    return (day, file, take.exercise, take.tempo, take.click, take.stroke or "", "take")


def _table(rows: Iterable[tuple[str, ...]]) -> str:
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(TABLE)
    writer.writerows(sorted(rows))
    return text.getvalue()
