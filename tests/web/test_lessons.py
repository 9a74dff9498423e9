"""Lessons moved and skipped, holidays, and the calendar to subscribe to."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import icalendar
import pytest

from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.studio.desk import Glances, desk_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Holiday, LessonChange, Student, Week
from evenhand.studio.weeks.next import next_start, options_of, read_options, send
from evenhand.studio.whole.lessons import Almanac, almanac_of, clashes, feed_of, lessons_of
from evenhand.web.pages import today
from tests.desks import ADesk, a_desk, words_of

WEDNESDAY = date(2026, 11, 25)


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def a_student(**changes: object) -> Student:
    facts: dict[str, object] = {"lesson_day": 2, "lesson_time": "16:30", **changes}
    return Student("n", "Nora Veldt", "tap", datetime(2026, 1, 1).astimezone(), **facts)  # type: ignore[arg-type]


def test_what_is_said_of_a_lesson_goes_before_a_holiday() -> None:
    """By hand: the Wednesdays from 25 November 2026 are that day, 2, 9 and 16 December."""
    almanac = Almanac(
        [
            LessonChange("a", "n", WEDNESDAY, date(2026, 11, 27), "17:00"),
            LessonChange("b", "n", date(2026, 12, 2)),
            LessonChange("c", "n", date(2026, 12, 9), date(2026, 12, 10)),
            LessonChange("d", "another", date(2026, 12, 16)),
        ],
        [Holiday("h", date(2026, 12, 8), date(2026, 12, 12))],
    )
    found = almanac.lessons(a_student(), WEDNESDAY, date(2026, 12, 16))
    assert [(each.day.isoformat(), each.at, each.state) for each in found] == [
        ("2026-11-27", "17:00", "moved"),
        ("2026-12-02", "16:30", "skipped"),
        ("2026-12-10", "16:30", "moved"),
        ("2026-12-16", "16:30", "usual"),
    ]


def test_a_week_begins_with_the_next_lesson_that_takes_place() -> None:
    student = a_student(days_a_week=5)
    sent = Week("w", "n", date(2026, 11, 27), "tap", "", sent_at=datetime.now().astimezone())
    almanac = Almanac(
        [LessonChange("a", "n", WEDNESDAY, date(2026, 11, 27))],
        [Holiday("h", date(2026, 12, 1), date(2026, 12, 6), "n")],
    )
    assert next_start(student, WEDNESDAY, (), almanac) == date(2026, 11, 27)
    assert next_start(student, WEDNESDAY, [sent], almanac) == date(2026, 12, 9)
    assert next_start(a_student(lesson_day=None), WEDNESDAY, (), Almanac()) == WEDNESDAY
    asked = options_of(student, WEDNESDAY, weeks=(), almanac=almanac)
    assert asked["days"] == "3"  # of the seven from the 27th, 1 to 3 December are a holiday: 5 * 4 / 7 = 2.9


def test_a_holiday_s_fewer_days_do_not_become_the_student_s_own(desk: ADesk) -> None:
    studio, first = desk.studio, today()
    student = studio.students.add("Nora Veldt", days_a_week=5)
    studio.lessons.add_holiday(Holiday("", first, first + timedelta(days=3), name="half-term"))
    typed = options_of(student, first, almanac=almanac_of(studio))
    assert typed["days"] == "2"  # 5 * 3 / 7
    options, _ = read_options(typed, first, COMMON_PATH)
    week = studio.weeks.save(Week("", student.id, first, "tap", "{}"))
    send(studio, student, week, options)
    assert studio.students.get(student.id).days_a_week == 5
    studio.lessons.drop_holiday(studio.lessons.holidays()[0].id)
    send(studio, student, week, options)
    assert studio.students.get(student.id).days_a_week == 2


def test_a_lesson_is_moved_skipped_and_as_usual_again(desk: ADesk) -> None:
    first = today()
    student = desk.studio.students.add("Nora Veldt", lesson_day=first.weekday(), lesson_time="16:30")
    of = {"student": student.id, "day": first.isoformat()}
    to = first + timedelta(days=1)
    moved = desk.post("/lessons/changes", **of, do="move", to=to.isoformat(), at="18:15", why="a concert")
    said = words_of(desk.get(moved.headers["location"]).text)
    assert "18:15 Nora Veldt moved from" in said
    assert "(a concert)" in said
    line = desk_of(desk.studio, datetime.now().astimezone(), Glances()).days[0].lines[0]
    assert (line.lesson and line.lesson.date(), line.planned and line.planned.at) == (to, "18:15")
    desk.post("/lessons/changes", **of, do="skip", why="a cold")
    (change,) = desk.studio.lessons.changes()
    assert "Not today: Nora Veldt (16:30), skipped (a cold)." in words_of(desk.get("/").text)
    assert change.moved_to is None
    desk.post(f"/lessons/changes/{change.id}/remove")
    assert desk.studio.lessons.changes() == []


@pytest.mark.parametrize(
    ("path", "typed", "said"),
    [
        ("changes", {"day": "soon"}, "which day's lesson"),
        ("changes", {"day": "today", "do": "move", "to": "9999-01-01"}, "to which day"),
        ("changes", {"day": "today", "do": "move", "to": "today", "at": "25:00"}, "such as 16:30"),
        ("changes", {"day": "today", "why": "x" * 201}, "At most 200 characters; these are 201"),
        ("holidays", {"first": ""}, "needs its first day"),
        ("holidays", {"first": "today", "last": "before"}, "must not be before its first"),
        ("holidays", {"first": "today", "last": "far"}, "at most 120 days"),
        ("feed", {"minutes": "5"}, "10 to 240 minutes"),
    ],
)
def test_what_cannot_be_read_is_said_and_changes_nothing(
    desk: ADesk, path: str, typed: dict[str, str], said: str
) -> None:
    days = {"today": today(), "before": today() - timedelta(days=1), "far": today() + timedelta(days=200)}
    student = desk.studio.students.add("Nora Veldt")
    sent = {name: str(days.get(text, text)) for name, text in typed.items()}
    answer = desk.post(f"/lessons/{path}", student=student.id, **sent)
    assert answer.status_code == 422
    assert said in words_of(answer.text)
    assert (desk.studio.lessons.changes(), desk.studio.lessons.holidays()) == ([], [])
    assert desk.studio.facts.lesson_minutes == 45


def test_lessons_that_overlap_are_pointed_out() -> None:
    """By hand: 16:30 and 17:00 are half an hour apart."""
    other = a_student(lesson_time="17:00")
    found = lessons_of(Almanac(), [a_student(), other], WEDNESDAY, WEDNESDAY)
    assert len(clashes(found, 45)) == 1
    assert clashes(found, 30) == []


@pytest.fixture
def studio(desk: ADesk) -> Studio:
    return desk.studio


def events(content: bytes) -> list[Any]:
    return list(icalendar.Calendar.from_ical(content).walk("VEVENT"))


def test_the_calendar_has_the_lessons_that_take_place(studio: Studio) -> None:
    """RFC 5545 as another reader takes it; its rules for UID, DTSTAMP and line ends by hand."""
    nora = studio.students.add("Nora Veldt", lesson_day=2, lesson_time="16:30")
    studio.students.add("Ida Quill", lesson_day=3)
    studio.students.change(studio.students.add("Una Marsh", lesson_day=3).id, archived=True)
    studio.lessons.change(LessonChange("", nora.id, WEDNESDAY, date(2026, 11, 27), "17:00"))
    studio.lessons.change(LessonChange("", nora.id, date(2026, 12, 2)))
    now = datetime(2026, 11, 24, 9, 0).astimezone()
    content = feed_of(studio, now)
    assert b"\r\nDTSTAMP:" in content
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))
    found = {(str(each["summary"]), str(each["dtstart"].dt)[:16]): each for each in events(content)}
    begins = datetime(2026, 11, 27, 17, 0).astimezone()
    own = [each for (name, _), each in found.items() if name == "Nora V."]
    assert begins in [each["dtstart"].dt for each in own]
    assert not any(each["dtstart"].dt.astimezone().date() == date(2026, 12, 2) for each in own)
    assert all(each["dtend"].dt - each["dtstart"].dt == timedelta(minutes=45) for each in own)
    assert ("Ida Q.", "2026-11-26") in found  # of the whole day
    assert "Una" not in content.decode()
    assert len({str(each["uid"]) for each in events(content)}) == len(events(content))


def test_a_moved_lesson_stays_one_event(studio: Studio) -> None:
    """A calendar knows an event by its UID (RFC 5545, 3.8.4.7), so moving one must not make a second."""
    nora = studio.students.add("Nora Veldt", lesson_day=2, lesson_time="16:30")
    now = datetime(2026, 11, 24, 9, 0).astimezone()
    before = {str(each["uid"]) for each in events(feed_of(studio, now))}
    studio.lessons.change(LessonChange("", nora.id, WEDNESDAY, date(2026, 11, 27)))
    assert {str(each["uid"]) for each in events(feed_of(studio, now))} == before


def test_the_address_opens_without_a_login_until_it_is_withdrawn(desk: ADesk) -> None:
    desk.studio.students.add("Nora Veldt", lesson_day=2)
    made = desk.post("/lessons/feed", do="make")
    assert made.headers["cache-control"] == "no-store"
    (address,) = re.findall(r'value="http://testserver(/calendar/[^"]+)"', made.text)
    desk.client.cookies.clear()
    answer = desk.get(address)
    assert (answer.status_code, answer.headers["content-type"].partition(";")[0]) == (200, "text/calendar")
    assert desk.get(address.replace("calendar/", "calendar/x")).status_code == 404
    secret = address.split("/")[2]
    desk.studio.lessons.make_feed()
    assert not desk.studio.lessons.is_feed(secret)
    assert desk.get(address).status_code == 404
    desk.studio.lessons.withdraw_feed()
    assert desk.studio.facts.feed_made_at is None
    assert not desk.studio.lessons.is_feed("")
