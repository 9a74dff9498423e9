"""A parent's view: days and minutes by a link of its own, and nothing else by it."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from evenhand.studio.practised import practised_weeks
from evenhand.studio.values import Student, StudioTake
from evenhand.web.routes import ROUTES
from tests.studios import NOON, a_new_take
from tests.web.stands import ORIGIN, Stand, a_stand
from tests.web.walked import HOUR, SOUND, House


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    with a_stand(tmp_path) as found:
        yield found


def recorded(stand: Stand, student: Student, key: str, seconds: float, **changes: Any) -> StudioTake:
    facts = {"seconds": f"{seconds:g}"}
    new = a_new_take(student.id, key, recorded_at=datetime.now(UTC), facts=facts, **changes)
    return stand.studio.takes.receive(new, SOUND)[0]


def without_login(stand: Stand) -> TestClient:
    return TestClient(stand.client.app, headers=ORIGIN, follow_redirects=False)


def test_the_teacher_switches_it_on_for_one_student_and_off_again(stand: Stand) -> None:
    teacher, here = stand.as_teacher(), f"/students/{stand.student.id}"
    page = teacher.get(here).text
    assert 'A parent\'s view</h2>\n<p class="quiet">Off.' in page
    token = {"csrf": re.search(r'name="csrf" value="([^"]*)"', page)[1]}  # type: ignore[index]
    made = teacher.post(f"{here}/parent", data=token)
    address = re.search(r'value="(http[^"]*/p/[^"]*)"', made.text)
    assert address is not None
    assert made.headers["cache-control"] == "no-store"
    parent = without_login(stand)
    assert parent.get(address[1]).status_code == 200
    (link,) = stand.studio.access.links(stand.student.id)
    assert link.last_used_at is not None
    sister = stand.client.get("/stand")  # the student is still in
    teacher.post(f"/links/{link.id}/revoke", data={**token, "student": stand.student.id})
    assert parent.get(address[1]).headers["location"] == "/gone"
    assert (sister.status_code, stand.client.get("/stand").status_code) == (200, 200)


def test_it_shows_days_and_minutes_and_nothing_else(stand: Stand) -> None:
    una = stand.studio.students.add("Una Marsh")
    secret, _ = stand.studio.access.make_link(stand.student.id, lasts=HOUR, opens="days")
    take = recorded(stand, stand.student, "key-1", 600.0, exercise="1/8: RLRL")
    recorded(stand, stand.student, "key-2", 290.0)
    recorded(stand, una, "key-3", 3000.0)
    answer = without_login(stand).get(f"/p/{secret}")
    words = " ".join(html.unescape(re.sub(r"<[^>]*>", " ", answer.text)).split())
    assert "Ines: days and minutes" in words
    assert "1 day, 15 min" in words
    assert answer.headers["cache-control"] == "no-store"
    for secret_thing in (
        take.id,
        stand.student.id,
        "Hollander",
        "RLRL",
        "1/8=140",
        "Una",
        "50 min",
        "/stand/",
    ):
        assert secret_thing not in answer.text
    assert re.findall(r'<a [^>]*href="([^"]*)"', answer.text) == ["#content"]
    assert "set-cookie" not in answer.headers


def test_a_parents_link_opens_nothing_else_and_a_students_does_not_open_it(house: House) -> None:
    days, _ = house.studio.access.make_link(house.una.id, lasts=HOUR, opens="days")
    over, _ = house.studio.access.make_link(house.una.id, lasts=-HOUR, opens="days")
    own, _ = house.studio.access.make_link(house.una.id, lasts=HOUR)
    client = house.client()
    assert client.get(f"/p/{days}").status_code == 200
    assert client.get(f"/s/{days}").headers["location"] == "/gone"
    for secret in (own, over, "x" * 43):
        assert client.get(f"/p/{secret}").headers["location"] == "/gone"
    for route in ROUTES:
        if route.who == "anyone" or route.kind == "socket":
            continue
        answer = house.ask(client, route, take_id=house.takes[house.una.id])
        assert answer.status_code in {303, 401}, route.path
    house.studio.students.change(house.una.id, archived=True)
    assert client.get(f"/p/{days}").headers["location"] == "/gone"
    house.studio.students.change(house.una.id, archived=False)


def test_wrong_ones_are_counted_with_wrong_students_links(house: House) -> None:
    client = house.client()
    found = [client.get(f"/p/{'y' * 40}{k}").status_code for k in range(31)]
    assert found == [303] * 30 + [429]
    assert client.get(f"/s/{'y' * 43}").status_code == 429


def test_minutes_are_those_of_the_students_own_heard_or_waiting_takes(stand: Stand) -> None:
    """By hand: 40 s is a minute, 620 s are ten; a take that failed and the teacher's model are none."""
    monday = NOON
    for key, seconds, days in (
        ("key-a", 40.0, 0),
        ("key-b", 400.0, 1),
        ("key-c", 220.0, 1),
        ("key-d", 99.0, 8),
    ):
        new = a_new_take(
            stand.student.id,
            key,
            recorded_at=monday - timedelta(days=days),
            facts={"seconds": f"{seconds:g}"},
        )
        stand.studio.takes.receive(new, SOUND)
    failed = recorded(stand, stand.student, "key-e", 900.0)
    stand.studio.takes.change(failed.id, status="failed", reason="no hits")
    recorded(stand, stand.student, "key-f", 900.0, source="teacher")
    weeks = practised_weeks(stand.studio.takes.all(stand.student.id), monday, weeks=3)
    assert [(week.monday.isoformat(), week.practised, week.minutes) for week in weeks] == [
        ("2026-03-02", 1, 1),
        ("2026-02-23", 1, 10),
        ("2026-02-16", 1, 2),
    ]
    assert [day.seconds for day in weeks[0].days] == [40.0, *[None] * 6]  # the rest of the week is to come
