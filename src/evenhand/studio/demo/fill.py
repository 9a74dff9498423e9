"""A demonstration studio: invented people, six weeks of takes by the simulated player, heard by the ear.

Conventions: a sitting is one evening, so many days before today; its takes are minutes apart. Who they
are and what is off in their playing is the table ``PEOPLE``; nothing that is said of a take comes from
it, only the sound does. Days count back from one moment, so that one which broke off is filled on as it
was begun: what is there already is left as it is.

It is filled while it is already open: in the background, and on where it broke off. While it is being filled,
a small file in the studio's folder says how many takes are there, of how many. The pages read it, whichever
process shows them; a start that finds it goes on.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import tempfile
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, wait
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from multiprocessing import get_context, resource_tracker
from pathlib import Path
from typing import Any

import numpy as np

from evenhand.acts.exercises.books import stock
from evenhand.acts.takes.document import json_text
from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.many import cores
from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.simulate import Wanted, simulate_take
from evenhand.errors import CannotHear
from evenhand.media.open_take import open_take
from evenhand.media.write import write_flac
from evenhand.music.text import print_exercise
from evenhand.studio.demo.people import HOLIDAYS, MODEL, PEOPLE, Person, Sitting
from evenhand.studio.store.layout import FILLING
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import GRIP, BookEntry, Holiday, LessonChange, NewTake, Said, Student, Week
from evenhand.synthesis.drops import Drop, DroppedTake, record_drops
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import SimulatedTake

RATE_HZ = 24_000  # half a phone's: as well heard, and twice as quickly made
EVENING, BETWEEN = time(18, 5), timedelta(minutes=3)
HOLIDAYS_IN, HOLIDAYS_LAST = 20, 13  # days
FIRST_LESSON, LESSONS_APART = time(15, 30), timedelta(minutes=45)
HEARD_AGO = 6  # days: takes from before the last lesson are heard by the teacher
LATEST = time(20, 30)  # whoever comes later finds the day's lessons over
SCENE = Scene(rate_hz=RATE_HZ, noise_snr_db=42.0, lead_in_s=0.3, tail_s=0.5)
DROPPED_CM = 12.0
ACCENTED = ("1/16: >RLRR >LRLL", "Single paradiddle in sixteenths, accented", "Accents")

LOOK_S = 0.2  # between two looks whether it is to go on
NICE = 5  # whoever looks at the pages meanwhile goes first


@dataclass(frozen=True, slots=True)
class _Job:
    """One take to be played and heard, and whose it is."""

    person: int
    sitting: Sitting
    number: int  # within the sitting
    before: int  # so many takes came earlier that evening
    seed: int


@dataclass(frozen=True, slots=True)
class _Played:
    """A recording, and what was heard in it, or why nothing was."""

    flac: bytes
    heard: str | None
    reason: str
    seconds: float


def begin_demo(studio: Studio, now: datetime, *, people: Sequence[Person] = PEOPLE) -> tuple[Student, ...]:
    """Take the students in and fill the book, as far as they are not there: that is done at once."""
    there = {student.name: student for student in studio.students.all()}
    if not studio.book.all():
        entries = [  # what the weeks are planned from, so that both have one name for it
            BookEntry("", print_exercise(entry.exercise), entry.title, entry.section)
            for entry in stock().entries
        ]
        studio.book.begin([*entries, BookEntry("", *ACCENTED)])
    students = tuple(there.get(person.name) or _enrol(studio, person, now) for person in people)
    if not studio.lessons.holidays():
        _change_lessons(studio, students, people, now.date())
    return students


def _change_lessons(
    studio: Studio, students: Sequence[Student], people: Sequence[Person], today: date
) -> None:
    """Let one lesson be moved, one skipped, and holidays come."""
    for student, person in zip(students, people, strict=True):
        day = today + timedelta(days=person.lesson_in_days)
        for change in person.lesson_changes:
            usual = day + timedelta(weeks=change.weeks)
            moved = None if change.moved_by is None else usual + timedelta(days=change.moved_by)
            studio.lessons.change(LessonChange("", student.id, usual, moved, change.at, change.why))
    first = today + timedelta(days=HOLIDAYS_IN)
    studio.lessons.add_holiday(Holiday("", first, first + timedelta(days=HOLIDAYS_LAST), name=HOLIDAYS))


def fill_demo(
    studio: Studio,
    now: datetime,
    *,
    progress: Callable[[int, int], None] = lambda _done, _of: None,
    goes_on: Callable[[], bool] = lambda: True,
    people: Sequence[Person] = PEOPLE,
) -> bool:
    """Fill a studio on all cores, the newest takes first; tell whether all of it is there now.

    ``now`` is on the teacher's own clock, aware; the same moment where it goes on after a break. ``progress``
    is told how many takes are there, of how many. Where ``goes_on`` says no, it breaks off.
    """
    students = begin_demo(studio, now, people=people)
    kept = {take.upload_key for student in students for take in studio.takes.all(student.id)}
    jobs = sorted(_jobs(people), key=lambda job: (job.sitting.days_ago, job.number))
    left = [job for job in jobs if _key(job) not in kept]
    planned = [(s, p) for s, p in zip(students, people, strict=True) if not studio.weeks.all(s.id)]
    progress(len(jobs) - len(left), len(jobs))
    pool = _workers()
    try:
        weeks = [pool.submit(_plan, person, now.date()) for _, person in planned]
        takes = [pool.submit(_play_and_hear, job.sitting, job.seed) for job in left]
        for (student, person), plan in zip(planned, weeks, strict=True):
            if not _is_done(plan, goes_on):
                return False
            _send(studio, student, person, plan.result(), now)
        for done, (job, played) in enumerate(zip(left, takes, strict=True), start=len(jobs) - len(left) + 1):
            if not _is_done(played, goes_on):
                return False
            _keep(studio, students[job.person], job, played.result(), now)
            progress(done, len(jobs))
    finally:
        pool.shutdown(cancel_futures=True)
    return True


def _workers() -> ProcessPoolExecutor:
    return ProcessPoolExecutor(cores(), mp_context=get_context("spawn"), initializer=_begin_work)


def _begin_work() -> None:
    """Begin a process that plays and hears: it leaves ending to its parent, and never outlives it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(OSError, AttributeError):
        os.nice(NICE)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: multiprocessing.process.BaseProcess) -> None:
    parent.join()
    os._exit(1)


