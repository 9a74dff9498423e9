"""A studio is made once, opened often, and keeps what it was told."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest

from evenhand.errors import NotFound, StudioMissing, StudioThere, WrongOptions
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Device, LessonChange, StudioFacts, Week
from tests.places import Place
from tests.studios import NOON, PASSWORD, QUICK, a_new_take


def test_a_new_studio_is_empty_and_knows_its_name(studio: Studio) -> None:
    assert studio.facts == StudioFacts("Studio Larkfield", demo=False, created_at=NOON)
    assert (studio.students.all(), studio.takes.all(), studio.book.all()) == ([], [], [])
    assert set(studio.queue.counts().values()) == {0}


def test_a_studio_is_the_same_when_it_is_opened_again(place: Place) -> None:
    ida = place.create(demo=True).students.add("Ida Quill")
    again = place.open()
    assert again.facts.demo
    assert again.students.all() == [ida]


def test_there_is_one_studio_in_a_place(place: Place) -> None:
    ida = place.create().students.add("Ida Quill")
    with pytest.raises(StudioThere, match="a studio here already"):
        place.create()
    assert place.open().students.all() == [ida]


def test_where_there_is_no_studio_none_is_made_by_looking(place: Place) -> None:
    with pytest.raises(StudioMissing, match="there is no studio here"):
        place.open()
    assert not place.data.exists()


def test_the_folder_is_its_owners(tmp_path: Path) -> None:
    place = Place(tmp_path, None)
    place.create().close()
    assert (place.data.stat().st_mode & 0o077, (place.data / "recordings").stat().st_mode & 0o077) == (0, 0)


def test_facts_are_changed_by_name(studio: Studio) -> None:
    changed = studio.change_facts(unit="cm", keep_originals=True)
    assert (changed.unit, changed.keep_originals) == ("cm", True)
    assert studio.facts == changed
    with pytest.raises(TypeError, match="'units' cannot be changed"):
        studio.change_facts(units="cm")
    with pytest.raises(TypeError, match="'created_at' cannot be changed"):
        studio.change_facts(created_at=NOON)


def test_students_are_listed_by_name_and_archived_ones_apart(studio: Studio) -> None:
    for name in ("tomas Reed", "Ida Quill", "Åse Lind"):
        studio.students.add(name)
    gone = studio.students.add("Una Marsh", stage="full", archived=True)
    assert [student.name for student in studio.students.all()] == ["Ida Quill", "tomas Reed", "Åse Lind"]
    assert studio.students.all(archived=True) == [gone]


def test_all_that_is_known_of_a_student_is_kept(studio: Studio) -> None:
    ida = studio.students.add(
        "Ida Quill",
        stage="half",
        minor=True,
        consent_by="Her mother, R. Quill",
        consent_on=date(2026, 2, 1),
        lesson_day=3,
        lesson_time="16:30",
        notes="Grips hard; 木 and ♪ are kept too.",
        minutes_a_day=12.5,
        days_a_week=4,
    )
    assert studio.students.find(ida.id) == ida
    changed = studio.students.change(ida.id, notes="", lesson_day=None)
    assert studio.students.find(ida.id) == changed == replace(ida, notes="", lesson_day=None)


def test_what_a_student_has_not_is_not_changed(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    with pytest.raises(TypeError, match="'age' cannot be changed"):
        studio.students.change(ida.id, age=9)
    with pytest.raises(TypeError, match="'id' cannot be changed"):
        studio.students.add("Tomas Reed", id="1")
    with pytest.raises(NotFound, match="this student"):
        studio.students.change("nobody", notes="")
    assert studio.students.find("nobody") is None


def test_a_moment_comes_back_in_utc_and_one_without_a_zone_is_refused(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    in_delhi = datetime(2026, 3, 2, 17, 30, 0, 123456, tzinfo=timezone(timedelta(hours=5, minutes=30)))
    take, _ = studio.takes.receive(a_new_take(ida.id, recorded_at=in_delhi), b"sound")
    (found,) = studio.takes.all()
    assert found == take
    assert found.recorded_at.isoformat() == "2026-03-02T12:00:00.123456+00:00"
    naive = in_delhi.replace(tzinfo=None)
    with pytest.raises(Exception, match="got no zone"):
        studio.takes.receive(a_new_take(ida.id, "key-2", recorded_at=naive), b"sound")


def a_week(student_id: str, starts: date, words: str = "") -> Week:
    return Week("", student_id, starts, "rebound", '{"days": 5}', words)


def test_a_week_sent_again_counts_as_newer_and_the_newest_begins_the_list(place: Place) -> None:
    studio = place.create()
    ida = studio.students.add("Ida Quill")
    last, this = (studio.weeks.save(a_week(ida.id, date(2026, month, 2))) for month in (2, 3))
    first = studio.weeks.send(this.id)
    place.clock.move(hours=1)
    again = studio.weeks.send(this.id)
    assert first.sent_at is not None
    assert again.sent_at == first.sent_at + timedelta(hours=1)
    assert [week.id for week in studio.weeks.all(ida.id)] == [this.id, last.id]


def test_a_week_is_changed_in_its_place_and_stays_its_students(studio: Studio) -> None:
    ida, tomas = studio.students.add("Ida Quill"), studio.students.add("Tomas Reed")
    week = studio.weeks.save(a_week(ida.id, date(2026, 3, 2)))
    changed = studio.weeks.save(replace(week, words="Slow is fine."))
    assert studio.weeks.all(ida.id) == [changed]
    with pytest.raises(NotFound):
        studio.weeks.save(replace(week, student_id=tomas.id))
    with pytest.raises(NotFound):
        studio.weeks.save(a_week("nobody", date(2026, 3, 2)))
    with pytest.raises(NotFound):
        studio.weeks.send("none")
    assert studio.weeks.find("none") is None


def test_devices_are_kept_and_stay_their_students(studio: Studio) -> None:
    ida, tomas = studio.students.add("Ida Quill"), studio.students.add("Tomas Reed")
    phone = studio.students.save_device(Device("", ida.id, "phone"))
    measured = studio.students.save_device(replace(phone, latency_ms=41.5, measured_at=NOON))
    chosen = studio.students.save_device(Device("chosen-by-the-device", ida.id, "Laptop"))
    assert studio.students.devices(ida.id) == [chosen, measured]
    with pytest.raises(NotFound):
        studio.students.save_device(replace(phone, student_id=tomas.id))
    with pytest.raises(NotFound):
        studio.students.save_device(Device("", "nobody", "phone"))


def test_the_book_keeps_its_order(studio: Studio) -> None:
    first = studio.book.add("1/8: RLRR LRLL", "Eights", "Rebound")
    second = studio.book.add("1/16: RRLL")
    assert studio.book.all() == [first, second]
    third = studio.book.add("1/8: R~ L~")
    assert [entry.position for entry in studio.book.all()] == [0, 1, 2]
    studio.book.remove(second.id)
    assert studio.book.add("1/8: RL").position == 3
    with pytest.raises(NotFound):
        studio.book.remove(second.id)
    for entry in studio.book.all():
        studio.book.remove(entry.id)
    assert studio.book.all() == []
    assert studio.book.add(third.text).position == 0


def test_a_studio_is_made_where_there_is_nothing_by_the_clock_that_goes(tmp_path: Path) -> None:
    data = tmp_path / "not" / "yet" / "there"
    with Studio.create(data, name="Studio Larkfield", password=PASSWORD, hasher=QUICK) as studio:
        assert abs(studio.facts.created_at - datetime.now(UTC)) < timedelta(minutes=1)
        assert studio.students.all() == []
    assert {path.name for path in data.iterdir()} == {"studio.sqlite", "recordings"}


@pytest.mark.parametrize("text", ["nul\0", "half \ud83d"])
def test_text_that_no_database_holds_is_refused_when_written_and_not_found_when_asked_for(
    studio: Studio, text: str
) -> None:
    ida = studio.students.add("Ida Quill")
    take, _ = studio.takes.receive(a_new_take(ida.id), b"sound")
    for write in (
        lambda: studio.students.add(text),
        lambda: studio.students.change(ida.id, notes=text),
        lambda: studio.book.add(text),
        lambda: studio.takes.receive(a_new_take(ida.id, facts={"x": text}), b"2"),
        lambda: studio.takes.receive(a_new_take(ida.id, text), b"3"),
        lambda: studio.takes.change(take.id, name=text),
        lambda: studio.change_facts(name=text),
    ):
        with pytest.raises(WrongOptions, match="must be text without NUL"):
            write()
    assert (
        studio.students.find(text),
        studio.takes.find(text),
        studio.weeks.find(text),
        studio.access.links(text),
    ) == (
        None,
        None,
        None,
        [],
    )
    assert studio.students.all() == [ida]


def test_what_is_said_of_a_lesson_many_times_at_once_is_kept_once(studio: Studio) -> None:
    """Two clicks on one button come at the same moment."""
    ida = studio.students.add("Ida Quill")
    off = LessonChange("", ida.id, date(2026, 3, 2), why="ill")
    with ThreadPoolExecutor(8) as many:
        list(many.map(studio.lessons.change, [off] * 40))
    (kept,) = studio.lessons.changes()
    assert replace(kept, id="") == off
