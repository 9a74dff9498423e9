"""A bad day: the database is gone, old, or has lost its log. No recording goes with it."""

from __future__ import annotations

import os
import shutil
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import delete, text

from evenhand.errors import StudioLost, StudioMissing
from evenhand.studio.safekeeping.check import FOUND_AGAIN, check_studio, repair_studio
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.layout import DATABASE
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import students, takes
from evenhand.studio.values import StudioTake
from tests.places import Place, everywhere, spoil
from tests.studios import NOON, a_new_take

WAV = b"RIFF\x00\x00\x00\x00WAVEfmt " + bytes(60)
FLAC = b"fLaC" + bytes(60)


def sound(number: int) -> bytes:
    return WAV + number.to_bytes(4, "big")


def some_takes(studio: Studio, n: int = 5) -> list[StudioTake]:
    """Let takes of two students come in, written at noon."""
    students = [
        studio.students.add(name, minor=True, consent_by="R. Quill") for name in ("Ida Quill", "Una Marsh")
    ]
    those = [
        studio.takes.receive(
            a_new_take(students[k % 2].id, f"key-{k}", stroke="tap", facts={"rate": "48000"}), sound(k)
        )[0]
        for k in range(n)
    ]
    for take in those:
        if studio.data.recordings.is_here:
            os.utime(studio.takes.recording(take), (NOON.timestamp(),) * 2)
    return those


def kept(studio: Studio) -> set[str]:
    return set(studio.data.recordings.kept_keys())


def aside(studio: Studio) -> set[str]:
    return set(studio.data.recordings.aside.keys())


def all_keys(those: list[StudioTake]) -> set[str]:
    return {take.recording or "" for take in those}


def lose_rows(studio: Studio, *, every: bool = True) -> None:
    """Lose rows as an older copy of the database would, without a word to the files."""
    with studio.data.database.writing() as connection:
        connection.execute(delete(takes))
        if every:
            connection.execute(delete(students))


@pytest.fixture
def without_database(place: Place) -> tuple[Place, list[StudioTake]]:
    """Give a place whose database is gone, and the takes that were in it."""
    studio = place.create()
    those = some_takes(studio)
    if place.is_sqlite:
        studio.close()
        for file in place.data.glob(f"{DATABASE}*"):
            file.unlink()
    else:
        with studio.data.database.writing() as connection:
            connection.execute(text("DROP SCHEMA public CASCADE"))
            connection.execute(text("CREATE SCHEMA public"))
        studio.close()
    return place, those


def test_where_recordings_lie_no_new_studio_is_made(
    without_database: tuple[Place, list[StudioTake]],
) -> None:
    """Else the next sweep finds recordings that nobody names; 400 of 400 went in three seconds."""
    place, those = without_database
    before = sorted((place.data / "recordings").rglob("*.wav"))
    with pytest.raises(StudioLost, match=r"5 recordings lie here.*restore.*check .*--repair"):
        place.open()
    with pytest.raises(StudioLost):
        Studio.create(place.data, name="New", password="rim and shoulder", backing=place.backing)  # noqa: S106 - invented
    assert sorted((place.data / "recordings").rglob("*.wav")) == before
    assert len(before) == len(those)


def test_an_empty_folder_of_recordings_is_no_lost_studio(place: Place) -> None:
    (place.data / "recordings" / "unfinished").mkdir(parents=True)
    with pytest.raises(StudioMissing):
        place.open()


@everywhere
def test_a_studio_is_made_again_of_its_recordings(
    without_database: tuple[Place, list[StudioTake]],
) -> None:
    """All takes with all that was known of them but what was heard, and the students with their consent."""
    place, those = without_database
    studio = place.create(of_recordings=True)
    done = repair_studio(studio)
    assert (done.found, done.nobodys, done.mended) == (5, 0, 0)
    again = {take.id: take for take in studio.takes.all()}
    assert set(again) == {take.id for take in those}
    for take in those:
        found = again[take.id]
        assert (found.exercise, found.tempo, found.recorded_at, found.stroke, found.upload_key) == (
            take.exercise,
            take.tempo,
            take.recorded_at,
            take.stroke,
            take.upload_key,
        )
        assert (found.status, found.recording, found.student_id) == (
            "waiting",
            take.recording,
            take.student_id,
        )
        assert found.facts == {"rate": "48000", "found_again": "2026-03-02"}
        assert studio.takes.receive(a_new_take(take.student_id, take.upload_key), WAV) == (found, False)
    assert {(each.name, each.consent_by) for each in studio.students.all()} == {
        ("Ida Quill", "R. Quill"),
        ("Una Marsh", "R. Quill"),
    }
    assert check_studio(studio).is_well
    assert repair_studio(studio).found == 0


def test_recordings_without_label_are_found_again_where_the_teacher_sees_them(
    without_database: tuple[Place, list[StudioTake]],
) -> None:
    place, those = without_database
    shutil.rmtree(place.data / "labels")
    os.utime(place.data / "recordings" / (those[0].recording or ""), (NOON.timestamp(),) * 2)
    studio = place.create(of_recordings=True)
    assert repair_studio(studio).nobodys == 5
    (nobody,) = studio.students.all()
    assert nobody.name == FOUND_AGAIN
    found = {take.recording: take for take in studio.takes.all(nobody.id)}
    assert set(found) == all_keys(those)
    assert found[those[0].recording].recorded_at == NOON
    assert repair_studio(studio).nobodys == 0


