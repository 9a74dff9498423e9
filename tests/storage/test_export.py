"""A studio goes into a file and comes out of it equal."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import stat
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Table

from evenhand.errors import BadExport, CannotWrite, DiskFull, NotFound, StudioMissing, StudioThere
from evenhand.studio.safekeeping import export as exporting
from evenhand.studio.safekeeping.export import export_studio, import_studio
from evenhand.studio.store.labels import to_json
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import book_changes, takes
from evenhand.studio.values import Said
from tests.full_studio import STAYS_BEHIND, everything, fill, recordings_of, without_sessions
from tests.places import Place, empty
from tests.postgres import Server
from tests.studios import NOON, PASSWORD, QUICK, a_new_take, a_studio

NOT_YET = {
    "data/links.json": {"opens"},
    "data/takes.json": {"listened_at"},
    "data/studio.json": {"keep_videos", "path", "lesson_minutes", "feed_made_at", "feed_sha256"},
}


@pytest.fixture
def export(tmp_path: Path, studio: Studio) -> Path:
    """Give the export of a full studio."""
    fill(studio)
    export_studio(studio, tmp_path / "studio.zip")
    return tmp_path / "studio.zip"


def imported(place: Place, export: Path) -> Studio:
    """Import to a new place of the same kind; a Postgres is emptied, as another server would be."""
    if place.url is not None:
        place.opened.pop().close()
        empty(place.url)
    there = place.folder / "there"
    found = import_studio(export, there, backing=place.backing, now=place.clock, hasher=QUICK)
    place.opened.append(found)
    return found


def test_a_studio_comes_out_as_it_went_in(place: Place, tmp_path: Path) -> None:
    """Every row but what is of the old place (sessions, devices, what is made anew), every recording."""
    studio = place.create()
    secret = fill(studio)
    rows, recordings = everything(studio), recordings_of(studio)
    assert all(rows.values())
    assert len(recordings) == 4
    export_studio(studio, tmp_path / "studio.zip")
    again = imported(place, tmp_path / "studio.zip")
    assert without_sessions(everything(again)) == without_sessions(rows)
    assert [everything(again)[name] for name in STAYS_BEHIND] == [[], [], []]
    assert recordings_of(again) == recordings
    assert again.access.check_password(PASSWORD)
    student = again.access.student_of_link(secret)
    assert student is not None
    assert student.name == "Ida Quill"


def test_an_export_of_one_kind_of_database_is_read_by_the_other(place: Place, tmp_path: Path) -> None:
    studio = place.create()
    fill(studio)
    export_studio(studio, tmp_path / "studio.zip")
    rows = without_sessions(everything(studio))
    with import_studio(tmp_path / "studio.zip", tmp_path / "in sqlite") as again:
        assert without_sessions(everything(again)) == rows


def test_a_take_in_a_workers_hands_waits_in_the_new_place(place: Place, tmp_path: Path) -> None:
    studio = place.create()
    studio.takes.receive(a_new_take(studio.students.add("Ida Quill").id), b"sound")
    claimed = studio.queue.claim("worker")
    assert claimed is not None
    studio.queue.still_hearing(claimed.id, "worker", 0.5)
    export_studio(studio, tmp_path / "studio.zip")
    again = imported(place, tmp_path / "studio.zip")
    (take,) = again.takes.all()
    assert (take.status, take.progress) == ("waiting", 0.0)
    assert again.queue.claim("another") is not None


def test_an_export_from_before_some_tables_is_read(place: Place, export: Path, tmp_path: Path) -> None:
    """As an older Evenhand wrote it: without the tables, their names in the manifest, and fields."""
    older = tmp_path / "older.zip"
    with zipfile.ZipFile(export) as archive, zipfile.ZipFile(older, "w") as out:
        manifest = json.loads(archive.read("manifest.json"))
        for table in ("drafts", "lesson_changes", "holidays", "book_changes", "said"):
            del manifest["members"][f"data/{table}.json"]
        for name, listed in manifest["members"].items():
            data = archive.read(name)
            if name in NOT_YET:
                rows = [{k: v for k, v in row.items() if k not in NOT_YET[name]} for row in json.loads(data)]
                if name == "data/takes.json":
                    rows = [{**row, "words": "Softer."} for row in rows]  # which are the thread's first now
                data = json.dumps(rows).encode()
                listed |= {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
            out.writestr(name, data)
        out.writestr("manifest.json", json.dumps(manifest))
    again = imported(place, older)
    (ida,) = again.students.all()
    assert (again.weeks.drafts(ida.id), again.lessons.changes(), again.lessons.holidays()) == ([], [], [])
    assert again.book.last_change() is None
    assert {link.opens for link in again.access.links(ida.id)} == {"stand"}
    assert len(again.takes.all()) == 3
    (said, _) = again.threads.of_student(ida.id)
    assert (said.who, said.text, said.unclear, said.take_id) == ("teacher", "Softer.", False, said.id)


def test_the_book_s_last_changes_go_along_and_what_is_not_ours_undoes_nothing(
    place: Place, export: Path
) -> None:
    again = imported(place, export)
    last = again.book.last_change()
    assert last is not None
    assert last.about == "1/16: RRLL"
    again.book.undo(last.id)
    assert [entry.title for entry in again.book.all()] == ["Eights"]
    for wrong in ("", "[]", '{"rows": [{"id": 3}], "new": []}', '{"rows": [], "new": [{}]}'):
        again.data.execute(book_changes.update().values(before=wrong))
        earlier = again.book.last_change()
        assert earlier is not None
        with pytest.raises(NotFound):
            again.book.undo(earlier.id)
    assert len(again.book.all()) == 1


def test_what_comes_while_the_rows_are_read_is_in_none_of_them(
    place: Place, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Were it in one table and not in another, the export could not be read."""
    studio = place.create()
    student = studio.students.add("Ida Quill")
    there, _ = studio.takes.receive(a_new_take(student.id), b"fLaC" + bytes(60))

    def slowly(row: Mapping[str, Any], table: Table) -> dict[str, Any]:
        if table is takes:  # they have been read, and what was said has not
            late, _ = studio.takes.receive(a_new_take(student.id, "late"), b"fLaC" + bytes(61))
            studio.threads.say(Said("w", student.id, "teacher", NOON, late.id, text="Let it bounce."))
        return to_json(row, table)

    monkeypatch.setattr(exporting, "to_json", slowly)
    export_studio(studio, tmp_path / "studio.zip")
    again = imported(place, tmp_path / "studio.zip")
    assert (again.takes.all(), again.threads.of_student(student.id)) == ([there], [])


