"""A backup is of one instant, made while the studio runs; it is tried out before it replaces anything."""

from __future__ import annotations

import hashlib
import json
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import zipfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlalchemy import delete

from evenhand.errors import BadExport, EvenhandError, StudioOpen
from evenhand.studio.safekeeping.backup import back_up, restore
from evenhand.studio.safekeeping.check import check_studio, repair_studio, without_take
from evenhand.studio.safekeeping.export import export_studio, import_studio
from evenhand.studio.store.layout import DATABASE, Backing
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import takes
from tests.full_studio import everything, fill, recordings_of
from tests.places import Place, empty, everywhere, spoil
from tests.studios import QUICK, a_new_take, a_studio

MARK = "Zephyrine-Quillfeather"
WAV = b"RIFF\x00\x00\x00\x00WAVEfmt "
ROUNDS = 12
STAYS = {"sessions", "known_devices"}


def rows_of(studio: Studio) -> dict[str, list[dict[str, object]]]:
    return {name: rows for name, rows in everything(studio).items() if name not in STAYS}


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(file.relative_to(folder)): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


@pytest.fixture
def backup(tmp_path: Path) -> Path:
    """Give a backup of a studio with something of everything, whose folder is gone."""
    (tmp_path / "of").mkdir()
    with a_studio(tmp_path / "of") as studio:
        fill(studio)
        back_up(studio, tmp_path / "kept.zip")
    return tmp_path / "kept.zip"


def test_what_is_put_back_is_what_was_backed_up(place: Place, tmp_path: Path) -> None:
    """Every row but the sessions, every recording; to SQLite from either, and to Postgres from itself."""
    studio = place.create()
    secret = fill(studio)
    before, sounds = rows_of(studio), recordings_of(studio)
    done = back_up(studio, tmp_path / "kept.zip")
    assert (done.recordings, done.missing) == (len(sounds), ())
    studio.close()
    if place.url is not None:
        empty(place.url)
    for url in {None, place.url}:
        there = tmp_path / ("there" if url is None else "postgres")
        restore(tmp_path / "kept.zip", there, backing=Backing(url))
        with Studio.open(there, backing=Backing(url), hasher=QUICK, now=place.clock) as again:
            assert (rows_of(again), recordings_of(again)) == (before, sounds)
            assert again.access.student_of_link(secret) is not None
            assert check_studio(again).is_well
        assert there.stat().st_mode & 0o077 == 0
        assert list(there.glob(".*")) == []


def test_a_backup_is_of_one_instant_while_takes_come_and_go(place: Place, tmp_path: Path) -> None:
    """Each take in it has its recording in it, whatever was deleted while it was written."""
    studio = place.create()
    ida = studio.students.add("Ida Quill")
    over = threading.Event()

    def come_and_go(who: int) -> None:
        k = 0
        while not over.is_set():
            k += 1
            content = WAV + bytes([who]) + k.to_bytes(4, "big") + bytes(20_000)
            take, _ = studio.takes.receive(a_new_take(ida.id, f"{who}-{k}"), content)
            if k % 2:
                studio.takes.delete(take.id)

    with ThreadPoolExecutor() as pool:
        busy = [pool.submit(come_and_go, who) for who in range(3)]
        try:
            done = [back_up(studio, tmp_path / f"{n}.zip") for n in range(ROUNDS)]
        finally:
            over.set()
        for each in busy:
            each.result()
    assert [each.missing for each in done] == [()] * ROUNDS
    assert done[-1].recordings > done[0].recordings
    restore(tmp_path / f"{ROUNDS - 1}.zip", tmp_path / "there")
    with Studio.open(tmp_path / "there") as again:
        assert check_studio(again).is_well
        assert len(again.takes.all()) == done[-1].recordings


@everywhere
def test_a_recording_that_is_missing_costs_a_backup_nothing_else(place: Place, tmp_path: Path) -> None:
    studio = place.create()
    fill(studio)
    lost = studio.takes.all()[0]
    spoil(studio, lost.recording)
    assert back_up(studio, tmp_path / "kept.zip").missing == (lost.recording,)
    restore(tmp_path / "kept.zip", tmp_path / "there")
    with Studio.open(tmp_path / "there") as again:
        assert {each.key for each in check_studio(again).unsound} == {lost.recording}