def _is_done(future: Future[Any], goes_on: Callable[[], bool]) -> bool:
    """Wait for a result; False where that is not wanted any more."""
    while goes_on():
        if wait([future], timeout=LOOK_S).done:
            return True
    return False


def _key(job: _Job) -> str:
    """Name a take, the same each time that a demonstration is filled."""
    return f"demonstration-{job.seed}"


def _enrol(studio: Studio, person: Person, now: datetime) -> Student:
    """Take one in, the lesson so many days from now."""
    day = now.date() + timedelta(days=person.lesson_in_days)
    agreed = now.date() - timedelta(days=60) if person.consent_by else None
    return studio.students.add(
        person.name,
        stage=person.stage,
        minor=person.minor,
        consent_by=person.consent_by,
        consent_on=agreed,
        lesson_day=day.weekday(),
        lesson_time=lesson_time(now if person.lesson_in_days == 0 else None, person.lesson_number),
        notes=person.notes,
        minutes_a_day=person.minutes,
        days_a_week=person.days,
    )


def lesson_time(now: datetime | None, number: int) -> str:
    """Say when lessons are: from half past three; today's from now on, where it is later than that.

    >>> lesson_time(None, 1), lesson_time(datetime(2026, 3, 2, 17, 50), 0)
    ('16:15', '18:30')
    """
    first = datetime.combine(date(2026, 3, 2) if now is None else now.date(), FIRST_LESSON)
    soon = first if now is None else now.replace(tzinfo=None) + timedelta(minutes=20)
    if first < soon <= datetime.combine(first.date(), LATEST):
        whole = soon.replace(minute=0, second=0, microsecond=0)
        first = whole + timedelta(minutes=30 if soon.minute <= 30 else 60)
    return f"{first + number * LESSONS_APART:%H:%M}"


def _jobs(people: Sequence[Person]) -> Iterator[_Job]:
    evenings: Counter[tuple[int, int]] = Counter()
    for seed, (index, sitting, number) in enumerate(_sittings(people), start=1):
        evening = index, sitting.days_ago
        yield _Job(index, sitting, number, evenings[evening], seed)
        evenings[evening] += 1


def _sittings(people: Sequence[Person]) -> Iterator[tuple[int, Sitting, int]]:
    """Give each take's person, sitting and number; drops last, so that all else is played as without them."""
    for index, person in enumerate(people):
        for sitting in (*person.sittings, *((MODEL,) if person.has_model else ())):
            yield from ((index, sitting, number) for number in range(sitting.takes))
    for index, person in enumerate(people):
        yield from ((index, sitting, 0) for sitting in person.drops)


def _plan(person: Person, today: date) -> str:
    """Plan a student's week, as the teacher would have it proposed."""
    from evenhand.acts.weeks.document import plan_to_json
    from evenhand.acts.weeks.plan import WeekRequest, plan_week
    from evenhand.progress.stages.usual import COMMON_PATH

    asked = WeekRequest(person.minutes, person.days, person.stage, student=person.name, starts=today)
    return plan_to_json(plan_week(asked, COMMON_PATH))


def _send(studio: Studio, student: Student, person: Person, plan: str, now: datetime) -> None:
    """Give a student the week since the last lesson, and those before it."""
    last = now.date() + timedelta(days=person.lesson_in_days - 7)
    for back in range(person.weeks):
        starts = last - timedelta(weeks=back)
        began = datetime.combine(starts, EVENING, now.tzinfo)
        words = json.loads(plan) | {"starts": starts.isoformat()}
        studio.weeks.save(
            Week(
                "",
                student.id,
                starts,
                person.stage,
                json.dumps(words, ensure_ascii=False, indent=2) + "\n",
                words=person.words if back == 0 else "",
                created_at=began,
                sent_at=began,
            )
        )


