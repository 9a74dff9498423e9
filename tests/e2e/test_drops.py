"""The first stage on the phone: drops are drawn as they fall, and what is said of them comes of the ear."""

from __future__ import annotations

import re
from datetime import date

import pytest
from playwright.sync_api import Browser, expect

from evenhand.acts.weeks.document import plan_to_json
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.studio.values import Student, Week
from tests.e2e.furnished import four_drops
from tests.e2e.rooms import PHONE, House, a_room, faults_of, ready, until_heard, until_played

pytestmark = pytest.mark.e2e

RIGHT = "1/2: R- R-"
GRIP = "thumb and first finger"


def with_drops_to_practise(house: House, name: str) -> Student:
    """Take a student in who is to drop the right stick four times."""
    student = house.studio.students.add(name, stage="rebound")
    item = PracticeItem(
        parse_exercise(RIGHT), Tempo.parse("1/4=60"), 2, 16.0, title="Drops, right hand alone"
    )
    plan = plan_to_json(PracticePlan((PracticeDay((item,)),) * 3))
    starts = date.today()  # noqa: DTZ011 - the pages go by the teacher's own clock
    house.studio.weeks.send(house.studio.weeks.save(Week("", student.id, starts, "rebound", plan)).id)
    return student


def test_drops_fall_on_the_page_and_are_named_by_their_grip(browser: Browser, house: House) -> None:
    mei = with_drops_to_practise(house, "Mei Harrow")
    with a_room(browser, house, mei, take=four_drops(), viewport=PHONE) as room:
        page = ready(room)
        expect(page.get_by_role("img", name="The right hand lets it fall")).to_be_visible()
        expect(page.locator("#slower")).to_be_hidden()  # there is no click to set
        page.get_by_role("button", name=GRIP).click()
        room.look("drops-ready-390")
        assert faults_of(page) == []
        page.locator("#go").click()
        expect(page.locator("#status")).to_have_text("Recording. Drops heard: 4 of 4.")
        counted = [int(each) for each in page.locator("svg.rows text.n").all_text_contents()]
        assert len(counted) == 4
        assert min(counted[:3]) >= 7  # of 11: a sketch, the last bounces are too soft for it
        room.look("drops-falling-390")
        until_heard(page)  # it ended by itself once the last one lay still
        said = page.locator("#result").inner_text()
        assert "4 drops, 4 left to bounce out by themselves." in said
        assert re.search(
            rf"{GRIP.capitalize()}: keeps 0\.7\d \(0\.\d\d to 0\.\d\d\) of its speed at a bounce", said
        ), said
        assert "one grip so far" in said
        room.look("drops-heard-390")
        assert faults_of(page) == []
    (take,) = house.studio.takes.all(mei.id)
    assert (take.facts["grip"], take.facts["click"], take.status) == (GRIP, "off", "heard")


def test_without_a_connection_drops_are_recorded_and_go_later(browser: Browser, house: House) -> None:
    ana = with_drops_to_practise(house, "Ana Thorne")
    with a_room(browser, house, ana, take=four_drops(), viewport=PHONE) as room:
        page = ready(room)
        room.context.set_offline(True)
        page.locator("#go").click()
        expect(page.locator("#status")).to_contain_text("Nothing is drawn without a connection")
        until_played(page, 9.0)
        page.locator("#go").click()
        expect(page.locator("#status")).to_contain_text("No connection.")
        room.context.set_offline(False)
        until_heard(page)
        assert "4 drops, 4 left to bounce out by themselves." in page.locator("#result").inner_text()
    assert [take.facts.get("grip") for take in house.studio.takes.all(ana.id)] == [None]