def test_what_is_no_whole_backup_changes_nothing(backup: Path, tmp_path: Path) -> None:
    """Bits turned in thirty places, cut short in five: refused with nothing touched, or read the same."""
    with a_studio(tmp_path) as studio:
        studio.students.add("Una Marsh")
    before, whole = files_of(tmp_path / "studio"), backup.read_bytes()
    some = random.Random(7)  # noqa: S311 - places to harm, the same each time
    harmed = [whole[: len(whole) * part // 6] for part in range(1, 6)]
    for _ in range(30):
        at = some.randrange(len(whole))
        harmed.append(whole[:at] + bytes([whole[at] ^ 0x10]) + whole[at + 1 :])
    refused = 0
    for each in harmed:
        backup.write_bytes(each)
        if _is_refused(backup, tmp_path / "other"):
            refused += 1
            assert not (tmp_path / "other").exists()
            with pytest.raises(BadExport, match="evenhand backup wrote, whole"):
                restore(backup, tmp_path / "studio")
        else:  # one of the zip's own bookkeeping
            with Studio.open(tmp_path / "other") as again:
                assert check_studio(again).is_well
            shutil.rmtree(tmp_path / "other")
    assert refused >= 25
    assert files_of(tmp_path / "studio") == before


def _is_refused(backup: Path, data: Path) -> bool:
    try:
        restore(backup, data)
    except BadExport:
        return True
    return False


def remade(backup: Path, change: str) -> None:
    """Write a backup whose database was changed by an SQL statement, and whose manifest says so rightly."""
    with zipfile.ZipFile(backup) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    place = backup.with_suffix(".sqlite")
    place.write_bytes(members[DATABASE])
    connection = sqlite3.connect(place)
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("PRAGMA writable_schema = ON")
    connection.execute(change)
    connection.commit()
    connection.close()
    members[DATABASE] = place.read_bytes()
    manifest = json.loads(members.pop("manifest.json"))
    said = {"sha256": hashlib.sha256(members[DATABASE]).hexdigest(), "bytes": len(members[DATABASE])}
    manifest["members"][DATABASE] = said
    with zipfile.ZipFile(backup, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)
        archive.writestr("manifest.json", json.dumps(manifest))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("DELETE FROM studio", "holds no studio"),
        (
            "CREATE TRIGGER t AFTER INSERT ON takes BEGIN DELETE FROM students; END",
            "a trigger or a view, 't'",
        ),
        ("UPDATE takes SET recording = '../../etc/passwd'", "is not in it"),
        ("UPDATE takes SET student_id = 'nobody'", "belongs to nobody"),
        ("UPDATE alembic_version SET version_num = '9999'", "newer Evenhand"),
        ("UPDATE sqlite_master SET rootpage = 999 WHERE name = 'takes'", "its database"),
    ],
)
def test_a_backup_whose_database_does_not_hold_is_refused(
    backup: Path, tmp_path: Path, change: str, said: str
) -> None:
    remade(backup, change)
    with pytest.raises(EvenhandError, match=said):
        restore(backup, tmp_path / "there")
    assert not (tmp_path / "there").exists()


def test_an_export_is_no_backup_and_a_backup_no_export(backup: Path, tmp_path: Path) -> None:
    with pytest.raises(BadExport, match="export-studio"):
        import_studio(backup, tmp_path / "there")
    with Studio.open(tmp_path / "of" / "studio") as studio:
        export_studio(studio, tmp_path / "export.zip")
    with pytest.raises(BadExport, match="evenhand backup wrote"):
        restore(tmp_path / "export.zip", tmp_path / "there")


def test_a_studio_that_is_open_is_not_replaced(backup: Path, tmp_path: Path) -> None:
    with a_studio(tmp_path) as studio:
        una = studio.students.add("Una Marsh")
        with pytest.raises(StudioOpen, match="End evenhand serve"):
            restore(backup, tmp_path / "studio")
        assert studio.students.all() == [una]
    restore(backup, tmp_path / "studio")
    with Studio.open(tmp_path / "studio") as studio:
        assert {each.name for each in studio.students.all()} == {"Ida Quill"}