def test_the_manifest_holds_the_hash_of_every_member(export: Path) -> None:
    with zipfile.ZipFile(export) as archive:
        manifest = json.loads(archive.read("manifest.json"))
        found = {
            name: {"sha256": hashlib.sha256(archive.read(name)).hexdigest(), "bytes": len(archive.read(name))}
            for name in archive.namelist()
            if name != "manifest.json"
        }
    assert manifest["schema"] == "urn:evenhand:studio-1"
    assert manifest["members"] == found
    assert manifest["missing"] == []


def test_the_tables_are_for_people(export: Path) -> None:
    """A name that a spreadsheet would take for a formula is told apart by an apostrophe."""
    with zipfile.ZipFile(export) as archive:
        students = list(csv.DictReader(io.StringIO(archive.read("tables/students.csv").decode())))
        takes = list(csv.DictReader(io.StringIO(archive.read("tables/takes.csv").decode())))
    assert {student["name"] for student in students} == {"Ida Quill", '\'=Una, "the" Marsh\n♪'}
    assert {take["student"] for take in takes} == {"Ida Quill", '\'=Una, "the" Marsh\n♪'}
    assert {take["status"] for take in takes} == {"heard", "failed", "waiting"}


def test_an_export_is_for_its_owners_eyes_and_tells_how_far_it_is(studio: Studio, tmp_path: Path) -> None:
    fill(studio)
    told: list[float] = []
    export_studio(studio, tmp_path / "studio.zip", progress=told.append)
    assert told == [1 / 4, 2 / 4, 3 / 4, 1.0]
    assert stat.S_IMODE((tmp_path / "studio.zip").stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir() if path.name != "studio"] == ["studio.zip"]


def test_an_export_that_cannot_be_written_leaves_nothing(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    fill(studio)
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DiskFull, match="no room on the disk"):
        export_studio(studio, tmp_path / "studio.zip")
    assert [path.name for path in tmp_path.iterdir() if path.name != "studio"] == []


@pytest.mark.parametrize("harm", ["gone", "changed"])
def test_a_recording_that_was_lost_on_the_disk_does_not_hold_up_the_rest(
    place: Place, tmp_path: Path, harm: str
) -> None:
    studio = place.create()
    fill(studio)
    lost = studio.takes.recording(studio.takes.all()[0])
    if harm == "gone":
        lost.unlink()
    else:
        lost.write_bytes(b"rot")
    export_studio(studio, tmp_path / "studio.zip")
    rows = without_sessions(everything(studio))
    again = imported(place, tmp_path / "studio.zip")
    assert without_sessions(everything(again)) == rows
    assert len(recordings_of(again)) == 3


def test_a_studio_is_not_written_over(place: Place, export: Path) -> None:
    before = everything(place.opened[0])
    new_folder = place.folder / "there"
    with pytest.raises(StudioThere):
        import_studio(export, new_folder if place.url else place.data, backing=place.backing)
    assert not new_folder.exists()
    assert everything(place.opened[0]) == before


def test_a_folder_with_something_in_it_is_no_place(export: Path, tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "letter.txt").touch()
    for data in (tmp_path / "letters", tmp_path / "letters" / "letter.txt"):
        with pytest.raises(CannotWrite, match="it is not an empty folder"):
            import_studio(export, data)
    assert [path.name for path in (tmp_path / "letters").iterdir()] == ["letter.txt"]


def test_an_empty_folder_and_one_that_is_not_there_yet_are_places(export: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    for data in (tmp_path / "empty", tmp_path / "not" / "yet" / "there"):
        with import_studio(export, data) as found:
            assert len(found.takes.all()) == 3
        assert stat.S_IMODE(data.stat().st_mode) == 0o700


def test_an_export_of_sqlite_is_read_into_postgres_or_leaves_it_empty(
    postgres: Server, tmp_path: Path
) -> None:
    url = postgres.url.render_as_string(hide_password=False)
    empty(url)
    with a_studio(tmp_path) as studio:
        fill(studio)
        export_studio(studio, tmp_path / "studio.zip")
        rows = without_sessions(everything(studio))
    whole = (tmp_path / "studio.zip").read_bytes()
    with zipfile.ZipFile(tmp_path / "studio.zip") as archive:
        harmed_at = archive.getinfo("data/book.json").header_offset + 60  # the last table that is read
    harmed = bytearray(whole)
    harmed[harmed_at] ^= 1
    (tmp_path / "harmed.zip").write_bytes(harmed)
    with pytest.raises(BadExport):
        import_studio(tmp_path / "harmed.zip", tmp_path / "there", backing=Backing(url))
    with pytest.raises(StudioMissing):
        Studio.open(tmp_path / "there", backing=Backing(url))
    with import_studio(tmp_path / "studio.zip", tmp_path / "there", backing=Backing(url)) as again:
        assert without_sessions(everything(again)) == rows
