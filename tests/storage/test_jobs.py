"""The jobs of a Postgres' queue: a take that waits has one, in the same transaction, and no other has one."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import text

from evenhand.errors import WrongOptions
from evenhand.studio.store.database import downgrade, upgrade
from evenhand.studio.store.rows import jobs
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake
from tests.places import Place, ServersClock, empty
from tests.postgres import Server
from tests.studios import a_new_take


@pytest.fixture
def place(postgres: Server, tmp_path: Path) -> Place:
    """Give a place in a Postgres."""
    url = postgres.url.render_as_string(hide_password=False)
    empty(url)
    return Place(tmp_path, url, clock=ServersClock(url))


@pytest.fixture
def studio(place: Place) -> Studio:
    return place.create()


def received(studio: Studio, key: str = "key-1") -> StudioTake:
    found = studio.students.all()
    student = found[0] if found else studio.students.add("Ida Quill")
    return studio.takes.receive(a_new_take(student.id, key), b"sound " + key.encode())[0]


def jobs_of(studio: Studio) -> list[tuple[str, str, int]]:
    """List whose the jobs are, their state, and how often they were begun before."""
    query = "SELECT args->>'take_id', status::text, attempts FROM procrastinate_jobs ORDER BY id"
    with studio.data.database.reading() as connection:
        return [(row[0], row[1], row[2]) for row in connection.execute(text(query))]


def test_a_take_has_a_job_from_its_coming_to_its_end(place: Place, studio: Studio) -> None:
    take = received(studio)
    assert jobs_of(studio) == [(take.id, "todo", 0)]
    studio.queue.claim("a")
    assert jobs_of(studio) == [(take.id, "doing", 0)]
    studio.queue.give_back("a", blamed=True)
    assert jobs_of(studio) == [(take.id, "todo", 1)]
    place.clock.move(seconds=10)
    studio.queue.claim("a")
    studio.queue.took_heard(take.id, "{}", 1.0, worker="a")
    assert jobs_of(studio) == []
    studio.queue.hear_again(take.id, exercise="1/8: RL", tempo="1/4=60", click="none")
    studio.queue.hear_again(take.id, exercise="1/8: RL", tempo="1/4=60", click="none", urgency="lesson")
    assert jobs_of(studio) == [(take.id, "todo", 0)]


def test_row_and_job_come_in_one_transaction(studio: Studio) -> None:
    received(studio)
    database = studio.data.database
    with database.writing() as connection:
        connection.execute(text("UPDATE takes SET status = 'waiting', id = 'other'"))
        connection.execute(text("INSERT INTO made SELECT * FROM made"))
        connection.rollback()
    (job,) = jobs_of(studio)
    assert job[0] == studio.takes.all()[0].id


@pytest.mark.parametrize("claimed", [False, True])
def test_the_job_goes_with_its_take(studio: Studio, *, claimed: bool) -> None:
    take, other = received(studio), received(studio, "key-2")
    if claimed:
        studio.queue.claim("a")
    studio.takes.delete(take.id)
    assert [job[0] for job in jobs_of(studio)] == [other.id]
    studio.students.erase(other.student_id)
    assert jobs_of(studio) == []


def test_a_job_names_its_take_and_its_studio_and_nothing_else(studio: Studio) -> None:
    take = received(studio)
    with studio.data.database.reading() as connection:
        found = connection.scalar(text("SELECT args FROM procrastinate_jobs"))
    assert found == {"studio_id": studio.id, "take_id": take.id}


def test_a_job_whose_take_was_changed_by_hand_is_let_go(studio: Studio) -> None:
    take, other = received(studio), received(studio, "key-2")
    with studio.data.database.writing() as connection:
        connection.execute(text("ALTER TABLE takes DISABLE TRIGGER take_changes"))
        connection.execute(text("UPDATE takes SET status = 'heard' WHERE id = :id"), {"id": take.id})
        connection.execute(text("ALTER TABLE takes ENABLE TRIGGER take_changes"))
    claimed = studio.queue.claim("a")
    assert claimed is not None
    assert claimed.id == other.id
    assert [job[0] for job in jobs_of(studio)] == [other.id]


def test_a_take_whose_row_is_being_changed_is_claimed_afterwards(studio: Studio) -> None:
    """Nobody waits for a row with a job in hand, so the two can never wait for each other."""
    take = received(studio)
    with studio.data.database.writing() as connection:
        connection.execute(text("UPDATE takes SET name = 'evening' WHERE id = :id"), {"id": take.id})
        assert studio.queue.counts()["waiting"] == 1
        with studio.data.database.writing() as other:
            waits = "SELECT id FROM takes WHERE status = 'waiting' FOR UPDATE SKIP LOCKED"
            assert list(other.scalars(text(waits))) == []
    claimed = studio.queue.claim("a")
    assert claimed is not None
    assert claimed.name == "evening"


def test_what_waited_before_the_queue_came_has_its_job_after(place: Place, studio: Studio) -> None:
    waits, in_hand = received(studio), received(studio, "key-2")
    studio.queue.claim("a")
    with studio.data.database.changing() as connection:
        downgrade(connection, "0014")
        upgrade(connection)
    assert sorted(jobs_of(studio)) == sorted([(waits.id, "todo", 0), (in_hand.id, "todo", 0)])
    assert place.open().queue.counts()["waiting"] == 2


def test_tables_of_another_form_are_refused(place: Place, studio: Studio) -> None:
    note = "COMMENT ON TABLE procrastinate_jobs IS '{}'"
    with studio.data.database.changing() as connection:
        connection.execute(text(note.format("0123456789abcdef")))
    with pytest.raises(WrongOptions, match=r"a queue whose tables have the form '0123456789ab'"):
        place.open()
    with studio.data.database.changing() as connection:
        connection.execute(text(note.format(jobs.SCHEMA_SHA256)))
    place.open()


def test_another_release_of_the_engine_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "SCHEMA_SHA256", "0" * 64)
    with pytest.raises(WrongOptions, match=r"a release of procrastinate with another schema"):
        jobs._schema()  # noqa: SLF001 - it is run when a database is made, by the library's own file
    monkeypatch.setattr(jobs, "find_spec", lambda _name: None)
    with pytest.raises(WrongOptions, match=r"evenhand\[postgres\]"):
        jobs._schema()  # noqa: SLF001 - the same
