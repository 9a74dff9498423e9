"""A student's own weeks: what changed in a sentence, the days practised, what the teacher hears next."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from evenhand.acts.weeks.document import plan_to_json
from evenhand.planning.practice import PracticeDay, PracticePlan
from tests.desks import a_heard_take
from tests.studios import a_new_take
from tests.web.stands import Stand, a_plan, a_stand, assign
from tests.web.walked import SOUND

WEEK = timedelta(days=7)
TODAY = date.today()  # noqa: DTZ011 - the teacher's own clock is what the pages go by


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    with a_stand(tmp_path, lesson_day=TODAY.weekday(), lesson_time="16:30") as found:
        yield found


def words_of(stand: Stand) -> str:
    page = stand.client.get("/stand/weeks")
    assert page.status_code == 200
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page.text)).split())


def test_with_nothing_recorded_it_says_so_and_invents_nothing(stand: Stand) -> None:
    said = words_of(stand)
    assert "Nothing can be followed yet" in said
    assert "Nothing waits for your teacher; the next lesson is on" in said
    assert "16:30" in said


def test_it_shows_the_days_and_what_waits_and_never_another_students(stand: Stand) -> None:
    una = stand.studio.students.add("Una Marsh")
    now = datetime.now(UTC)
    for who, seconds, key in ((stand.student, 300.0, "key-1"), (una, 4000.0, "key-2")):
        new = a_new_take(who.id, key, recorded_at=now, facts={"seconds": f"{seconds:g}"})
        stand.studio.takes.receive(new, SOUND)
    said = words_of(stand)
    assert "1 day, 5 min" in said
    assert "67 min" not in said
    assert "One recording waits for your teacher" in said
    stand.studio.takes.listened([stand.only_take().id])
    assert "Nothing waits for your teacher" in words_of(stand)


def test_the_exercise_that_is_compared_is_named_with_how_often_it_was_recorded(stand: Stand) -> None:
    day = a_plan().days[0]
    items = (replace(day.items[0], block="record"), day.items[1])
    week = assign(stand, TODAY, plan=plan_to_json(PracticePlan((PracticeDay(items),) * 3)))
    assert "Paradiddle not recorded yet" in words_of(stand)
    facts = {"week": week.id, "day": "1", "item": "1", "seconds": "60"}
    new = a_new_take(stand.student.id, "key-3", recorded_at=datetime.now(UTC), facts=facts)
    stand.studio.takes.receive(new, SOUND)
    assert "Paradiddle recorded" in words_of(stand)


def test_a_take_a_week_is_drawn_and_nothing_is_said_that_chance_would_do_as_well(stand: Stand) -> None:
    """The same take four times: nothing has changed."""
    for back in range(4):
        a_heard_take(stand.studio, stand.student.id, datetime.now(UTC) - back * WEEK)
    page = stand.client.get("/stand/weeks").text
    assert "Can't tell yet what has changed" in html.unescape(page)
    assert page.count('aria-labelledby="curve-title"') == 1
    for word in ("streak", "points", "score", "badge", "rank"):
        assert word not in page.lower()
