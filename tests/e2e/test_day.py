"""A day at one tap: each exercise after the other, what was heard in one line, rests, a sum at the end."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest
from playwright.sync_api import Browser, Page, Playwright, expect

from evenhand.acts.weeks.document import plan_to_json
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.studio.values import Student, Week
from evenhand.take import in_words
from tests.e2e.furnished import TEMPO, TEXT, TIMES, played
from tests.e2e.rooms import (
    PHONE,
    House,
    a_room,
    choose_click,
    faults_of,
    launch,
    ready,
    until_heard,
)

pytestmark = pytest.mark.e2e

REST_S, PAUSE_S, GO_S = 4.0, 4.0, 6.7
PURPOSE = "Let the stick do the work."


def a_day(house: House, name: str, *, rest_s: float = REST_S) -> Student:
    """Take a student in whose week has one kind of day: three exercises, the second in two goes."""
    student = house.studio.students.add(name, stage="tap")
    first = PracticeItem(
        parse_exercise(TEXT),
        Tempo.parse(TEMPO),
        TIMES,
        GO_S,
        "tap",
        rest_s,
        "Easy paradiddle",
        block="warm-up",
        purpose=in_words(PURPOSE),
    )
    focus = replace(
        first, title="Paradiddle", block="focus", goes=2, pause_s=PAUSE_S, seconds=2 * GO_S + PAUSE_S
    )
    last = replace(first, title="Paradiddle once more", block="record", rest_s=0.0)
    story = in_words("This week the left hand catches up. On Friday you record it.")
    plan = PracticePlan((PracticeDay((first, focus, last)),) * 3, story=story)
    starts = date.today()  # noqa: DTZ011 - the pages go by the teacher's own clock
    week = house.studio.weeks.save(Week("", student.id, starts, "tap", plan_to_json(plan), "Breathe."))
    house.studio.weeks.send(week.id)
    return student


def says(page: Page, words: str) -> None:
    """Wait until the stand says something."""
    expect(page.locator("#status")).to_contain_text(re.compile(words))


def test_one_tap_plays_the_whole_day(browser: Browser, house: House) -> None:
    student = a_day(house, "Orla Penhale")
    with a_room(browser, house, student, take=played(), viewport=PHONE) as room:
        page = ready(room, "/stand")
        choose_click(page)
        expect(page.locator(".story")).to_contain_text("the left hand catches up")
        expect(page.locator(".plan")).to_contain_text(PURPOSE)
        expect(page.locator("#go")).to_have_text("Start the day")
        expect(page.locator("#go")).to_be_in_viewport()
        room.look("day-before-390")
        page.locator("#go").click()  # the one tap
        says(page, "^Recording, repetition")
        room.look("day-plays-390", whole=False)
        says(page, "^Rest 4 s. Next: Paradiddle.$")
        expect(page.locator("#practice-title")).to_have_text("Paradiddle")
        expect(page.locator(".practice .block").first).to_have_text("Focus")
        expect(page.locator("#clock")).to_have_text(re.compile("^[1-4]$"))
        expect(page.locator("#heard-line")).to_contain_text("Your left hand comes a little after your right.")
        room.look("day-rests-390", whole=False)
        says(page, "^Recording, repetition")
        says(page, "^Pause 4 s. Then go 2 of 2.$")
        says(page, "^Recording, repetition")
        says(page, "^Rest 4 s. Next: Paradiddle once more.$")
        says(page, "^Recording, repetition")
        says(page, "^That was the day.$")
        summary = page.locator("#summary")
        expect(summary).to_be_focused()
        expect(summary).to_contain_text("Your left hand comes a little after your right.")
        expect(summary).to_contain_text("Your teacher gets 4 recordings of this day")
        expect(summary).to_contain_text("compared from week to week")
        assert summary.locator(".tick").count() == 3
        room.look("day-over-390")
        ready(room, "/stand")
        expect(page.locator("#summary")).to_contain_text("Your teacher gets 4 recordings")
    takes = house.studio.takes.all(student.id)
    assert sorted(take.facts["item"] for take in takes) == ["1", "2", "2", "3"]
    assert {take.status for take in takes} == {"heard"}


VOICES = """
const said = (window.saidNext = []);
const here = { lang: "en-GB", localService: true, default: true }, far = { ...here, localService: false };
speechSynthesis.getVoices = () => (window.farOnly ? [far] : [far, here]);
speechSynthesis.speak = (each) => said.push([each.text, each.chosen]);
speechSynthesis.cancel = () => said.push("hush");
window.SpeechSynthesisUtterance = class {
  constructor(text) { this.text = text; }
  set voice(voice) { this.chosen = voice.localService ? "here" : "far"; }
};
const chimed = (window.chimed = []);
const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (...when) {
  chimed.push(this.frequency.value);
  return start.apply(this, when);
};
"""


def test_what_comes_next_is_said_by_a_voice_of_the_device_or_chimed(browser: Browser, house: House) -> None:
    student = a_day(house, "Inge Sandmoor")
    with a_room(browser, house, student, take=played()) as room:
        room.page.add_init_script(VOICES)
        page = ready(room, "/stand")
        choose_click(page)
        page.locator("#go").click()
        says(page, "^Rest 4 s. Next: Paradiddle.$")
        said = page.evaluate("window.saidNext.filter((each) => each !== 'hush')")
        assert [each[1] for each in said] == ["here"]
        assert said[0][0].startswith("Number two of three. Focus. Paradiddle.")
        says(page, "^Recording, repetition")
        assert page.evaluate("window.saidNext.at(-1)") == "hush"
        page.locator("#speaks").uncheck()
        says(page, "^Rest 4 s. Next: Paradiddle once more.$")
        assert page.evaluate("window.saidNext.filter((each) => each !== 'hush').length") == 1
        assert {660, 880} <= set(page.evaluate("window.chimed"))
        page.reload()
        expect(page.locator("#speaks")).not_to_be_checked()


def test_a_day_is_stopped_gone_on_with_played_again_and_skipped_by_keys(
    browser: Browser, house: House
) -> None:
    student = a_day(house, "Bram Oakley", rest_s=60.0)
    with a_room(browser, house, student, take=played()) as room:
        page = ready(room, "/stand")
        choose_click(page)
        page.locator("#go").focus()
        page.keyboard.press("Space")
        says(page, "^Recording, repetition")
        page.keyboard.press("Space")  # before it is half played
        says(page, "^Stopped here. Go on when you are ready.$")
        expect(page.locator("#practice-title")).to_have_text("Easy paradiddle")
        room.look("day-held-1280")
        page.keyboard.press("Space")
        says(page, "^Recording, repetition")
        says(page, "^Rest 60 s. Next: Paradiddle.$")
        page.keyboard.press("ArrowLeft")  # the one before again
        expect(page.locator("#practice-title")).to_have_text("Easy paradiddle")
        says(page, "^Recording, repetition")
        page.keyboard.press("ArrowRight")
        says(page, "^Rest 8 s. Next: Paradiddle.$")
        page.locator("#hold").click()
        says(page, "^Stopped here")
        expect(page.locator("#clock")).to_be_hidden()
        page.keyboard.press("ArrowRight")
        expect(page.locator("#practice-title")).to_have_text("Paradiddle once more")
        says(page, "^Recording, repetition")
        says(page, "^Recording, repetition 4 of 4")
        page.keyboard.press("Space")  # most of it is played: that will do
        says(page, "^That was the day")
        expect(page.locator("#summary")).to_contain_text("not recorded")  # the second was skipped
    items = [take.facts["item"] for take in house.studio.takes.all(student.id)]
    assert set(items) == {"1", "3"}


def test_a_day_without_a_microphone_runs_with_the_click(
    playwright: Playwright, chromium: str, house: House
) -> None:
    student = a_day(house, "Sunna Leigh")
    browser = launch(playwright, chromium, "--use-fake-device-for-media-stream", "--deny-permission-prompts")
    try:
        with a_room(browser, house, student, viewport=PHONE) as room:
            page = ready(room, "/stand")
            page.locator("#go").click()
            says(page, "The click runs. Nothing is recorded.")
            expect(page.locator("#trouble")).to_contain_text("not allowed for this page")
            says(page, "^Rest 4 s. Next: Paradiddle.$")
            page.locator("#skip").click()
            says(page, "The click runs")
            page.locator("#go").click()
            page.locator("#finish").click()
            says(page, "^Stopped here. The rest of the day is still there.$")
            expect(page.locator("#summary")).to_contain_text("Nothing of this day was recorded")
            expect(page.locator("#go")).to_have_text("Go on with the day")
    finally:
        browser.close()
    assert house.studio.takes.all(student.id) == []


def test_a_day_goes_on_without_a_network_and_loses_nothing(browser: Browser, house: House) -> None:
    student = a_day(house, "Keir Maddern")
    with a_room(browser, house, student, take=played()) as room:
        page = ready(room, "/stand")
        choose_click(page)
        page.locator("#go").click()
        says(page, "^Recording, repetition")
        room.context.set_offline(True)
        says(page, "^Rest 4 s. Next: Paradiddle.$")
        expect(page.locator("#heard-line")).to_contain_text("No connection. The recording is kept")
        says(page, "^Recording, repetition")
        page.locator("#skip").click()
        says(page, "Next: Paradiddle once more")
        room.context.set_offline(False)
        says(page, "^Recording, repetition")
        says(page, "^That was the day.$")
    assert {take.facts["item"] for take in house.studio.takes.all(student.id)} >= {"1", "3"}


def test_one_exercise_alone_is_played_in_all_its_goes(browser: Browser, house: House) -> None:
    student = a_day(house, "Maeve Tolland")
    with a_room(browser, house, student, take=played(), viewport=PHONE, color_scheme="dark") as room:
        page = ready(room, "/stand/practice/2")
        choose_click(page)
        expect(page.locator("#go")).to_have_text("Start click and recording")
        page.locator("#go").click()
        says(page, "^Recording, repetition")
        says(page, "^Pause 4 s. Then go 2 of 2.$")
        room.look("item-pause-390-dark", whole=False)
        says(page, "^Recording, repetition")
        until_heard(page)
        expect(page.locator("#onward")).to_be_visible()
        room.look("item-heard-390-dark")
    assert [take.facts["item"] for take in house.studio.takes.all(student.id)] == ["2", "2"]


def test_a_day_has_no_fault_of_access_while_it_goes_on(browser: Browser, house: House) -> None:
    student = a_day(house, "Perrin Ashgrove", rest_s=60.0)
    with a_room(browser, house, student, take=played(), viewport=PHONE, color_scheme="dark") as room:
        page = ready(room, "/stand")
        choose_click(page)
        room.look("day-before-390-dark")
        page.locator("#go").click()
        says(page, "^Recording, repetition")
        assert faults_of(page) == []
        says(page, "^Rest 60 s.")
        assert faults_of(page) == []
        room.look("day-rests-390-dark", whole=False)
        page.locator("#hold").click()
        assert faults_of(page) == []
        page.locator("#finish").click()
        says(page, "^Stopped here. The rest")
        assert faults_of(page) == []
        room.look("day-ended-390-dark")
