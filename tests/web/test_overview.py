"""The whole studio at a look: who practised, in and out of holidays, and which findings stand."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from evenhand.studio.values import Holiday, LessonChange, Student, Week
from evenhand.studio.whole.overview import Overview, overview_of
from evenhand.studio.whole.triage import Gists
from tests.desks import LATE, ADesk, a_desk, a_heard_take, heard_json, words_of

EVEN: tuple[str, ...] = ()
LATER = ("late-hand=L:40",)
AT = datetime.now().astimezone().replace(hour=20)
TODAY = AT.date()


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def here(desk: ADesk, name: str, **changes: Any) -> Student:
    """Take somebody in who was sent a week a month ago."""
    student = desk.studio.students.add(name, **changes)
    week = desk.studio.weeks.save(Week("", student.id, TODAY - timedelta(days=28), "tap", "{}"))
    desk.studio.weeks.send(week.id)
    return student


def took(desk: ADesk, student: Student, *days_ago: int, faults: tuple[str, ...] = EVEN) -> list[str]:
    heard = heard_json(faults, 24, 3)
    return [
        a_heard_take(desk.studio, student.id, AT - timedelta(days=ago), heard=heard).id for ago in days_ago
    ]


def look(desk: ADesk) -> Overview:
    return overview_of(desk.studio, AT, Gists())


def test_who_recorded_least_stands_first_and_days_are_counted_once(desk: ADesk) -> None:
    often, seldom, never = (here(desk, name, days_a_week=3) for name in ("Often", "Seldom", "Never"))
    took(desk, often, 0, 2, 4)
    took(desk, seldom, 1, 1, 1, 9)
    took(desk, never, 8)
    rows = look(desk).practised
    assert [(row.student.name, row.practice, row.days, row.asked) for row in rows] == [
        ("Never", "none", 0, 3),
        ("Seldom", "fewer", 1, 3),
        ("Often", "as asked", 3, 3),
    ]
    assert rows[0].last == TODAY - timedelta(days=8)
    assert rows[1].seconds == 60.0  # three takes of 20 s


def test_holidays_ask_for_less_and_somebody_away_has_missed_nothing(desk: ADesk) -> None:
    """By hand: four of the seven days in a holiday leave 5 * 3 / 7 = 2.1 days."""
    away, partly = here(desk, "Away"), here(desk, "Partly", days_a_week=5)
    desk.studio.lessons.add_holiday(Holiday("", TODAY - timedelta(days=9), TODAY, away.id, "a journey"))
    desk.studio.lessons.add_holiday(
        Holiday("", TODAY - timedelta(days=8), TODAY - timedelta(days=3), partly.id)
    )
    took(desk, partly, 1, 2)
    rows = {row.student.name: row for row in look(desk).practised}
    assert (rows["Partly"].practice, rows["Partly"].days, rows["Partly"].asked) == ("as asked", 2, 2)
    assert rows["Away"].practice == "away"
    assert "On holiday (1) Away" in words_of(desk.get("/overview").text)


def test_who_came_today_has_missed_nothing(desk: ADesk) -> None:
    desk.studio.students.add("New")
    (row,) = look(desk).practised
    assert (row.practice, row.asked) == ("as asked", 0)


def test_a_finding_stands_that_weeks_have_not_made_smaller(desk: ADesk) -> None:
    nora, ida, una, theo = (
        here(desk, name) for name in ("Nora Veldt", "Ida Quill", "Una Marsh", "Theo Reed")
    )
    *_, first = took(desk, nora, 1, 8, 16, faults=LATE)
    took(desk, ida, 1, 8, faults=LATE)  # smaller by far than it was
    took(desk, ida, 16, faults=LATER)
    took(desk, una, 1, 16, faults=LATE)  # gone in between
    took(desk, una, 8)
    took(desk, theo, 1, 2, 3, faults=LATE)  # not for weeks yet
    found = [each for each in look(desk).standing if each.words.startswith("The left hand comes")]
    assert [(each.student.name, each.days, each.first.id) for each in found] == [("Nora Veldt", 3, first)]
    said = words_of(desk.get("/overview").text)
    assert "not better by more than chance" in said


def test_lessons_other_than_usual_are_listed(desk: ADesk) -> None:
    day = TODAY + timedelta(days=2)
    student = here(desk, "Nora Veldt", lesson_day=day.weekday())
    desk.studio.lessons.change(LessonChange("", student.id, day, why="a concert"))
    (lesson,) = look(desk).lessons
    assert (lesson.day, lesson.state) == (day, "skipped")
    assert "skipped (a concert)" in words_of(desk.get("/overview").text)
    assert isinstance(lesson.usual, date)
