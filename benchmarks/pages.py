"""How long the studio's pages take with 30 students and 3 years of takes.

    python -m benchmarks.pages [--students N] [--weeks N] [--takes N] [--times N]

A real server on this computer, asked by one client over one connection; each page many times, another
student or take each time. Clock on the wall, from the request to the last byte; and what the server computed.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx2
import numpy as np
from sqlalchemy import insert

from evenhand.acts.weeks.document import plan_to_json
from evenhand.studio.store.access import new_id
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import takes as takes_table
from evenhand.studio.store.tables import values_of
from evenhand.studio.store.tables import weeks as weeks_table
from evenhand.studio.values import Student, StudioTake, Week
from evenhand.studio.weeks.ahead import weeks_shown
from evenhand.web.guard import COOKIE
from tests.desks import heard_json
from tests.e2e.furnished import a_plan
from tests.e2e.served import Served
from tests.studios import a_new_take, a_studio

HOURS = timedelta(hours=3)
FAULTS = (("late-hand=L:24",), ("late-hand=L:12",), (), ("late-hand=R:9",))
GOAL_MS = 100.0
SETTLES_S = 20.0  # until the library is weighed and the histories are read, as after any start
PROPOSED = "next week, proposed"  # the one that is a form
STAGES = ("rebound", "half", "full", "tap", "building speed")


@dataclass(frozen=True)
class Filled:
    """Who and what is in a studio that is full."""

    students: Sequence[Student]
    takes: Sequence[str]  # ids, the newest of each student
    secrets: Sequence[str]  # of each student's session, in the students' order
    teacher: str
    token: str  # of the teacher's forms


def fill(studio: Studio, asked: argparse.Namespace) -> Filled:
    """Put years of weeks and takes into a studio, all at once; the takes share a few real hearings."""
    heard = [heard_json(faults, 8, seed) for seed, faults in enumerate(FAULTS, start=1)]
    for text in ("1/8: RLRR LRLL", "1/8: RRLL RRLL", "1/16: >RLRR >LRLL", "1/8: RLRL RLRL"):
        studio.book.add(text, "", "")
    students = [
        studio.students.add(f"Student {n:02}", stage=STAGES[n % 5], lesson_day=n % 7, lesson_time="16:00")
        for n in range(asked.students)
    ]
    newest: list[str] = []
    now = datetime.now(UTC)
    for n, student in enumerate(students):
        first, _ = studio.takes.receive(a_new_take(student.id, "first-of-this-student"), f"take {n}".encode())
        rows = list(_takes(first, heard, asked, now))
        with studio.data.database.writing() as connection:
            connection.execute(insert(takes_table), rows)
            connection.execute(insert(weeks_table), [*_weeks(student, asked.weeks, now)])
        newest.append(str(rows[0]["id"]))
    secrets = [studio.access.begin("student", student_id=each.id, lasts=HOURS)[0] for each in students]
    teacher, session = studio.access.begin("teacher", lasts=HOURS)
    return Filled(students, newest, secrets, teacher, session.csrf)


def make_ahead(studio: Studio, filled: Filled) -> float:
    """Make the students' weeks, as the workers do when a take was heard; return seconds of the processor."""
    began = time.process_time()
    for student in filled.students:
        weeks_shown(studio, student, datetime.now().astimezone())
    return time.process_time() - began


def _takes(
    first: StudioTake, heard: Sequence[str], asked: argparse.Namespace, now: datetime
) -> Iterator[dict[str, object]]:
    for n in range(asked.weeks * asked.takes):
        at = now - timedelta(hours=2) - n * timedelta(days=7) / asked.takes
        take = replace(
            first, id=new_id(), upload_key=f"key-{n}", recorded_at=at, received_at=at, seconds=16.0
        )
        yield values_of(replace(take, status="heard", heard=heard[n % len(heard)]))


def _weeks(student: Student, count: int, now: datetime) -> Iterator[dict[str, object]]:
    plan = plan_to_json(a_plan())
    for n in range(count):
        at = now - timedelta(weeks=n)
        yield values_of(Week(new_id(), student.id, at.date(), student.stage, plan, "Slowly.", at, at))


