"""Who is erased is gone: rows, recordings, and the pages of the database's files."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from sqlalchemy import inspect, select, text

from evenhand.errors import NotFound
from evenhand.studio.store import database
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.database import Database
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import metadata
from evenhand.studio.values import Device, Holiday, LessonChange, Said, Student, Week
from tests.places import Place, everywhere
from tests.studios import NOON, a_new_take

MARK = "Zephyrine-Quillfeather"  # stands in every text that is about this student
SOUND = b"RIFF\x00\x00\x00\x00WAVE" + MARK.encode() * 4000
SHARED = b"RIFF\x00\x00\x00\x00WAVE" + b"both played this file" * 100


def a_known_student(studio: Studio) -> Student:
    """Let a student be known to every table."""
    student = studio.students.add(MARK, notes=f"{MARK} grips hard. " * 400, consent_by=MARK)
    studio.access.make_link(student.id, lasts=timedelta(days=9))
    studio.access.begin("student", student_id=student.id, lasts=timedelta(days=9))
    studio.students.save_device(Device("", student.id, MARK))
    week = studio.weeks.save(Week("", student.id, date(2026, 3, 2), "rebound", f'{{"for": "{MARK}"}}', MARK))
    studio.weeks.send(week.id)
    studio.weeks.keep_draft(student.id, "", f'{{"words": "{MARK}"}}')
    studio.made.keep(student.id, "weeks", MARK, MARK)
    studio.log.note("take words", "teacher", about=student.id, thing=f"take {MARK}", address=MARK)
    studio.lessons.change(LessonChange("", student.id, date(2026, 3, 2), why=MARK))
    studio.lessons.add_holiday(Holiday("", date(2026, 4, 1), date(2026, 4, 2), student.id, MARK))
    for number in range(5):
        new = a_new_take(student.id, f"{MARK}-{number}", name=MARK, facts={"by": MARK})
        take, _ = studio.takes.receive(new, SOUND + bytes([number]), original_name=f"{MARK}.wav")
        studio.queue.took_heard(take.id, f'{{"name": "{MARK}"}}', 3.0)
        words = Said(
            f"w{number}", student.id, "teacher", NOON, take.id, text=f"{MARK}, let it bounce. " * 300
        )
        studio.threads.say(words)
        spoken = Said(f"v{number}", student.id, "student", NOON, take.id, seconds=2.0)
        studio.threads.say(spoken, SOUND + b"spoken" + bytes([number]))
    studio.takes.receive(a_new_take(student.id, "shared"), SHARED)
    return student


def bytes_on_disk(place: Place) -> bytes:
    return b"".join(file.read_bytes() for file in place.data.rglob("*") if file.is_file())


def rows_of(kept: Database, student_id: str) -> dict[str, int]:
    """Count what names a student, table by table."""
    found = {}
    with kept.reading() as connection:
        for table in metadata.sorted_tables:
            key = table.c.id if table.name == "students" else table.c.get("student_id")
            if key is not None:
                found[table.name] = len(connection.execute(select(key).where(key == student_id)).all())
    return found


@everywhere
def test_erasing_leaves_no_row_and_no_recording_and_nothing_of_anybody_else_goes(studio: Studio) -> None:
    other = studio.students.add("Tomas Reed")
    his, _ = studio.takes.receive(a_new_take(other.id, "shared"), SHARED)
    student = a_known_student(studio)
    assert all(rows_of(studio.data.database, student.id).values())
    studio.students.erase(student.id)
    assert set(rows_of(studio.data.database, student.id).values()) == {0}
    assert (studio.students.all(), studio.takes.all()) == ([other], [his])
    assert studio.takes.recording(his).read_bytes() == SHARED
    assert list(studio.data.recordings.kept_keys()) == [his.recording]
    with pytest.raises(NotFound, match="this student"):
        studio.students.erase(student.id)


def test_erasing_leaves_no_byte_in_the_files_while_the_studio_stays_open(tmp_path: Path) -> None:
    """The files are read raw, the database's log among them."""
    place = Place(tmp_path, None)
    studio = place.create()
    studio.students.add("Tomas Reed")
    student = a_known_student(studio)
    assert bytes_on_disk(place).count(MARK.encode()) > 1000
    studio.students.erase(student.id)
    left = bytes_on_disk(place)
    assert b"Tomas Reed" in left
    assert MARK.encode() not in left
    assert student.id.encode() not in left


def test_what_was_deleted_before_without_care_goes_with_the_next_erasing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another tool may have written the file, and left old pages in it."""
    careless = tuple(each.replace("secure_delete = ON", "secure_delete = OFF") for each in database._PRAGMAS)  # noqa: SLF001 - the settings
    monkeypatch.setattr(database, "_PRAGMAS", careless)
    place = Place(tmp_path, None)
    studio = place.create()
    student = a_known_student(studio)
    for take in studio.takes.all():
        studio.takes.delete(take.id)
    studio.students.erase(student.id)
    assert MARK.encode() not in bytes_on_disk(place)


def test_a_deleted_take_is_overwritten_too(tmp_path: Path) -> None:
    """After the log was taken over, which closing does."""
    place = Place(tmp_path, None)
    studio = place.create()
    a_known_student(studio)
    words = b"let it bounce"
    for take in studio.takes.all():
        studio.takes.delete(take.id)
    studio.close()
    assert words not in bytes_on_disk(place)


def test_an_erasing_that_is_broken_off_is_finished_when_the_studio_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = Place(tmp_path, None)
    student = a_known_student(place.create())

    def cut(*_args: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(StudioData, "drop_unnamed", cut)
        with pytest.raises(KeyboardInterrupt):
            place.opened[0].students.erase(student.id)
    assert MARK.encode() in bytes_on_disk(place)
    again = place.open()
    assert MARK.encode() not in bytes_on_disk(place)
    assert list(again.data.recordings.kept_keys()) == []


def test_a_reader_that_is_in_the_way_delays_the_cleaning_and_does_not_prevent_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody still looks at the moment before: the log cannot be emptied yet, and that is remembered."""
    monkeypatch.setattr(database, "SCRUB_WAITS_S", 0.05)
    place = Place(tmp_path, None)
    student = a_known_student(place.create())
    studio = place.open()
    with place.opened[0].data.database.reading() as connection:
        connection.execute(text("SELECT name FROM students")).all()
        studio.students.erase(student.id)
        assert MARK.encode() in bytes_on_disk(place)
    place.open()
    assert MARK.encode() not in bytes_on_disk(place)


def test_every_table_that_knows_a_student_lets_go_with_the_student(studio: Studio) -> None:
    """So that a table which comes later cannot forget to."""
    inspector = inspect(studio.data.database._engine)  # noqa: SLF001 - the tables as they are
    for table in metadata.sorted_tables:
        for key in inspector.get_foreign_keys(table.name):
            assert key["options"] == {"ondelete": "CASCADE"}
            assert key["referred_table"] in {
                "students",
                "takes",
                "weeks",
            }  # which themselves go with the student
