"""Workers of a Postgres, on many machines: killed at any instant, ended in order, of a whole school."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from evenhand.studio.school import School
from evenhand.studio.store.studio import Studio
from evenhand.studio.work.pool import WorkerPool
from tests.places import Place, empty
from tests.postgres import Server
from tests.sounds import EXERCISE, TEMPO, a_recording
from tests.studios import PASSWORD, QUICK, a_new_take
from tests.work.test_worker_pool import count_writings, send, until, writings

pytestmark = pytest.mark.slow
SEED = 20_261_129


@pytest.fixture
def here(postgres: Server, tmp_path: Path) -> Iterator[Place]:
    """Give a place in a Postgres, with the server's own clock."""
    url = postgres.url.render_as_string(hide_password=False)
    empty(url)
    place = Place(tmp_path, url)
    yield place
    for studio in place.opened:
        studio.close()


def test_whose_takes_they_are_all_of_a_school_are_heard(here: Place) -> None:
    """By one worker, who opens each studio when a take of it is due; each row stays its own studio's."""
    school = School(here.data, here.backing, hasher=QUICK)
    school.bring_up_to_date(finish=True)
    ids = [school.add(login, login.title(), PASSWORD).id for login in ("mara", "iven", "bo")]
    sent = {studio_id: send(school.studio(studio_id), 2) for studio_id in ids}
    with WorkerPool(here.data, 1, backing=here.backing):
        until(lambda: all(school.studio(each).queue.counts()["heard"] == 2 for each in ids))
    for studio_id, takes in sent.items():
        found = school.studio(studio_id).takes.all()
        assert {take.id for take in found} == {take.id for take in takes}
        assert all(school.studio(studio_id).takes.recording(take).suffix == ".flac" for take in found)
    school.close()


def test_it_is_ended_in_order_by_a_termination_signal(here: Place) -> None:
    """``evenhand work`` finishes the take in hand and begins none; it says how many it heard."""
    studio = here.create()
    send(studio, 3, a_recording(7, repetitions=40))
    url = str(here.url).replace("+psycopg", "")
    command = [sys.executable, "-m", "evenhand", "work", "--data", str(here.data), "--database", url]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as worker:
        try:
            until(lambda: studio.queue.counts()["hearing"] == 1)
            worker.terminate()
            said, _ = worker.communicate(timeout=60)
        finally:
            worker.kill()
    counts = studio.queue.counts()
    assert (worker.returncode, counts["hearing"], counts["failed"]) == (0, 0, 0)
    assert counts["heard"] >= 1
    assert f"Ended. {counts['heard']} take" in said


@pytest.mark.deep
def test_killed_at_random_instants_each_take_is_heard_once_and_none_is_left(here: Place) -> None:
    """36 takes, two pools as on two machines, and twenty kills (-9) of their workers."""
    studio, chance = here.create(), random.Random(SEED)  # noqa: S311 - no secret
    count_writings(studio)
    takes = send(studio, 36)
    pools = [WorkerPool(here.data, 1, backing=here.backing) for _ in range(2)]
    for pool in pools:
        pool.start(sweeps=False)
    for _ in range(20):
        time.sleep(chance.uniform(0.05, 2.0))
        pids = [pid for pool in pools for pid in pool.pids()]
        if pids:
            kill(chance.choice(pids))
    until(lambda: done(studio) == len(takes), patience_s=300)
    for take in studio.queue.set_aside():  # killed three times in the same take
        studio.queue.hear_again(take.id, exercise=EXERCISE, tempo=TEMPO, click="auto")
    until(lambda: studio.queue.counts()["heard"] == len(takes), patience_s=300)
    for pool in pools:
        pool.stop()
    assert writings(studio) == sorted(take.id for take in takes)


def kill(pid: int) -> None:
    try:
        os.kill(pid, signal.SIGKILL)
    except ProcessLookupError:
        return


def done(studio: Studio) -> int:
    counts = studio.queue.counts()
    return counts["heard"] + counts["failed"]


MACHINE = """
import sys, time
from pathlib import Path
from evenhand.studio.store.layout import Backing
from evenhand.studio.work.pool import WorkerPool

if __name__ == "__main__":
    pool = WorkerPool(Path(sys.argv[1]), 1, backing=Backing(sys.argv[2]))
    pool.start(sweeps=False)
    print(*pool.pids(), flush=True)
    time.sleep(600)
"""


@pytest.mark.deep
def test_the_take_of_a_machine_that_went_down_is_heard_by_another_in_about_a_minute(
    here: Place, tmp_path: Path
) -> None:
    studio = here.create()
    count_writings(studio)
    student = studio.students.add("Ida Quill")
    new = a_new_take(student.id, exercise=EXERCISE, tempo=TEMPO)
    take, _ = studio.takes.receive(new, a_recording(7, repetitions=200))
    (tmp_path / "machine.py").write_text(MACHINE)
    command = [sys.executable, str(tmp_path / "machine.py"), str(here.data), str(here.url)]
    machine = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert machine.stdout is not None
    worker = int(machine.stdout.readline())
    until(lambda: studio.queue.counts()["hearing"] == 1)
    for pid in (machine.pid, worker):
        os.kill(pid, signal.SIGKILL)
    machine.wait()
    machine.stdout.close()
    with WorkerPool(here.data, 1, backing=here.backing):
        until(lambda: studio.takes.get(take.id).tried == 2, patience_s=180)
        until(lambda: studio.queue.counts()["heard"] == 1, patience_s=180)
    assert writings(studio) == [take.id]