def test_an_older_database_costs_no_recording(place: Place) -> None:
    """A copy of last week's is put back: the newest takes are set aside, listed, and found again."""
    studio = place.create()
    those = some_takes(studio)
    lose_rows(studio, every=False)
    again = place.open()
    assert again.data.sweep() == 5
    assert (kept(again), aside(again)) == (set(), all_keys(those))
    ((folder, n, until),) = check_studio(again).aside
    assert (folder.name, n, until) == ("2026-03-02", 5, date(2026, 4, 1))
    assert set(check_studio(again).left) == all_keys(those)
    assert repair_studio(again).found == 5
    assert (kept(again), aside(again)) == (all_keys(those), set())
    assert check_studio(again).is_well


@everywhere
def test_an_older_database_that_names_what_became_a_flac_is_mended(place: Place) -> None:
    """In the older copy the take still waits; its WAV became a FLAC since, and its label knows it."""
    studio = place.create()
    take = some_takes(studio, 1)[0]
    with studio.data.database.reading() as connection:
        row = dict(connection.execute(takes.select()).mappings().one())
    studio.queue.took_heard(take.id, '{"hits": []}', 1.0, flac=FLAC)
    with studio.data.database.writing() as connection:
        connection.execute(takes.update().values(**row))
    (lacking,) = check_studio(studio).unsound
    assert (lacking.take.id, lacking.damaged) == (take.id, False)
    assert repair_studio(studio).mended == 1
    (found,) = studio.takes.all()
    assert studio.takes.recording(found).read_bytes() == FLAC
    assert check_studio(studio).is_well


def test_a_lost_log_costs_no_recording(tmp_path: Path) -> None:
    """SQLite's write-ahead log is left behind when the folder is copied by hand: 29 went to 10."""
    place = Place(tmp_path, None)
    studio = place.create()
    some_takes(studio, 2)
    with studio.data.database.reading() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    main = (place.data / DATABASE).read_bytes()
    late = studio.takes.receive(a_new_take(studio.students.all()[0].id, "late"), sound(9))[0]
    before = kept(studio)
    copy = tmp_path / "copy" / "studio"
    shutil.copytree(place.data, copy)
    (copy / DATABASE).write_bytes(main)
    for log in copy.glob(f"{DATABASE}-*"):
        log.unlink()
    with Studio.open(copy) as again:
        assert again.takes.find(late.id) is None
        again.data.sweep()
        assert kept(again) | aside(again) == before
        assert repair_studio(again).found == 1
        assert again.takes.find(late.id) is not None
        assert kept(again) == before


def test_what_was_set_aside_comes_back_with_the_rows_that_name_it(place: Place) -> None:
    """The right database is put back after a start with the wrong one."""
    studio = place.create()
    those = some_takes(studio)
    with studio.data.database.reading() as connection:
        rows = [dict(row) for row in connection.execute(takes.select()).mappings()]
    lose_rows(studio, every=False)
    studio.data.sweep()
    with studio.data.database.writing() as connection:
        connection.execute(takes.insert(), rows)
    studio.data.sweep()
    assert (kept(studio), aside(studio)) == (all_keys(those), set())


def test_what_was_set_aside_is_kept_for_a_month_and_then_goes(place: Place) -> None:
    """By the calendar: 2 March and 30 days are 1 April, which is its last day."""
    studio = place.create()
    some_takes(studio)
    lose_rows(studio)
    studio.data.sweep()
    place.clock.at = NOON + timedelta(days=30)
    for _ in range(2):
        studio.data.sweep()
        assert len(aside(studio)) == 5
        place.clock.move(days=1)
    studio.data.sweep()
    assert aside(studio) == set()


def test_a_clock_that_ran_ahead_for_an_evening_costs_nothing(place: Place) -> None:
    studio = place.create()
    some_takes(studio)
    lose_rows(studio)
    studio.data.sweep()
    place.clock.at = NOON + timedelta(days=400)
    studio.data.sweep()
    studio.data.sweep()
    place.clock.at = NOON + timedelta(days=2)
    studio.data.sweep()
    place.clock.at = NOON + timedelta(days=31)
    studio.data.sweep()
    assert len(aside(studio)) == 5


@everywhere
def test_who_is_erased_has_nothing_set_aside_either(place: Place) -> None:
    studio = place.create()
    those = some_takes(studio)
    lose_rows(studio, every=False)
    studio.data.sweep()
    ida = those[0].student_id
    studio.students.erase(ida)
    assert aside(studio) == all_keys([take for take in those if take.student_id != ida])
    assert not (place.data / "labels" / ida).exists()
    left = b"".join(file.read_bytes() for file in place.data.rglob("*") if file.is_file())
    assert b"Una Marsh" in left
    assert not place.is_sqlite or b"Ida Quill" not in left
    assert repair_studio(studio).found == 2
    assert {take.student_id for take in studio.takes.all()} == {those[1].student_id}