def pages(filled: Filled) -> dict[str, Callable[[int], tuple[str, str]]]:
    """Name the pages: who asks, and for what, the n-th time."""

    def student(n: int) -> str:
        return filled.students[n % len(filled.students)].id

    def take(n: int) -> str:
        return filled.takes[n % len(filled.takes)]

    def own(n: int) -> str:
        return filled.secrets[n % len(filled.secrets)]

    teacher = filled.teacher
    return {
        "today": lambda _n: (teacher, "/"),
        "students": lambda _n: (teacher, "/students"),
        "a student": lambda n: (teacher, f"/students/{student(n)}"),
        "a student, the weeks": lambda n: (teacher, f"/students/{student(n)}/progress"),
        "next week": lambda n: (teacher, f"/students/{student(n)}/week"),
        PROPOSED: lambda n: (teacher, f"/students/{student(n)}/week/propose"),
        "a take": lambda n: (teacher, f"/takes/{take(n)}"),
        "two takes": lambda n: (teacher, f"/takes/{take(n)}/beside/{take(n + 1)}"),
        "a lesson": lambda n: (teacher, f"/students/{student(n)}/lesson"),
        "a term's report": lambda n: (teacher, f"/students/{student(n)}/report"),
        "rudiments": lambda n: (teacher, f"/students/{student(n)}/rudiments"),
        "overview": lambda _n: (teacher, "/overview"),
        "to hear": lambda _n: (teacher, "/hear"),
        "lessons": lambda _n: (teacher, "/lessons"),
        "search": lambda n: (teacher, f"/search?q=Student+{n % 30:02}"),
        "the log": lambda _n: (teacher, "/access"),
        "the book": lambda _n: (teacher, "/book"),
        "the path": lambda _n: (teacher, "/path"),
        "settings": lambda _n: (teacher, "/settings"),
        "the stand": lambda n: (own(n), "/stand"),
        "the stand, weeks": lambda n: (own(n), "/stand/weeks"),
        "the stand, takes": lambda n: (own(n), "/stand/takes"),
        "the stand, a take": lambda n: (own(n), f"/stand/takes/{take(n)}"),
    }


def form_of(filled: Filled) -> dict[str, str]:
    """Write what the page of a week sends to have one proposed."""
    on = datetime.now(UTC).date().isoformat()
    return {"csrf": filled.token, "starts": on, "stage": "tap", "minutes": "20", "days": "5", "seed": "0"}


def computed_ms(pid: int) -> float:
    """Return what the server's threads have computed so far, ms: the load of others is not in it (Linux)."""
    spent = [each.read_text().split()[0] for each in Path(f"/proc/{pid}/task").glob("*/schedstat")]
    return sum(map(int, spent)) / 1e6


def ask(client: httpx2.Client, path: str, secret: str, form: dict[str, str] | None) -> httpx2.Response:
    """Ask for a page, or send a form."""
    headers = {"cookie": f"{COOKIE}={secret}", "hx-request": "true" if form else "false"}
    if form is None:
        return client.get(path, headers=headers)
    return client.post(path, data=form, headers={**headers, "origin": str(client.base_url).rstrip("/")})


def measure(served: Served, filled: Filled, times: int) -> None:
    """Ask for each page so many times, and print its quantiles."""
    time.sleep(SETTLES_S)
    print(f"ms, n = {times} of each page, {SETTLES_S:g} s after the start; load {os.getloadavg()[0]:.1f}")
    print(f"{'':22} {'the clock on the wall':>26} {'computing':>17}")
    print(f"{'page':22} {'p50':>8} {'p95':>8} {'most':>8} {'p50':>8} {'p95':>8} {'kB':>7}")
    with httpx2.Client(base_url=served.address, timeout=120.0) as client:
        for name, asks in pages(filled).items():
            taken, computed, size = [], [], 0
            for n in range(times):
                secret, path = asks(n)
                began, before = time.perf_counter(), computed_ms(served.pid)
                answer = ask(client, path, secret, form_of(filled) if name == PROPOSED else None)
                taken.append(1000 * (time.perf_counter() - began))
                computed.append(computed_ms(served.pid) - before)
                if answer.status_code != 200:
                    raise SystemExit(f"{path}: {answer.status_code}")
                size = len(answer.content)
            middle, high = np.percentile(taken, [50, 95])
            work = "{:8.1f} {:8.1f}".format(*np.percentile(computed, [50, 95]))
            over = "" if high <= GOAL_MS else f"   over {GOAL_MS:g}"
            print(f"{name:22} {middle:8.1f} {high:8.1f} {max(taken):8.1f} {work} {size / 1000:7.1f}{over}")


def main() -> None:
    """Fill a studio, serve it, and ask."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.pages", description="Time the studio's pages."
    )
    parser.add_argument("--students", type=int, default=30, metavar="N")
    parser.add_argument("--weeks", type=int, default=156, metavar="N", help="how far back it goes")
    parser.add_argument("--takes", type=int, default=3, metavar="N", help="a week, of each student")
    parser.add_argument("--times", type=int, default=60, metavar="N", help="how often each page is asked for")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        with a_studio(Path(folder)) as studio:
            filled = fill(studio, asked)
            made_s = make_ahead(studio, filled)
        count = asked.students * asked.weeks * asked.takes
        size = (Path(folder) / "studio" / "studio.sqlite").stat().st_size / 1e6
        took_s = time.perf_counter() - began
        print(f"{asked.students} students, {count} takes, {size:.0f} MB, filled in {took_s:.0f} s")
        print(f"the weeks made ahead, as the workers do: {1000 * made_s / asked.students:.0f} ms a student")
        with Served(Path(folder) / "studio", workers=0) as served:
            measure(served, filled, asked.times)


if __name__ == "__main__":
    main()
