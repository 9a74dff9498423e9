"""All of a student: the takes in pages, and everything as one archive that comes while it is made."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from evenhand.acts.takes.history import read_table
from evenhand.studio.archive import student_archive
from evenhand.studio.values import Holiday, LessonChange
from tests.desks import ADesk, a_desk, a_heard_take, heard_json
from tests.studios import NOON, a_new_take


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def test_all_takes_come_in_pages(desk: ADesk) -> None:
    """A hundred a page, so that a student with 2,000 is shown as quickly as one with 100."""
    student = desk.studio.students.add("Nora Veldt")
    ids = [
        desk.studio.takes.receive(
            a_new_take(student.id, f"key-{k}", recorded_at=NOON - timedelta(minutes=k)), b"fLaC" + bytes([k])
        )[0].id
        for k in range(205)
    ]
    shown, address = list[str](), f"/students/{student.id}?all"
    for count in (100, 100, 5):
        text = desk.get(address).text
        found = re.findall(r'<a href="/takes/(\w+)"', text)
        assert len(found) == count
        shown += found
        older = re.search(r'href="(\?all=\d+)#takes">Older takes', text)
        address = f"/students/{student.id}{older[1]}" if older else ""
    assert (shown, address) == (ids, "")
    assert 'href="?all=1#takes">Newer takes' in desk.get(f"/students/{student.id}?all=2").text
    for odd in ("9" * 5000, "-1", "x", "0", "\N{ARABIC-INDIC DIGIT TWO}"):
        assert desk.get(f"/students/{student.id}?all={odd}").status_code == 200


def test_all_of_a_student_comes_as_one_archive(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt", notes="Left-handed at the table.")
    take = a_heard_take(desk.studio, student.id, datetime(2026, 3, 2, 12, 0, tzinfo=UTC), stroke="tap")
    desk.studio.access.make_link(student.id, lasts=timedelta(days=1))
    desk.studio.lessons.change(LessonChange("", student.id, NOON.date(), why="a concert"))
    for whose in (student.id, desk.studio.students.add("Ida Quill").id):
        desk.studio.lessons.add_holiday(Holiday("", NOON.date(), NOON.date(), whose, "a journey"))
    answer = desk.get(f"/students/{student.id}/export")
    assert answer.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        names = archive.namelist()
        facts = json.loads(archive.read("student.json"))
        table = archive.read("takes.csv").decode()
        recording = next(name for name in names if name.startswith("recordings/"))
        assert archive.read(recording) == desk.studio.takes.recording(take).read_bytes()
    assert facts["student"]["notes"] == "Left-handed at the table."
    assert "secret" not in json.dumps(facts)
    assert [each["why"] for each in facts["lesson_changes"]] == ["a concert"]
    assert [each["student_id"] for each in facts["holidays"]] == [student.id]
    (row,) = list(csv.DictReader(io.StringIO(table)))
    assert row["file"] in names
    assert row["stroke"] == "tap"
    (read,) = read_table(table, name="takes.csv", folder=Path())
    assert read.request.exercise_text == take.exercise


def test_what_is_missing_costs_a_download_nothing_else(desk: ADesk) -> None:
    """One recording gone made it a 404; it comes with all the rest, and says what is not in it."""
    student = desk.studio.students.add("Nora Veldt")
    whole, gone, zeroed = (
        a_heard_take(desk.studio, student.id, datetime(2026, 3, day, 12, 0, tzinfo=UTC)) for day in (2, 3, 4)
    )
    desk.studio.takes.recording(whole).write_bytes(desk.studio.takes.recording(whole).read_bytes())
    for number, take in enumerate((gone, zeroed)):  # each its own bytes
        desk.studio.takes.change(take.id, status="waiting")
        flac = b"fLaC" + bytes([number]) * 3_000_000
        assert desk.studio.queue.took_heard(take.id, heard_json(), 20.0, flac=flac)
    gone, zeroed = (desk.studio.takes.find(each.id) or each for each in (gone, zeroed))
    desk.studio.takes.recording(gone).unlink()
    desk.studio.takes.recording(zeroed).write_bytes(bytes(3_000_004))
    answer = desk.get(f"/students/{student.id}/export")
    assert answer.status_code == 200
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        missing = archive.read("missing.txt").decode()
    assert len([name for name in names if name.startswith("heard/")]) == 3
    assert len([name for name in names if name.startswith("recordings/")]) == 2
    lines = missing.splitlines()[2:]
    assert [line.partition(", ")[0][-8:] for line in lines] == [zeroed.id[:8], gone.id[:8]]
    assert "damaged" in lines[0]
    assert "missing" in lines[1]


def test_a_download_comes_while_it_is_made(desk: ADesk) -> None:
    """In pieces, none of them kept: the first is there before the last recording is read."""
    student = desk.studio.students.add("Nora Veldt")
    for k in range(3):
        desk.studio.takes.receive(
            a_new_take(student.id, f"key-{k}", recorded_at=NOON - timedelta(days=k)),
            b"fLaC" + bytes([k]) * 2_000_000,
        )
    takes = desk.studio.takes.all(student.id)
    pieces = student_archive(desk.studio, student, NOON)
    first = next(pieces)
    desk.studio.takes.recording(takes[-1]).unlink()
    came = io.BytesIO(b"".join([first, *pieces]))
    with zipfile.ZipFile(came) as archive:
        assert archive.testzip() is None
        assert f"{takes[-1].id[:8]}" in archive.read("missing.txt").decode()
        sound = next(name for name in archive.namelist() if takes[0].id[:8] in name)
        assert archive.read(sound) == desk.studio.takes.recording(takes[0]).read_bytes()
