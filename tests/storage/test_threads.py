"""What is said between teacher and student is kept, found, counted, moved and deleted with what it is of."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest
from sqlalchemy import text

from evenhand.errors import NotFound, StudioFull
from evenhand.studio.archive import student_archive
from evenhand.studio.safekeeping.check import check_studio, repair_studio
from evenhand.studio.store.data import Quota
from evenhand.studio.store.database import downgrade, upgrade
from evenhand.studio.store.migrations.versions.said import down_revision as BEFORE  # noqa: N812 - a constant
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Said, StudioTake
from tests.places import Place, everywhere, spoil
from tests.studios import NOON, a_new_take

VOICE = b"RIFF\x00\x00\x00\x00WAVEfmt " + b"spoken" * 200


def a_take(studio: Studio, key: str = "one") -> StudioTake:
    student = next(iter(studio.students.all()), None) or studio.students.add("Ida Quill")
    return studio.takes.receive(a_new_take(student.id, key), b"fLaC" + key.encode())[0]


def spoken(studio: Studio, take: StudioTake, name: str = "s", voice: bytes = VOICE) -> Said:
    return studio.threads.say(Said(name, take.student_id, "student", NOON, take.id, seconds=3.0), voice)


def test_what_is_said_twice_is_kept_once_and_is_new_until_it_is_opened(studio: Studio) -> None:
    take = a_take(studio)
    first = spoken(studio, take)
    assert spoken(studio, take, voice=VOICE + b"again") == first
    assert studio.threads.recording(first).read_bytes() == VOICE
    assert studio.threads.unread("student") == [first]
    assert studio.threads.unread("teacher", take.student_id) == []
    studio.threads.read([first.id])
    assert studio.threads.unread("student") == []
    assert check_studio(studio).is_well  # nothing of what came again is left


def test_what_is_spoken_goes_with_its_take_and_by_itself(studio: Studio) -> None:
    take, other = a_take(studio), a_take(studio, "two")
    gone, stays = spoken(studio, take), spoken(studio, other, "t")
    assert gone.recording == stays.recording  # the same bytes
    studio.takes.delete(take.id)
    assert studio.threads.recording(stays).read_bytes() == VOICE
    studio.threads.take_back(stays.id)
    assert set(studio.data.recordings.kept_keys()) == {other.recording}
    assert list(studio.data.labels.all_said()) == []
    with pytest.raises(NotFound, match="what was said"):
        studio.threads.get(stays.id)


def test_a_deletion_that_broke_off_is_finished(studio: Studio) -> None:
    said = spoken(studio, a_take(studio))
    studio.data.labels.said_goes(said)
    with studio.data.database.writing() as connection:
        connection.execute(text("DELETE FROM said"))
    studio.data.sweep()
    assert said.recording not in studio.data.recordings.all_keys()
    assert check_studio(studio).is_well


def test_what_is_spoken_needs_room_and_leaves_nothing_where_there_is_none(studio: Studio) -> None:
    take = a_take(studio)
    studio.data.quota = Quota(student_bytes=studio.data.recordings.size_of(take.recording or "") + 100)
    with pytest.raises(StudioFull):
        spoken(studio, take)
    assert check_studio(studio).is_well
    assert studio.threads.of_take(take.id) == []
    with pytest.raises(NotFound):
        studio.threads.say(Said("x", "nobody", "student", NOON, take.id, text="no such student"))


@everywhere
def test_a_check_names_what_is_spoken_and_damaged_and_a_repair_finds_what_is_lost(place: Place) -> None:
    studio = place.create()
    said = spoken(studio, a_take(studio))
    with studio.data.database.writing() as connection:
        connection.execute(text("DELETE FROM said"))
    assert check_studio(studio).left == (said.recording,)
    assert repair_studio(studio).found == 0  # no take is made of it
    assert studio.threads.get(said.id) == said
    spoil(studio, said.recording, b"rot")
    (unsound,) = check_studio(studio).unsound
    assert (unsound.take, unsound.damaged) == (said, True)


def test_what_is_spoken_and_has_no_label_gets_one(studio: Studio) -> None:
    """An import makes none; without one, a voice note whose row is lost would become a take of nobody's."""
    said = spoken(studio, a_take(studio))
    studio.data.labels.remove_said(said)
    studio.data.sweep()
    with studio.data.database.writing() as connection:
        connection.execute(text("DELETE FROM said"))
    assert repair_studio(studio).found == 0
    assert studio.threads.get(said.id) == said


def test_a_students_archive_has_what_was_said(studio: Studio, tmp_path: Path) -> None:
    said = spoken(studio, a_take(studio))
    student = studio.students.get(said.student_id)
    (tmp_path / "a.zip").write_bytes(b"".join(student_archive(studio, student, NOON)))
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        (name,) = [name for name in archive.namelist() if "-said-" in name]
        assert archive.read(name) == VOICE
        (written,) = json.loads(archive.read("student.json"))["said"]
    assert (written["who"], written["recording"]) == ("student", said.recording)


def test_words_on_a_take_become_its_thread_and_come_back(place: Place) -> None:
    """The form before had one text on each take."""
    studio = place.create()
    take = a_take(studio)
    studio.threads.say(Said("w", take.student_id, "teacher", NOON, take.id, text="Let it bounce."))
    with studio.data.database.changing(copies_tables=True) as connection:
        downgrade(connection, BEFORE)
        assert connection.execute(text("SELECT words FROM takes")).scalar() == "Let it bounce."
        upgrade(connection)
    (said,) = studio.threads.of_take(take.id)
    assert (said.who, said.text, said.read_at is None) == ("teacher", "Let it bounce.", False)