def _play_and_hear(sitting: Sitting, seed: int) -> _Played:
    """Play a take, record it, and hear it from its file, knowing nothing of how it was played."""
    asked = TakeRequest.read(sitting.exercise, sitting.tempo)
    played = _recorded(sitting, asked, seed)
    samples = played.samples * np.float32(0.0 if sitting.silent else 1.0)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.flac"
        write_flac(path, samples, played.rate_hz)
        heard, reason = None, ""
        try:
            heard = json_text(hear_take(path, asked, opens=open_take))
        except CannotHear as error:
            reason = str(error)
        return _Played(path.read_bytes(), heard, reason, len(samples) / played.rate_hz)


def _recorded(sitting: Sitting, asked: TakeRequest, seed: int) -> SimulatedTake | DroppedTake:
    if not sitting.kept:
        return simulate_take(Wanted(asked, sitting.repetitions, sitting.faults, seed), SCENE)
    return record_drops([Drop(DROPPED_CM, sitting.kept)] * (2 * sitting.repetitions), SCENE, seed)


def _keep(studio: Studio, student: Student, job: _Job, played: _Played, now: datetime) -> None:
    """Put a take into the studio as if it had come in on its day."""
    sitting = job.sitting
    day = now.date() - timedelta(days=sitting.days_ago)
    at = datetime.combine(day, EVENING, now.tzinfo) + job.before * BETWEEN
    new = NewTake(
        student_id=student.id,
        upload_key=_key(job),
        exercise=sitting.exercise,
        tempo=sitting.tempo,
        recorded_at=at,
        source="teacher" if sitting is MODEL else "microphone",
        name=sitting.name,
        stroke=sitting.stroke,
        model=sitting is MODEL,
        facts={GRIP: sitting.grip, "click": "off"} if sitting.kept else {},
    )
    take, _ = studio.takes.receive(new, played.flac, received_at=at + timedelta(minutes=1))
    if played.heard is None:
        studio.queue.took_failed(take.id, played.reason)
        return
    studio.queue.took_heard(take.id, played.heard, played.seconds)
    if sitting.days_ago > HEARD_AGO:
        studio.takes.listened([take.id])
    if sitting.words and job.number == sitting.takes - 1:
        studio.threads.say(Said(take.id, student.id, "teacher", at, take.id, text=sitting.words, read_at=at))


Told = Callable[[int, int], None]


def filling_of(data: Path) -> tuple[int, int] | None:
    """Return how many takes of a demonstration are there, of how many; None where it is not being filled."""
    try:
        done, of = json.loads((data / FILLING).read_text("ascii"))
    except (OSError, ValueError):
        return None
    return int(done), int(of)


def say_filling(data: Path, done: int, of: int) -> None:
    """Keep how far it is, in one step: whoever reads finds the old figures or the new ones."""
    beside = data / f"{FILLING}-new"
    beside.write_text(json.dumps([done, of]), "ascii")
    beside.replace(data / FILLING)


def _leave_ending_to_us() -> None:
    """Let no Ctrl-C reach the processes that this thread begins, from their first moment on.

    Python's own helper for such processes lets it through again when it starts, so it starts before.
    """
    resource_tracker.ensure_running()
    signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})


class Filling:
    """Fills a demonstration beside the server. ``told`` hears how many takes are there, of how many.

    ``ended`` hears None at the end, or why it could not be filled; nothing where it is stopped.
    """

    def __init__(self, data: Path, told: Told, ended: Callable[[BaseException | None], None]) -> None:
        self._data, self._told, self._ended = data, told, ended
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="filling", daemon=True)

    def start(self) -> None:
        """Begin, if there is anything left to fill."""
        if filling_of(self._data) is not None:
            self._thread.start()

    def stop(self) -> None:
        """Break off, after the takes in hand; what is there stays."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join()

    @property
    def stopping(self) -> bool:
        """Whether it was told to stop."""
        return self._stopping.is_set()

    def _run(self) -> None:
        _leave_ending_to_us()
        try:
            whole = self._fill()
        except Exception as error:  # noqa: BLE001 - whatever it is, the studio goes on and says so
            if not self.stopping:
                self._ended(error)
            return
        if whole:
            (self._data / FILLING).unlink(missing_ok=True)
            self._ended(None)

    def _fill(self) -> bool:

        with Studio.open(self._data) as studio:
            return fill_demo(
                studio,
                studio.facts.created_at.astimezone(),
                progress=self._progress,
                goes_on=lambda: not self.stopping,
            )

    def _progress(self, done: int, of: int) -> None:
        with suppress(OSError):  # a full disk stops the takes themselves, which say so
            say_filling(self._data, done, of)
        self._told(done, of)
