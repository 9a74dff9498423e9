"""The teacher's day: who comes next, what came in, what to hear first."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from evenhand.studio.desk import Glances, desk_of, glance_at
from evenhand.studio.values import Student, StudioTake
from evenhand.studio.whole.lessons import Almanac
from evenhand.web.pages import when_words
from evenhand.web.views.desk import heading_words
from tests.desks import LATE, ADesk, a_desk, a_heard_take, heard_json, words_of
from tests.studios import a_new_take

WEDNESDAY = datetime(2026, 11, 25, 14, 0).astimezone()


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def now() -> datetime:
    return datetime.now().astimezone()


def test_a_studio_without_students_says_how_to_begin(desk: ADesk) -> None:
    shown = desk.get("/")
    assert "Add a student" in shown.text
    assert 'href="/students#add"' in shown.text


def test_a_line_has_the_finding_the_week_and_the_way_to_the_sound(desk: ADesk) -> None:
    at = now()
    student = desk.studio.students.add(
        "Nora Veldt", stage="tap", lesson_day=at.weekday(), lesson_time="16:30"
    )
    take = a_heard_take(desk.studio, student.id, at - timedelta(hours=1))
    shown = desk.get("/")
    assert shown.status_code == 200
    words = words_of(shown.text)
    assert "16:30" in words
    assert "The left hand comes" in words
    assert "One take has come in since" in words
    assert f'href="/takes/{take.id}"' in shown.text
    assert shown.text.count('class="small-folded"') == 1
    assert "1 take" in shown.text  # the week in words, for whoever does not see it


def test_lines_stand_in_the_order_in_which_students_come(desk: ADesk) -> None:
    add = desk.studio.students.add
    add("Late today", lesson_day=2, lesson_time="18:00")
    add("Early today", lesson_day=2, lesson_time="15:30")
    add("Yesterday's", lesson_day=1, lesson_time="15:30")
    add("Tomorrow's", lesson_day=3, lesson_time="09:00")
    add("Without a day")
    found = desk_of(desk.studio, WEDNESDAY, Glances())
    names = [line.student.name for day in found.days for line in day.lines]
    assert names == ["Early today", "Late today", "Tomorrow's", "Yesterday's", "Without a day"]
    assert found.lessons_today == 2
    assert found.next_id == found.days[0].lines[0].student.id


def test_a_lesson_that_is_on_stays_the_next_one_for_an_hour(desk: ADesk) -> None:
    first = desk.studio.students.add("First", lesson_day=2, lesson_time="13:30")
    second = desk.studio.students.add("Second", lesson_day=2, lesson_time="14:30")
    assert desk_of(desk.studio, WEDNESDAY, Glances()).next_id == first.id
    assert desk_of(desk.studio, WEDNESDAY + timedelta(minutes=31), Glances()).next_id == second.id
    assert desk_of(desk.studio, WEDNESDAY + timedelta(hours=8), Glances()).next_id is None


def test_the_next_lesson_is_today_until_the_day_is_over() -> None:
    """By hand: 25 November 2026 is a Wednesday, weekday 2."""
    student = Student("1", "N", "tap", WEDNESDAY, lesson_day=2, lesson_time="09:00")
    lesson = Almanac().next_lesson(student, WEDNESDAY.date())
    assert lesson is not None
    assert (lesson.day, lesson.at) == (WEDNESDAY.date(), "09:00")
    tuesdays = Almanac().next_lesson(replace(student, lesson_day=1), WEDNESDAY.date())
    assert tuesdays is not None
    assert tuesdays.day.isoformat() == "2026-12-01"


def test_the_take_to_hear_first_is_the_newest_in_which_something_was_found(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    even = heard_json((), 24, 3)
    glance = glance_at(even)
    assert glance is not None
    assert not glance.found
    found = a_heard_take(desk.studio, student.id, WEDNESDAY - timedelta(days=1), heard=heard_json(LATE))
    a_heard_take(desk.studio, student.id, WEDNESDAY - timedelta(hours=2), heard=even)
    line = desk_of(desk.studio, WEDNESDAY, Glances()).days[0].lines[0]
    assert line.hear is not None
    assert line.hear.id == found.id


def test_what_is_the_teachers_own_is_not_counted(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    a_heard_take(desk.studio, student.id, WEDNESDAY - timedelta(hours=2), source="teacher", model=True)
    line = desk_of(desk.studio, WEDNESDAY, Glances()).days[0].lines[0]
    assert (line.came, line.hear) == (0, None)


def test_takes_that_wait_or_failed_are_said(desk: ADesk) -> None:
    student = desk.studio.students.add("Theo Marchbank")
    at = now() - timedelta(hours=1)
    waits, _ = desk.studio.takes.receive(a_new_take(student.id, "a", recorded_at=at), b"1")
    failed, _ = desk.studio.takes.receive(a_new_take(student.id, "b", recorded_at=at), b"2")
    desk.studio.queue.took_failed(failed.id, "Nothing but silence.")
    shown = desk.get("/")
    words = words_of(shown.text)
    assert "One take is being heard." in words
    assert "One take could not be heard : Nothing but silence." in words
    assert 'hx-trigger="every 4s, came from:body"' in shown.text
    desk.studio.queue.took_heard(waits.id, heard_json(), 20.0)
    assert "hx-trigger" not in desk.get("/").text


def test_a_missed_week_shows_the_last_take_with_its_day(desk: ADesk) -> None:
    student = desk.studio.students.add("Theo Marchbank")
    a_heard_take(desk.studio, student.id, now() - timedelta(days=40))
    words = words_of(desk.get("/").text)
    assert "Nothing came in this week." in words
    assert "The left hand comes" in words


def test_a_long_finding_is_cut_at_its_first_sentence(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    long = heard_json().replace("behind the right", "behind the right " + "and " * 200)
    a_heard_take(desk.studio, student.id, now() - timedelta(hours=1), heard=long)
    assert desk.get("/").status_code == 200


def test_what_cannot_be_read_does_not_break_the_page(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    a_heard_take(desk.studio, student.id, now() - timedelta(hours=1), heard="{}")
    shown = desk.get("/")
    assert shown.status_code == 200
    assert "Nora Veldt" in shown.text


def test_a_take_corrected_by_hand_is_read_anew(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    take = a_heard_take(desk.studio, student.id, WEDNESDAY - timedelta(hours=1))
    glances = Glances()
    assert desk_of(desk.studio, WEDNESDAY, glances).days[0].lines[0].glance == glance_at(heard_json())
    desk.studio.takes.change(take.id, heard=heard_json((), 24, 3), corrected=True)
    assert desk_of(desk.studio, WEDNESDAY, glances).days[0].lines[0].glance == glance_at(
        heard_json((), 24, 3)
    )


def test_a_glance_is_kept_and_the_oldest_goes_first(desk: ADesk, monkeypatch: pytest.MonkeyPatch) -> None:
    student = desk.studio.students.add("Nora Veldt")
    take = replace(a_heard_take(desk.studio, student.id, WEDNESDAY), heard=heard_json())
    asked: list[str] = []

    def whole(take_id: str) -> StudioTake:
        """Give the take, under any id."""
        asked.append(take_id)
        return replace(take, id=take_id)

    monkeypatch.setattr(desk.studio.takes, "find", whole)
    glances = Glances(most=2)
    for id_ in ("a", "a", "b", "a", "c", "b"):
        assert glances.at(desk.studio, replace(take, id=id_)) is not None
    assert asked == ["a", "b", "c"]
    glances.at(desk.studio, replace(take, id="a"))
    assert asked == ["a", "b", "c", "a"]


def test_thirty_students_stand_on_one_page(desk: ADesk) -> None:
    for number in range(30):
        desk.studio.students.add(f"Student {number:02}", lesson_day=number % 7, lesson_time="15:00")
    shown = desk.get("/").text
    assert shown.count('<li class="line') == 30


def test_without_a_login_the_day_leads_to_the_login(desk: ADesk) -> None:
    desk.client.cookies.clear()
    answer = desk.client.get("/", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/login")


def test_days_are_named_as_people_name_them() -> None:
    """By hand, from a calendar of 2026."""
    today = WEDNESDAY.date()
    assert heading_words(today, today) == "Today"
    assert heading_words(today + timedelta(days=1), today) == "Tomorrow, Thursday 26 November"
    assert heading_words(today + timedelta(days=2), today) == "Friday 27 November"
    assert heading_words(None, today) == "No lesson day set"
    assert when_words(WEDNESDAY, today) == "today, 14:00"
    assert when_words(WEDNESDAY - timedelta(days=1), today) == "yesterday, 14:00"
    assert when_words(WEDNESDAY - timedelta(days=3), today) == "Sunday, 14:00"
    assert when_words(WEDNESDAY - timedelta(days=12), today) == "13 November, 14:00"
    assert when_words(WEDNESDAY - timedelta(days=365), today) == "25 November 2025, 14:00"
