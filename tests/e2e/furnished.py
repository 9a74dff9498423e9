"""A small studio for browsers: invented people, takes by the simulated player, heard by the real ear.

Conventions: what is off in a take is written here, so a page can be held against it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.simulate import Wanted, simulate_take
from evenhand.acts.weeks.document import plan_to_json
from evenhand.media.write import write_wav
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Said, Student, StudioTake, Week
from evenhand.studio.work.pool import hear_waiting_once
from evenhand.synthesis.drops import Drop, record_drops
from evenhand.synthesis.instruments import Scene
from evenhand.take import in_words
from tests.studios import a_new_take

TEXT, TEMPO, TIMES = "1/8: RLRR LRLL", "1/4=180", 4  # 5.3 s
LATE_MS = 30
RATE_HZ = 48_000
LATE, EVEN = (f"late-hand=L:{LATE_MS}",), ()


@dataclass(frozen=True)
class Played:
    """A simulated take: samples of shape (n,) at ``RATE_HZ``, and when its notes begin, s of the samples."""

    samples: NDArray[np.float32]
    notes_s: tuple[float, ...]

    @property
    def wav(self) -> bytes:
        """The same as a file of 16 bit."""
        with TemporaryDirectory() as folder:
            path = Path(folder) / "take.wav"
            write_wav(path, self.samples, RATE_HZ)
            return path.read_bytes()


@cache
def played(
    faults: tuple[str, ...] = LATE,
    times: int = TIMES,
    seed: int = 3,
    tempo: str = TEMPO,
    noise_db: float | None = None,
) -> Played:
    """Play the exercise on a dry pad, without a count-in; half a second before the first note."""
    scene = Scene(rate_hz=RATE_HZ, lead_in_s=0.5, count_in="none", tail_s=0.3, noise_snr_db=noise_db)
    take = simulate_take(Wanted(TakeRequest.read(TEXT, tempo), times, faults, seed), scene)
    return Played(take.samples, tuple(hit.time_s for hit in take.truth.hits))


def four_drops() -> Played:
    """Drop a stick four times from 12 cm; it keeps 0.75 of its speed."""
    take = record_drops([Drop(12.0, 0.75)] * 4, Scene(rate_hz=RATE_HZ, tail_s=0.3, noise_snr_db=45.0), 5)
    return Played(take.samples, (take.drops[0].times_s[0],))


def a_plan(times: int = TIMES, tempo: str = TEMPO) -> PracticePlan:
    """Give a week of three days alike: the exercise so many times, then another."""
    first = _item(TEXT, times, title="Paradiddle", why="The left came late.", at=tempo)
    return PracticePlan((PracticeDay((first, _item("1/16: >RLRL RRLL", 8))),) * 3)


def _item(text: str, times: int, title: str = "", why: str = "", at: str = TEMPO) -> PracticeItem:
    exercise, tempo = parse_exercise(text), Tempo.parse(at)
    seconds = times * float(exercise.length) * tempo.whole_note_s
    return PracticeItem(exercise, tempo, times, seconds, "tap", 30.0, title, in_words(why))


def assign(
    studio: Studio,
    student: Student,
    *,
    times: int = TIMES,
    tempo: str = TEMPO,
    words: str = "Let the stick fall.",
) -> Week:
    """Send a week that begins today."""
    starts = date.today()  # noqa: DTZ011 - the pages go by the teacher's own clock
    week = studio.weeks.save(Week("", student.id, starts, "tap", plan_to_json(a_plan(times, tempo)), words))
    return studio.weeks.send(week.id)


def send_take(
    studio: Studio, student: Student, ago: timedelta, *, faults: tuple[str, ...] = LATE
) -> StudioTake:
    """Let a take come in, some time ago."""
    at = datetime.now().astimezone() - ago
    key = f"{student.id}-{at:%Y%m%d%H%M%S}"
    new = a_new_take(student.id, key, exercise=TEXT, tempo=TEMPO, recorded_at=at)
    seed = 3 + len(studio.takes.all(student.id))
    take, _ = studio.takes.receive(new, played(faults, seed=seed).wav, received_at=at + timedelta(seconds=9))
    return take


@dataclass(frozen=True)
class People:
    """Who is in the studio, and their takes of interest by what is to be seen of them."""

    nora: Student  # a week, takes in which the left is late
    theo: Student  # under age, nobody agreed yet
    ida: Student  # nothing was assigned
    takes: Mapping[str, StudioTake]
    week: Week
    parent: str  # the secret of the link of Nora's parent


def furnish(studio: Studio) -> People:
    """Put people, weeks, takes and a book into a new studio; some seconds of hearing."""
    today = date.today().weekday()  # noqa: DTZ011 - the same
    nora = studio.students.add(
        "Nora Veldt", stage="tap", lesson_day=today, lesson_time="16:30", notes="Left hand."
    )
    theo = studio.students.add(
        "Theo Marchbank", stage="rebound", lesson_day=today, lesson_time="17:15", minor=True
    )
    ida = studio.students.add("Ida Quill", stage="half", lesson_day=(today + 1) % 7)
    week = assign(studio, nora)
    days = {"late": 2, "even": 9, "older": 16, "oldest": 23}
    takes = {
        name: send_take(studio, nora, timedelta(days=ago), faults=EVEN if name == "even" else LATE)
        for name, ago in days.items()
    }
    hear_waiting_once(studio)
    failed, _ = studio.takes.receive(a_new_take(nora.id, "key-of-a-failed-one"), b"no sound at all")
    studio.queue.took_failed(failed.id, "There is nothing but silence.")
    at = takes["late"].received_at
    studio.threads.say(
        Said("1", nora.id, "teacher", at, takes["late"].id, text="Lead with the left for a week.")
    )
    studio.access.make_link(nora.id, lasts=timedelta(days=90))
    for text, title in ((TEXT, "Paradiddle"), ("1/8: RRLL RRLL", "Doubles"), ("1/8: RLRL RLRL", "Singles")):
        studio.book.add(text, title)
    parent, _ = studio.access.make_link(nora.id, lasts=timedelta(days=90), opens="days")
    return People(nora, theo, ida, {**takes, "failed": failed}, week, parent)
