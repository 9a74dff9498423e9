"""A studio is made once, opened often, and keeps what it was told."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest

from evenhand.errors import NotFound, StudioMissing, StudioThere, WrongOptions
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import BookEntry, Device, StudioFacts, Week
from tests.places import Place
from tests.studios import NOON, PASSWORD, QUICK, a_new_take


def test_a_new_studio_is_empty_and_knows_its_name(studio: Studio) -> None:
    assert studio.facts == StudioFacts("Studio Larkfield", demo=False, created_at=NOON)
    assert (studio.students(), studio.takes(), studio.book()) == ([], [], [])
    assert set(studio.counts().values()) == {0}


def test_a_studio_is_the_same_when_it_is_opened_again(place: Place) -> None:
    ida = place.create(demo=True).add_student("Ida Quill")
    again = place.open()
    assert again.facts.demo
    assert again.students() == [ida]


def test_there_is_one_studio_in_a_place(place: Place) -> None:
    ida = place.create().add_student("Ida Quill")
    with pytest.raises(StudioThere, match="a studio here already"):
        place.create()
    assert place.open().students() == [ida]


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
        studio.add_student(name)
    gone = studio.add_student("Una Marsh", stage="full", archived=True)
    assert [student.name for student in studio.students()] == ["Ida Quill", "tomas Reed", "Åse Lind"]
    assert studio.students(archived=True) == [gone]


def test_all_that_is_known_of_a_student_is_kept(studio: Studio) -> None:
    ida = studio.add_student(
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
    assert studio.student(ida.id) == ida
    changed = studio.change_student(ida.id, notes="", lesson_day=None)
    assert studio.student(ida.id) == changed == replace(ida, notes="", lesson_day=None)


def test_what_a_student_has_not_is_not_changed(studio: Studio) -> None:
    ida = studio.add_student("Ida Quill")
    with pytest.raises(TypeError, match="'age' cannot be changed"):
        studio.change_student(ida.id, age=9)
    with pytest.raises(TypeError, match="'id' cannot be changed"):
        studio.add_student("Tomas Reed", id="1")
    with pytest.raises(NotFound, match="this student"):
        studio.change_student("nobody", notes="")
    assert studio.student("nobody") is None


def test_a_moment_comes_back_in_utc_and_one_without_a_zone_is_refused(studio: Studio) -> None:
    ida = studio.add_student("Ida Quill")
    in_delhi = datetime(2026, 3, 2, 17, 30, 0, 123456, tzinfo=timezone(timedelta(hours=5, minutes=30)))
    take, _ = studio.receive_take(a_new_take(ida.id, recorded_at=in_delhi), b"sound")
    (found,) = studio.takes()
    assert found == take
    assert found.recorded_at.isoformat() == "2026-03-02T12:00:00.123456+00:00"
    naive = in_delhi.replace(tzinfo=None)
    with pytest.raises(Exception, match="got no zone"):
        studio.receive_take(a_new_take(ida.id, "key-2", recorded_at=naive), b"sound")


def a_week(student_id: str, starts: date, words: str = "") -> Week:
    return Week("", student_id, starts, "rebound", '{"days": 5}', words)


def test_a_week_sent_again_counts_as_newer_and_the_newest_begins_the_list(place: Place) -> None:
    studio = place.create()
    ida = studio.add_student("Ida Quill")
    last, this = (studio.save_week(a_week(ida.id, date(2026, month, 2))) for month in (2, 3))
    first = studio.send_week(this.id)
    place.clock.move(hours=1)
    again = studio.send_week(this.id)
    assert first.sent_at is not None
    assert again.sent_at == first.sent_at + timedelta(hours=1)
    assert [week.id for week in studio.weeks(ida.id)] == [this.id, last.id]


def test_a_week_is_changed_in_its_place_and_stays_its_students(studio: Studio) -> None:
    ida, tomas = studio.add_student("Ida Quill"), studio.add_student("Tomas Reed")
    week = studio.save_week(a_week(ida.id, date(2026, 3, 2)))
    changed = studio.save_week(replace(week, words="Slow is fine."))
    assert studio.weeks(ida.id) == [changed]
    with pytest.raises(NotFound):
        studio.save_week(replace(week, student_id=tomas.id))
    with pytest.raises(NotFound):
        studio.save_week(a_week("nobody", date(2026, 3, 2)))
    with pytest.raises(NotFound):
        studio.send_week("none")
    assert studio.week("none") is None


def test_devices_are_kept_and_stay_their_students(studio: Studio) -> None:
    ida, tomas = studio.add_student("Ida Quill"), studio.add_student("Tomas Reed")
    phone = studio.save_device(Device("", ida.id, "phone"))
    measured = studio.save_device(replace(phone, latency_ms=41.5, measured_at=NOON))
    chosen = studio.save_device(Device("chosen-by-the-device", ida.id, "Laptop"))
    assert studio.devices(ida.id) == [chosen, measured]
    with pytest.raises(NotFound):
        studio.save_device(replace(phone, student_id=tomas.id))
    with pytest.raises(NotFound):
        studio.save_device(Device("", "nobody", "phone"))


def test_the_book_keeps_its_order(studio: Studio) -> None:
    first = studio.add_entry("1/8: RLRR LRLL", "Eights", "Rebound")
    second = studio.add_entry("1/16: RRLL")
    assert studio.book() == [first, second]
    studio.save_book([second, BookEntry("", "1/8: R~ L~"), first])
    assert [(entry.text, entry.position) for entry in studio.book()] == [
        ("1/16: RRLL", 0),
        ("1/8: R~ L~", 1),
        ("1/8: RLRR LRLL", 2),
    ]
    studio.remove_entry(second.id)
    assert studio.add_entry("1/8: RL").position == 3
    with pytest.raises(NotFound):
        studio.remove_entry(second.id)
    studio.save_book([])
    assert studio.book() == []


def test_a_studio_is_made_where_there_is_nothing_by_the_clock_that_goes(tmp_path: Path) -> None:
    data = tmp_path / "not" / "yet" / "there"
    with Studio.create(data, name="Studio Larkfield", password=PASSWORD, hasher=QUICK) as studio:
        assert abs(studio.facts.created_at - datetime.now(UTC)) < timedelta(minutes=1)
        assert studio.students() == []
    assert {path.name for path in data.iterdir()} == {"studio.sqlite", "recordings"}


@pytest.mark.parametrize("text", ["nul\0", "half \ud83d"])
def test_text_that_no_database_holds_is_refused_when_written_and_not_found_when_asked_for(
    studio: Studio, text: str
) -> None:
    ida = studio.add_student("Ida Quill")
    take, _ = studio.receive_take(a_new_take(ida.id), b"sound")
    for write in (
        lambda: studio.add_student(text),
        lambda: studio.change_student(ida.id, notes=text),
        lambda: studio.add_entry(text),
        lambda: studio.receive_take(a_new_take(ida.id, facts={"x": text}), b"2"),
        lambda: studio.receive_take(a_new_take(ida.id, text), b"3"),
        lambda: studio.change_take(take.id, words=text),
        lambda: studio.change_facts(name=text),
    ):
        with pytest.raises(WrongOptions, match="must be text without NUL"):
            write()
    assert (studio.student(text), studio.take(text), studio.week(text), studio.links(text)) == (
        None,
        None,
        None,
        [],
    )
    assert studio.students() == [ida]
