"""A teacher changes what weeks are made of: a week's blocks, the path, the marks in the book."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from evenhand.acts.weeks.document import plan_from_json
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.studio.path import keep_path, path_of
from tests.e2e.rooms import DESK, House, a_room

pytestmark = pytest.mark.e2e


def day_sum(page: Page) -> str:
    """Read what the first day adds up to."""
    return page.locator("#day-1-sum").inner_text()


def test_a_day_is_changed_by_its_blocks_and_adds_up(browser: Browser, house: House) -> None:
    student = house.studio.students.add("Elin Farrier", stage="tap", minutes_a_day=20.0, days_a_week=2)
    with a_room(browser, house, "teacher", viewport=DESK) as room:
        page = room.open(f"/students/{student.id}/week")
        expect(page.locator("#plan details.day").first).to_be_attached()
        assert page.get_by_label("The week in two sentences").input_value().count(".") >= 2
        page.locator("#day-1 summary").click()
        rows = page.locator("#day-1 .item")
        count = rows.count()
        assert 4 <= count <= 7
        assert day_sum(page) == "20 min"
        expect(rows.first.get_by_label("Block")).to_have_value("warm-up")
        before = page.locator("#row-1-sum").inner_text()
        page.locator("#longer-1").click()
        expect(page.locator("#row-1-sum")).not_to_have_text(before)
        expect(page.locator("#longer-1")).to_be_focused()
        expect(page.locator("#day-1-sum")).to_contain_text("over")
        page.locator("#row-1").get_by_label("What it is for").fill("So that the left hand wakes up.")
        page.locator("#row-1").get_by_label("Tempo").fill("1/4 = 66")
        page.locator("#remove-2").click()
        expect(rows).to_have_count(count - 1)
        page.locator("#row-1").get_by_label("Goes").fill("2")
        page.get_by_role("button", name="Send to").click()
        expect(page.get_by_role("status").first).to_contain_text("Sent.")
        page.locator("#day-1 summary").click()
        room.look("week-changed-1280")
    (week,) = house.studio.weeks.all(student.id)
    plan = plan_from_json(week.plan, name="it")
    item = plan.days[0].items[1]
    assert (item.goes, item.tempo.bpm, item.block) == (2, 66, "focus")
    assert len(plan.days[0].items) == count - 1
    assert plan.story


def test_a_stage_is_changed_and_its_students_stay_in_it(browser: Browser, house: House) -> None:
    student = house.studio.students.add("Ottilie Garth", stage="hands alone")
    try:
        with a_room(browser, house, "teacher", viewport=DESK) as room:
            page = room.open("/path")
            page.get_by_role("link", name="Change hands alone").click()
            page.get_by_label("Name").fill("One by one")
            page.get_by_label("How fast, to").fill("2.5")
            page.get_by_label("Bound 5").fill("4")
            page.get_by_role("button", name="Save").click()
            expect(page.get_by_role("status").first).to_have_text("One by one is kept.")
            page.get_by_role("button", name="Move One by one up").click()
            room.open(f"/students/{student.id}")
            expect(page.locator("main")).to_contain_text("One by one")
        path = path_of(house.studio)
        stage = path.stage("hands alone")
        assert stage
        assert (stage.name, stage.rate_per_s[1], stage.conditions[4].bound) == ("One by one", 2.5, 4)
        assert [each.name for each in path.stages].index("One by one") == 3
    finally:
        keep_path(house.studio, COMMON_PATH)


def test_an_exercise_is_marked(browser: Browser, house: House) -> None:
    with a_room(browser, house, "teacher", viewport=DESK) as room:
        page = room.open("/book")
        entry = page.locator(".card", has_text="Doubles").first
        entry.locator("summary").click()
        entry.get_by_label("Where weeks are planned").last.select_option("never")
        entry.get_by_label("At these stages only").fill("tap, endurance")
        entry.get_by_role("button", name="Save").click()
        expect(page.locator(".card", has_text="Doubles").first.locator("summary")).to_have_text(
            "In weeks: never at tap, endurance"
        )
        room.look("book-marked-1280")
        entry.locator("summary").click()
        entry.get_by_label("At these stages only").fill("")
        entry.get_by_label("Where weeks are planned").last.select_option("also")
        entry.get_by_role("button", name="Save").click()
        expect(entry.locator("summary")).to_have_text("In weeks: also")
