"""A disk that is full or read-only, and a database that is garbled: each says so in one line."""

from __future__ import annotations

import errno
import os
import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest

from evenhand.errors import CannotKeep, DiskFull, ReadOnly, StudioDamaged, StudioLost, WrongOptions
from evenhand.studio.safekeeping.check import check_studio
from evenhand.studio.store.layout import DATABASE, trouble_of
from evenhand.studio.store.studio import Studio
from tests.places import Place
from tests.studios import QUICK, a_new_take, a_studio

WAV = b"RIFF\x00\x00\x00\x00WAVEfmt " + bytes(60)
HOUR = timedelta(hours=1)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Give the folder of a studio with a student in it, closed."""
    with a_studio(tmp_path) as studio:
        studio.students.add("Ida Quill", notes="Grips hard. " * 2000)
    return tmp_path / "studio"


def fill_disk(studio: Studio) -> None:
    """Let SQLite find no room for another page, as on a full disk."""
    with studio.data.database.reading() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count = 1")


@pytest.mark.parametrize(
    "garbled",
    [b"not a database at all " * 500, b"SQLite format 3\x00" + b"\xff" * 4096, bytes(8192)],
    ids=["text", "header alone", "zeroes"],
)
def test_a_garbled_database_gets_one_line_with_advice(data: Path, garbled: bytes) -> None:
    (data / DATABASE).write_bytes(garbled)
    with pytest.raises(StudioDamaged, match=r"damaged .*evenhand restore BACKUP.*check .*--repair") as error:
        Studio.open(data)
    assert "\n" not in str(error.value)


def test_a_database_that_is_cut_short_is_said(data: Path) -> None:
    """Half of it came when the folder was copied."""
    whole = (data / DATABASE).read_bytes()
    (data / DATABASE).write_bytes(whole[: len(whole) // 2])
    with pytest.raises(StudioDamaged):
        _checked(data)


def test_an_empty_database_is_a_lost_one(data: Path) -> None:
    """What a full disk leaves of a file that was being copied."""
    with Studio.open(data) as studio:
        studio.takes.receive(a_new_take(studio.students.all()[0].id), WAV)
    (data / DATABASE).write_bytes(b"")
    with pytest.raises(StudioLost, match="1 recording lies here"):
        Studio.open(data)


def _checked(data: Path) -> None:
    with Studio.open(data) as studio:
        check_studio(studio)


def test_a_database_garbled_in_its_middle_is_found_by_the_check(data: Path) -> None:
    whole = (data / DATABASE).read_bytes()
    (data / DATABASE).write_bytes(whole[:-8192] + b"\xa5" * 8192)
    with Studio.open(data) as studio, pytest.raises(StudioDamaged):
        check_studio(studio)


def test_a_full_disk_is_said_and_what_was_there_stays(data: Path) -> None:
    with Studio.open(data, hasher=QUICK) as studio:
        ida = studio.students.all()[0]
        fill_disk(studio)
        with pytest.raises(DiskFull, match="no room on the disk"):
            studio.takes.receive(a_new_take(ida.id, facts={"long": "x" * 100_000}), WAV)
        assert studio.students.all() == [ida]
        assert list(studio.data.recordings.kept_keys()) == []
        assert list((data / "labels" / ida.id).glob("take-*")) == []


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES])
def test_what_the_disk_says_of_a_recording_is_said_in_our_words(
    data: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    def refused(_handle: int) -> None:
        raise OSError(code, os.strerror(code))

    with Studio.open(data) as studio:
        ida = studio.students.all()[0]
        monkeypatch.setattr(os, "fsync", refused)
        with pytest.raises(DiskFull if code in {errno.ENOSPC, errno.EDQUOT} else ReadOnly) as error:
            studio.takes.receive(a_new_take(ida.id), WAV)
        assert error.value.exit_code == 3
        assert studio.takes.all() == []


def test_a_database_that_takes_no_writing_is_said(data: Path) -> None:
    with Studio.open(data) as studio:
        with studio.data.database.reading() as connection:
            connection.exec_driver_sql("PRAGMA query_only = ON")
        with pytest.raises(ReadOnly, match="nothing can be written here"):
            studio.students.add("Una Marsh")
        assert [each.name for each in studio.students.all()] == ["Ida Quill"]


@pytest.mark.parametrize(
    ("code", "kind"),
    [
        (sqlite3.SQLITE_FULL, DiskFull),
        (sqlite3.SQLITE_READONLY_DIRECTORY, ReadOnly),
        (sqlite3.SQLITE_CANTOPEN, ReadOnly),
        (sqlite3.SQLITE_CORRUPT_VTAB, StudioDamaged),
        (sqlite3.SQLITE_NOTADB, StudioDamaged),
        (sqlite3.SQLITE_BUSY, type(None)),
        (sqlite3.SQLITE_CONSTRAINT_UNIQUE, type(None)),
    ],
)
def test_sqlites_codes_are_read(tmp_path: Path, code: int, kind: type[CannotKeep]) -> None:
    """By its documentation of result codes."""
    error = sqlite3.OperationalError("so it says")
    error.sqlite_errorcode = code
    assert isinstance(trouble_of(error, str(tmp_path)), kind)


def test_a_folder_that_others_could_read_is_closed(tmp_path: Path) -> None:
    """An empty one that existed is made its owner's own; so is a studio's that was opened to others since."""
    data = tmp_path / "studio"
    data.mkdir(mode=0o755)
    data.chmod(0o755)
    Studio.create(data, name="Larkfield", password="rim and shoulder", hasher=QUICK).close()  # noqa: S106 - invented
    assert data.stat().st_mode & 0o777 == 0o700
    data.chmod(0o755)
    Studio.open(data).close()
    assert data.stat().st_mode & 0o777 == 0o700


def test_a_folder_with_other_things_is_not_closed_but_refused(tmp_path: Path) -> None:
    """Others may need those."""
    data = tmp_path / "shared"
    data.mkdir()
    data.chmod(0o755)
    (data / "timetable.txt").write_text("for all")
    with pytest.raises(WrongOptions, match=r"others can read, with 'timetable.txt' in it"):
        Studio.create(data, name="Larkfield", password="rim and shoulder", hasher=QUICK)  # noqa: S106 - invented
    assert data.stat().st_mode & 0o777 == 0o755
    assert [each.name for each in data.iterdir()] == ["timetable.txt"]


def test_a_claim_made_by_a_clock_that_ran_ahead_does_not_stay(place: Place) -> None:
    """The worker died; by its claim it lives until next month."""
    studio = place.create()
    ida = studio.students.add("Ida Quill")
    take, _ = studio.takes.receive(a_new_take(ida.id), WAV)
    place.clock.move(days=30)
    assert studio.queue.claim("ahead") is not None
    place.clock.move(days=-30)
    again = studio.queue.claim("on time")
    assert again is not None
    assert again.id == take.id
    assert studio.queue.claim("third") is None
    place.clock.move(seconds=59)
    assert studio.queue.claim("third") is None


def test_a_database_that_takes_no_change_is_noticed_before_a_take_comes(place: Place) -> None:
    studio = place.create()
    assert studio.data.lacks() == []
    with studio.data.database.reading() as connection:
        only_read = "PRAGMA query_only = ON" if place.is_sqlite else "SET default_transaction_read_only = on"
        connection.exec_driver_sql(only_read)
    assert studio.data.lacks() == ["database"]
