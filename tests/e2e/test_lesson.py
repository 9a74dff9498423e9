"""A lesson on a tablet: from the day to a week sent, takes heard in order, one recorded, one by the phone.

What the ways took is logged (``--log-cli-level=INFO``), not asserted.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from evenhand.acts.weeks.document import plan_from_json
from evenhand.studio.values import IN_LESSON, Student
from evenhand.studio.work.pool import hear_waiting_once
from tests.e2e.furnished import assign, played, send_take
from tests.e2e.rooms import PHONE, House, a_room, faults_of, until

pytestmark = pytest.mark.e2e

LOG = logging.getLogger("ways")
UPRIGHT, LYING = {"width": 768, "height": 1024}, {"width": 1024, "height": 768}
TOO_SMALL = """() => [...document.querySelectorAll("main :is(button, a, select, summary, input)")]
  .filter((each) => each.checkVisibility() && each.type !== "hidden" && !each.closest(".hidden"))
  .map((each) => [each.outerHTML.slice(0, 90), (each.closest("label") ?? each).getBoundingClientRect()])
  .filter(([, { width, height }]) => width < 44 || height < 44)
  .map(([what, { width, height }]) => `${what} ${width} x ${height}`)"""


@pytest.fixture(scope="module")
def pia(furnished: House) -> Student:
    """Take a student in who played twice since the last lesson, and has a week."""
    studio = furnished.studio
    student = studio.students.add("Pia Lindqvist", stage="tap", lesson_day=0, lesson_time="15:00")
    assign(studio, student)
    for days in (4, 2):
        send_take(studio, student, timedelta(days=days))
    hear_waiting_once(studio)
    return student


def counted() -> tuple[list[str], Callable[[Locator], None]]:
    """Click as a finger does, and count it."""
    clicks: list[str] = []

    def click(where: Locator) -> None:
        clicks.append(where.inner_text())
        where.click()

    return clicks, click


def test_from_the_day_to_a_week_that_is_sent(browser: Browser, house: House, pia: Student) -> None:
    """Two clicks as it is proposed; each change is one more."""
    with a_room(browser, house, "teacher", viewport=UPRIGHT) as room:
        page = room.open("/")
        began, (clicks, click) = time.monotonic(), counted()
        click(page.get_by_role("link", name=f"Lesson with {pia.name}"))
        expect(page.locator("#plan .exercise").first).to_be_visible()
        proposed_s = time.monotonic() - began
        exercise = page.locator("#plan .exercise").nth(1)
        before = exercise.locator(".pace").inner_text()
        click(exercise.get_by_role("button", name="Faster"))
        expect(exercise.locator(".pace")).not_to_have_text(before)
        now = exercise.locator(".pace").inner_text()
        click(page.get_by_role("button", name=f"Send to {pia.name}"))
        expect(page.locator(".said")).to_contain_text("Sent.")
        LOG.info("lesson: proposed %.1f s, sent %.1f s, %s", proposed_s, time.monotonic() - began, clicks)
        assert len(clicks) == 3, clicks
        expect(page.locator("#plan .exercise").nth(1).locator(".pace")).to_have_text(now)
        expect(page.get_by_role("link", name="Today")).to_be_visible()  # no dead end
    week = next(each for each in house.studio.weeks.all(pia.id) if each.sent_at)
    tempos = {str(item.tempo) for day in plan_from_json(week.plan, name="").days for item in day.items}
    assert now.split(" to ")[0] in tempos


def test_the_usual_way_to_a_week_that_is_sent(browser: Browser, house: House) -> None:
    student = house.studio.students.add("Otto Brandvold", stage="tap", lesson_day=1, lesson_time="15:30")
    with a_room(browser, house, "teacher", viewport=UPRIGHT) as room:
        page = room.open("/")
        began, (clicks, click) = time.monotonic(), counted()
        click(page.get_by_role("link", name=f"Next week for {student.name}"))
        click(page.get_by_role("button", name=f"Send to {student.name}"))
        expect(page.locator(".said")).to_contain_text("Sent.")
        LOG.info("usual way: sent %.1f s, %s", time.monotonic() - began, clicks)
        assert len(clicks) == 2, clicks
        page.get_by_role("link", name="Today").click()
        expect(page.locator("#day")).to_be_visible()


def test_takes_are_heard_in_order_by_one_button_and_by_keys(
    browser: Browser, house: House, pia: Student
) -> None:
    with a_room(browser, house, "teacher", viewport=LYING) as room:
        page = room.open(f"/students/{pia.id}/lesson")
        takes = page.locator("#takes .take[data-sound]")
        expect(takes).to_have_count(2)
        expect(takes.first.locator(".notation svg")).to_be_visible()
        expect(takes.first.locator(".finding").first).to_contain_text("left hand")
        page.get_by_role("button", name="Hear in order").click()
        until(page, "!sound.paused && sound.readyState > 2")
        expect(takes.first).to_have_class("take chosen")
        expect(page.locator("#tempo")).to_have_text("1/4 = 180")
        with page.expect_response("**/hear/listened"):
            page.evaluate("sound.currentTime = 99")  # to its end
        expect(takes.last).to_have_class("take chosen")
        until(page, "!sound.paused")
        page.evaluate("document.activeElement.blur()")
        page.keyboard.press("Space")
        until(page, "sound.paused")
        expect(page.locator("#hear-all")).to_have_text("Go on")
        page.keyboard.press("ArrowRight")
        expect(takes.first).to_have_class("take chosen")
        page.locator("#hear-all").click()
    heard = [take.listened_at is not None for take in reversed(house.studio.takes.all(pia.id))]
    assert heard == [True, False]  # the first was played to its end


def test_two_takes_side_by_side_and_the_click_under_the_thumb(
    browser: Browser, house: House, pia: Student
) -> None:
    with a_room(browser, house, "teacher", viewport=UPRIGHT, fed=True) as room:
        page = room.open(f"/students/{pia.id}/lesson")
        for box in page.get_by_role("checkbox", name="Side by side").all():
            box.check()
        page.get_by_role("button", name="Put the two ticked side by side").click()
        expect(page.locator("#beside svg.block:visible")).to_have_count(2)
        page.get_by_role("button", name="Hear the second").click()
        until(page, "sound.src.endsWith('/sound')")
        page.locator("#click").click()  # which stops what is heard
        until(page, "sound.paused")
        expect(page.locator("#click")).to_have_attribute("aria-pressed", "true")
        shown = page.locator("#tempo").inner_text()
        page.locator("#faster").click()
        expect(page.locator("#tempo")).not_to_have_text(shown)
        page.evaluate(
            "() => new Promise((done) => [0, 500, 1000, 1500].forEach((ms) => "
            "setTimeout(() => { tap.click(); if (ms === 1500) done(); }, ms)))"
        )
        tapped = float(page.locator("#tempo").inner_text().split("=")[1])
        assert 100 <= tapped <= 125  # half a second apart, on a busy machine
        page.locator("#click").click()
        expect(page.locator("#click")).to_have_text("Click")


def test_a_take_is_recorded_on_the_tablet_and_one_comes_from_the_phone(
    browser: Browser, house: House, tmp_path: Path
) -> None:
    studio, evening = house.studio, tmp_path / "evening.wav"
    evening.write_bytes(played().wav)
    rosa = studio.students.add("Rosa Tamber", stage="tap")
    week = assign(studio, rosa)
    with a_room(browser, house, "teacher", viewport=LYING, take=played()) as room:
        page = room.open(f"/students/{rosa.id}/lesson?week={week.id}")
        expect(page.locator("#takes")).to_contain_text("No take yet.")
        item = page.locator("#plan .exercise", has_text="Paradiddle")
        item.get_by_role("button", name="Play its click").click()
        page.locator("#record").click()
        expect(page.locator("#record")).to_have_text("Stop and keep")
        until(page, "window.fed.beganAt + 5.9 < window.fed.contexts[0].currentTime")
        page.locator("#record").click()
        take = page.locator("#takes .take")
        expect(take).to_have_attribute("data-status", "heard")
        expect(take).to_contain_text("recorded in the lesson")
        expect(take.locator(".finding").first).to_contain_text("The left hand comes")
        expect(page.get_by_role("heading", name="In this lesson")).to_be_visible()
        expect(page.locator("#status")).to_contain_text("A take has come in")
        with a_room(browser, house, rosa, viewport=PHONE) as stand:
            phone = stand.open("/stand")
            phone.get_by_text("Upload a recording").click()
            phone.get_by_label("File").set_input_files(evening)
            phone.get_by_role("button", name="Send it").click()
            expect(phone.get_by_role("status").first).to_have_text("It has arrived.")
        expect(page.locator("#takes .take[data-status=heard]")).to_have_count(2)
        assert faults_of(page) == []
    by_phone, by_tablet = studio.takes.all(rosa.id)
    assert (by_tablet.source, by_tablet.model) == ("microphone", False)
    assert [IN_LESSON in each.facts for each in (by_phone, by_tablet)] == [False, True]


def test_every_target_is_large_enough(browser: Browser, house: House, pia: Student) -> None:
    with a_room(browser, house, "teacher") as room:
        page = room.open(f"/students/{pia.id}/lesson")
        for size in (UPRIGHT, LYING, PHONE, {"width": 844, "height": 390}):
            page.set_viewport_size(size)  # type: ignore[arg-type]
            expect(page.locator("#plan:not(.htmx-request) .exercise").first).to_be_visible()
            assert page.evaluate(TOO_SMALL) == []
            assert faults_of(page) == []
            wide = "document.scrollingElement.scrollWidth - document.documentElement.clientWidth"
            assert page.evaluate(wide) <= 0
            room.look(f"lesson-{size['width']}")


def test_the_lesson_without_a_mouse(browser: Browser, house: House, pia: Student) -> None:
    """The bar comes first in the order of the keys, what is focused is not under it, and Send is reached."""
    with a_room(browser, house, "teacher", viewport=UPRIGHT) as room:
        page = room.open(f"/students/{pia.id}/lesson")
        expect(page.locator("#plan .exercise").first.get_by_role("button", name="Faster")).to_be_enabled()
        reached: list[str] = []
        for _ in range(60):
            page.keyboard.press("Tab")
            reached.append(focused(page))
            if reached[-1].startswith("Send"):
                break
        assert reached[-1].startswith("Send"), reached
        assert reached.index("Hear in order") < reached.index("Tap") < len(reached) - 1
        page.locator("#plan .exercise").last.get_by_role("button", name="Leave out").press("Enter")
        expect(page.locator("#week-total")).to_be_focused()  # what was left out is gone, and not the place
        page.get_by_role("button", name="Send").focus()
        assert page.evaluate(
            "document.activeElement.getBoundingClientRect().bottom <= practice.getBoundingClientRect().top"
        )


def focused(page: Page) -> str:
    """Read what the focused element says."""
    said: str = page.evaluate("document.activeElement.textContent.trim()")
    return said
