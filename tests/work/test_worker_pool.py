"""Worker processes may be killed at any instant: nothing is lost, and nothing is heard twice."""

from __future__ import annotations

import os
import secrets
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import text

from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake
from evenhand.studio.work import pool
from evenhand.studio.work.pool import WorkerPool
from tests.places import Place
from tests.sounds import EXERCISE, TEMPO, a_recording
from tests.studios import a_new_take

PATIENCE_S = 60.0
pytestmark = pytest.mark.slow  # each starts interpreters


def until(holds: Callable[[], bool], patience_s: float = PATIENCE_S) -> None:
    """Wait until something holds, and fail if it never does."""
    end_s = time.monotonic() + patience_s
    while not holds():
        assert time.monotonic() < end_s, "waited in vain"
        time.sleep(0.01)


def send(studio: Studio, n: int, content: bytes | None = None) -> list[StudioTake]:
    """Let takes come in, each another one."""
    ida = studio.students.add("Ida Quill")
    return [
        studio.takes.receive(
            a_new_take(ida.id, f"key-{number}", exercise=EXERCISE, tempo=TEMPO),
            content or a_recording(number),
        )[0]
        for number in range(n)
    ]


WITNESS = {
    "sqlite": (
        (
            "CREATE TRIGGER witness AFTER UPDATE OF heard ON takes WHEN new.heard IS NOT NULL "
            "BEGIN INSERT INTO written VALUES (new.id); END"
        ),
    ),
    "postgresql": (
        (
            "CREATE FUNCTION witness() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN INSERT INTO written VALUES (NEW.id); RETURN NULL; END $$"
        ),
        (
            "CREATE TRIGGER witness AFTER UPDATE OF heard ON takes FOR EACH ROW "
            "WHEN (NEW.heard IS NOT NULL) EXECUTE FUNCTION witness()"
        ),
    ),
}


def count_writings(studio: Studio) -> None:
    """Let the database itself note each time that something heard is written."""
    with studio.data.database.writing() as connection:
        connection.execute(text("CREATE TABLE written (take_id TEXT)"))
        for statement in WITNESS[connection.dialect.name]:
            connection.execute(text(statement))


def writings(studio: Studio) -> list[str]:
    with studio.data.database.reading() as connection:
        return sorted(connection.scalars(text("SELECT take_id FROM written")))


def test_two_workers_hear_all_takes_once_on_either_database(place: Place) -> None:
    studio = place.create()
    takes = send(studio, 3)
    with WorkerPool(place.data, 2, backing=place.backing) as workers:
        workers.hearing.wake()
        until(lambda: studio.queue.counts()["heard"] == len(takes))
        until(lambda: sum(workers.hearing.times()[:-1]) == len(takes))  # counted after it is kept
        assert workers.hearing.times()[-1] > 0
    assert {take.tried for take in studio.takes.all()} == {1}
    assert all(studio.takes.recording(take).suffix == ".flac" for take in studio.takes.all())


@pytest.fixture
def here(tmp_path: Path) -> Place:
    """Give a place in SQLite."""
    return Place(tmp_path, None)


def test_a_worker_killed_while_it_hears_is_replaced_and_the_take_heard_once(place: Place) -> None:
    """By kill -9 in the middle of its hearing; the take is long, so that there is a middle."""
    studio = place.create()
    count_writings(studio)
    (take,) = send(studio, 1, a_recording(7, repetitions=60))
    with WorkerPool(place.data, 1, backing=place.backing) as workers:
        until(lambda: studio.queue.counts()["hearing"] == 1)
        os.kill(workers.pids()[0], signal.SIGKILL)
        until(lambda: studio.queue.counts()["heard"] == 1)
    assert writings(studio) == [take.id]
    found = studio.takes.all()[0]
    assert (found.tried, studio.takes.recording(found).suffix) == (2, ".flac")
    studio.data.sweep(older_than_s=0.0)
    assert len([path for path in (place.data / "recordings").rglob("*") if path.is_file()]) == 1


def test_stopping_gives_back_what_is_in_hand(place: Place) -> None:
    studio = place.create()
    send(studio, 1, a_recording(7, repetitions=60))
    with WorkerPool(place.data, 1, backing=place.backing) as workers:
        until(lambda: studio.queue.counts()["hearing"] == 1)
        pids = workers.pids()
    (take,) = studio.takes.all()
    assert (take.status, take.tried) == ("waiting", 0)
    assert not any(lives(pid) for pid in pids)


def test_stopped_with_grace_what_is_in_hand_is_finished_and_nothing_begun(place: Place) -> None:
    studio = place.create()
    send(studio, 2, a_recording(7, repetitions=60))
    workers = WorkerPool(place.data, 1, backing=place.backing)
    workers.start()
    until(lambda: studio.queue.counts()["hearing"] == 1)
    workers.stop(grace_s=PATIENCE_S)
    assert sorted((take.status, take.tried) for take in studio.takes.all()) == [("heard", 1), ("waiting", 0)]


def lives(pid: int) -> bool:
    """Tell whether a process is there and no zombie."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


SERVER = """
import sys, time
from pathlib import Path
from evenhand.studio.work.pool import WorkerPool

if __name__ == "__main__":
    workers = WorkerPool(Path(sys.argv[1]), 2)
    workers.start()
    print(*workers.pids(), flush=True)
    time.sleep(600)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")
def test_a_server_killed_during_hearing_takes_its_workers_along_and_loses_nothing(
    here: Place, tmp_path: Path
) -> None:
    """By kill -9 of the server itself: its workers end by themselves, and the next server hears the rest."""
    studio = here.create()
    count_writings(studio)
    takes = send(studio, 3)
    (tmp_path / "server.py").write_text(SERVER)
    server = subprocess.Popen(
        [sys.executable, str(tmp_path / "server.py"), str(here.data)], stdout=subprocess.PIPE, text=True
    )
    assert server.stdout is not None
    pids = [int(pid) for pid in server.stdout.readline().split()]
    until(lambda: studio.queue.counts()["heard"] >= 1)
    server.kill()
    server.wait()
    server.stdout.close()
    until(lambda: not any(lives(pid) for pid in pids))
    with WorkerPool(here.data, 2):
        until(lambda: studio.queue.counts()["heard"] == len(takes))
    assert writings(studio) == sorted(take.id for take in takes)


def test_what_no_take_names_is_set_aside_while_workers_run(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A school's workers run for months, and an upload that broke off must not lie there so long."""
    monkeypatch.setattr(pool, "SWEEPS_EVERY_S", 0.05)
    monkeypatch.setattr(pool, "FIRST_SWEEP_WITHIN_S", 1)
    monkeypatch.setattr(secrets, "randbelow", lambda _: -0.95)
    with place.create() as studio:
        workers = WorkerPool(place.data, 0, backing=place.backing)
        workers.start(sweeps=False)
        try:
            key = studio.data.recordings.add(b"RIFF\0\0\0\0WAVE of nobody")
            until(lambda: not studio.data.recordings.has(key))
            assert key in studio.data.recordings.all_keys()
        finally:
            workers.stop()