@everywhere
def test_a_deleted_take_is_not_found_again(place: Place) -> None:
    studio = place.create()
    those = some_takes(studio)
    studio.takes.delete(those[0].id)
    studio.data.sweep()
    assert repair_studio(studio).found == 0
    assert (kept(studio), aside(studio)) == (all_keys(those[1:]), set())


def test_a_deletion_that_broke_off_is_finished(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    studio = place.create()
    those = some_takes(studio)

    def cut(*_args: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(StudioData, "drop_unnamed", cut)
        with pytest.raises(KeyboardInterrupt):
            studio.takes.delete(those[0].id)
    again = place.open()
    again.data.sweep()
    assert (kept(again), aside(again)) == (all_keys(those[1:]), set())
    assert repair_studio(again).found == 0


@everywhere
def test_a_recording_that_changed_on_the_disk_is_named(place: Place) -> None:
    studio = place.create()
    those = some_takes(studio)
    spoil(studio, those[0].recording, bytes(100))
    spoil(studio, those[1].recording)
    found = {each.take.id: each.damaged for each in check_studio(studio).unsound}
    assert found == {those[0].id: True, those[1].id: False}
    assert repair_studio(studio).mended == 0
    assert len(studio.takes.all()) == 5


def test_a_label_that_leads_out_of_its_folder_leads_nowhere(place: Place) -> None:
    """An imported row may call itself anything."""
    studio = place.create()
    take = some_takes(studio, 1)[0]
    evil = f"../../{'x' * 300}"
    with studio.data.database.writing() as connection:
        connection.execute(takes.update().values(id=evil))
    studio.data.sweep()
    assert {path.parent.name for path in place.data.rglob("take-*.json")} == {take.student_id}
    assert not list(place.folder.glob("x*"))


def test_a_clock_that_lost_its_day_keeps_nothing_shorter(place: Place) -> None:
    """A machine without a battery starts in 1970; the next day its clock is right again."""
    studio = place.create()
    some_takes(studio)
    lose_rows(studio)
    place.clock.at = datetime(1970, 1, 1, tzinfo=UTC)
    studio.data.sweep()
    for day in range(28):
        place.clock.at = NOON + timedelta(days=1 + day)
        studio.data.sweep()
    assert len(aside(studio)) == 5


def test_a_label_does_not_come_back_after_its_student_was_erased(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A worker has just stored the FLAC, with its label, when the student is erased."""
    studio = place.create()
    take = some_takes(studio, 1)[0]
    store = studio.takes.store_flac

    def late(of: StudioTake, flac: bytes) -> str:
        studio.students.erase(of.student_id)
        return store(of, flac)

    monkeypatch.setattr(studio.takes, "store_flac", late)
    assert not studio.queue.took_heard(take.id, '{"hits": []}', 1.0, flac=FLAC)
    assert not (place.data / "labels" / take.student_id).exists()
    assert (kept(studio), aside(studio)) == (set(), set())
    assert not studio.queue.took_heard(take.id, '{"hits": []}', 1.0, flac=FLAC)
    assert not (place.data / "labels" / take.student_id).exists()


def test_what_a_file_says_it_was_heard_as_changes_nothing_else(place: Place) -> None:
    """The facts of a take may come from an import: they name no other column."""
    studio = place.create()
    ida, una = studio.students.add("Ida Quill"), studio.students.add("Una Marsh")
    facts = {"was_student_id": una.id, "was_recording": "../x", "was_tempo": "1/4=60"}
    take, _ = studio.takes.receive(a_new_take(ida.id, facts=facts), WAV)
    studio.queue.took_heard(take.id, "{}", 1.0)
    studio.takes.change(take.id, status="waiting", facts=facts)
    assert studio.queue.took_failed(take.id, "no")
    (found,) = studio.takes.all()
    assert (found.student_id, found.recording, found.tempo) == (ida.id, take.recording, "1/4=60")


def test_sweeping_while_takes_come_and_are_heard_loses_none(place: Place) -> None:
    """Two servers at one folder, say: one sweeps and repairs while the other takes in and hears."""
    studio = place.create()
    ida = studio.students.add("Ida Quill")
    over = threading.Event()

    def sweep() -> None:
        with Studio.open(place.data, backing=place.backing, now=place.clock) as other:
            while not over.is_set():
                other.data.sweep(older_than_s=3600)
                repair_studio(other)

    def come(who: int) -> list[str]:
        came = []
        for k in range(15):
            take, _ = studio.takes.receive(a_new_take(ida.id, f"{who}-{k}"), WAV + bytes([who, k]))
            if k % 3:
                studio.queue.took_heard(take.id, "{}", 1.0, flac=FLAC + bytes([who, k]))
            came.append(take.id)
        return came

    with ThreadPoolExecutor() as pool:
        sweeping = pool.submit(sweep)
        try:
            came = [take_id for each in pool.map(come, range(3)) for take_id in each]
        finally:
            over.set()
        sweeping.result()
    assert {take.id for take in studio.takes.all()} == set(came)
    assert check_studio(studio).unsound == ()
