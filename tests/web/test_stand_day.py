"""Which day stands on the stand, and what it is called: the same on every page."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from evenhand.web.pages import weekday_words
from tests.web.stands import KEY, Stand, a_recording, a_stand, assign, practice_of, yesterday


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    """Let a student in."""
    with a_stand(tmp_path) as found:
        yield found


@pytest.fixture(scope="module")
def recording() -> bytes:
    """Give a recording."""
    return a_recording(4)


def this_day() -> date:
    return yesterday() + timedelta(days=1)


def test_a_week_sent_ahead_is_there_at_once_and_may_be_begun(stand: Stand, recording: bytes) -> None:
    week = assign(stand, this_day() + timedelta(days=3))
    page = stand.client.get("/stand").text
    assert "Nothing is assigned yet" not in page
    assert "Your next practice, 4 minutes" in page
    assert f"Day 1 of 3, for {weekday_words(week.starts)}. You may begin early." in page
    assert "Paradiddle" in page
    sent = practice_of(page)["sent"]
    assert (sent["week"], sent["day"]) == (week.id, "1")
    stand.send(recording, seconds="88", source="microphone", **sent)
    found = stand.client.get("/stand/today.json").json()
    assert (found["day"]["standing"], found["day"]["starts"]) == ("early", week.starts.isoformat())
    assert found["items"][0]["done"]
    assert stand.client.get("/stand/sheet.pdf").content.startswith(b"%PDF")


def test_the_next_week_stands_beside_the_one_that_runs(stand: Stand) -> None:
    now, following = assign(stand, yesterday()), assign(stand, yesterday() + timedelta(days=7))
    page = stand.client.get("/stand").text
    assert practice_of(page)["sent"]["week"] == now.id
    assert "Your next practice is here, from" in page
    assert f'href="/stand?week={following.id}"' in page
    ahead = stand.client.get("/stand", params={"week": following.id}).text
    assert "You may begin early." in ahead
    assert "This week&#39;s practice" in ahead
    item = stand.client.get("/stand/practice/2", params={"week": following.id, "day": "2"}).text
    assert practice_of(item)["sent"]["week"] == following.id


def test_a_day_is_called_the_same_on_the_stand_and_on_its_items_page(stand: Stand, recording: bytes) -> None:
    """On the day of the lesson the week is over: of four days something was played, of none all of it."""
    week = assign(stand, this_day() - timedelta(days=7))
    for day in range(1, 4):
        sent = {"week": week.id, "day": str(day), "item": "1"}
        stand.send(recording, key=f"{KEY}-{day}", seconds="20", source="microphone", **sent)
    today, item = stand.client.get("/stand").text, stand.client.get("/stand/practice/1").text
    for page in (today, item):
        assert "Last week&#39;s practice, 4 minutes" in page
        assert "Day 3 of 3. The new practice comes after your lesson." in page
        assert "Today, " not in page
        assert practice_of(page)["sent"]["day"] == "3"


def test_a_day_without_practice_says_so(stand: Stand) -> None:
    """Three days of a week lie on its days 0, 2 and 4."""
    assign(stand, yesterday())
    page = stand.client.get("/stand").text
    assert "Nothing new is planned for today. Go on with day 1 of 3." in page
    assert "Day 1, 4 minutes" in page
    asked = stand.client.get("/stand", params={"day": "3"}).text
    assert f"Day 3 of 3, for {weekday_words(yesterday() + timedelta(days=4))}." in asked