@pytest.mark.parametrize("garbled", [False, True], ids=["whole", "garbled"])
def test_nothing_newer_than_the_backup_is_lost(tmp_path: Path, *, garbled: bool) -> None:
    """The old database is set aside; the newer recordings stay, and a repair makes takes of them again."""
    with a_studio(tmp_path) as studio:
        ida = studio.students.add("Ida Quill")
        old, _ = studio.takes.receive(a_new_take(ida.id, "old"), WAV + b"old")
        back_up(studio, tmp_path / "kept.zip")
        una = studio.students.add("Una Marsh")
        new, _ = studio.takes.receive(a_new_take(una.id, "new"), WAV + b"new")
        studio.takes.recording(old).write_bytes(b"damaged since")
    if garbled:
        (tmp_path / "studio" / DATABASE).write_bytes(b"garbled " * 999)
    before = (tmp_path / "studio" / DATABASE).read_bytes()
    done = restore(tmp_path / "kept.zip", tmp_path / "studio")
    assert done.before is not None
    assert (done.before / DATABASE).read_bytes() == before
    with Studio.open(tmp_path / "studio") as studio:
        assert [take.id for take in studio.takes.all()] == [old.id]
        assert studio.takes.recording(old).read_bytes() == WAV + b"old"
        studio.data.sweep()
        assert without_take(studio) == 1
        assert repair_studio(studio).found == 1
        assert {take.id for take in studio.takes.all()} == {old.id, new.id}
        assert {each.name for each in studio.students.all()} == {"Ida Quill", "Una Marsh"}


def test_who_is_erased_is_erased_from_what_was_set_aside(tmp_path: Path) -> None:
    """From the database that a restore replaced, by its raw bytes; a backup itself keeps them."""
    with a_studio(tmp_path) as studio:
        known = studio.students.add(MARK, notes=f"{MARK} grips hard. " * 200)
        studio.students.add("Tomas Reed")
        studio.takes.receive(a_new_take(known.id, MARK), WAV + MARK.encode())
        studio.log.note("take words", "teacher", about=known.id, thing=f"take {MARK}")
        back_up(studio, tmp_path / "kept.zip")
    restore(tmp_path / "kept.zip", tmp_path / "studio")
    data = tmp_path / "studio"
    assert MARK.encode() in b"".join(files_of(data / "set-aside").values())
    with Studio.open(data, hasher=QUICK) as studio:
        studio.students.erase(known.id)
    left = b"".join(files_of(data).values())
    assert MARK.encode() not in left
    assert known.id.encode() not in left
    assert b"Tomas Reed" in b"".join(files_of(data / "set-aside").values())
    assert MARK.encode() in zipfile.ZipFile(tmp_path / "kept.zip").read(DATABASE)


def test_a_backup_that_was_killed_leaves_nothing(tmp_path: Path) -> None:
    """Its second names of recordings go with the next sweep, or the next erasing."""
    with a_studio(tmp_path) as studio:
        known = studio.students.add(MARK)
        studio.takes.receive(a_new_take(known.id), WAV + MARK.encode())
    script = (
        "import sys, time; from pathlib import Path; from evenhand.studio.store.studio import Studio\n"
        "from evenhand.studio.safekeeping.backup import back_up\n"
        "def wait(_done): print('there', flush=True); time.sleep(60)\n"
        "back_up(Studio.open(Path(sys.argv[1])), Path(sys.argv[2]), progress=wait)"
    )
    data, out = tmp_path / "studio", tmp_path / "kept.zip"
    with subprocess.Popen(
        [sys.executable, "-c", script, str(data), str(out)], stdout=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"there\n"
        process.send_signal(signal.SIGKILL)
    assert list((data / "recordings").glob(".backup.*"))
    assert not out.exists()
    with Studio.open(data, hasher=QUICK) as studio:
        studio.students.erase(known.id)
    assert MARK.encode() not in b"".join(files_of(tmp_path).values())


def test_rows_that_went_come_back(place: Place, tmp_path: Path) -> None:
    """What a backup is for."""
    studio = place.create()
    fill(studio)
    before = rows_of(studio)
    back_up(studio, tmp_path / "kept.zip")
    with studio.data.database.writing() as connection:
        connection.execute(delete(takes))
    studio.close()
    if place.url is not None:
        empty(place.url)
    restore(tmp_path / "kept.zip", place.data, backing=place.backing)
    assert rows_of(place.open()) == before
