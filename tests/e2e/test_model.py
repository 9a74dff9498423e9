"""The teacher plays a model from a student's page; on the stand it is heard, and put beside a take."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from playwright.sync_api import Browser, expect

from tests.e2e.furnished import EVEN, TEMPO, TEXT, played, send_take
from tests.e2e.rooms import (
    PHONE,
    House,
    a_room,
    a_student,
    choose_click,
    start,
    until_played,
)
from tests.e2e.test_pages import check

pytestmark = pytest.mark.e2e

ENOUGH_S = 5.5  # of playing: four times through


def test_a_model_is_played_and_stands_on_the_stand(browser: Browser, house: House) -> None:
    """Two clicks and a stop; nothing is typed. The student hears it, and sees both in turns."""
    edda = a_student(house, "Edda Rook")
    take = send_take(house.studio, edda, timedelta(hours=1))
    with a_room(browser, house, "teacher", take=played(EVEN, times=9)) as room:
        page = room.open(f"/students/{edda.id}")
        page.get_by_role("link", name=re.compile("Record it ?: Paradiddle")).click()
        expect(page.locator("#practice[data-ready]")).to_be_visible()
        expect(page.locator("#tempo")).to_have_text(TEMPO.replace("=", " = "))
        check(room, "model-recorder")
        room.look("model-recorder")
        choose_click(page)
        start(page)
        until_played(page, ENOUGH_S)
        page.get_by_role("button", name="Stop and send").click()
        expect(page.locator("#status")).to_have_text(re.compile("^Students can hear it"))
        assert "To practise" not in page.locator("#result").inner_text()
        room.look("model-heard")
        page.get_by_role("link", name="Done").click()
        expect(page.get_by_role("cell", name="your model", exact=True)).to_be_visible()
        room.look("model-student-page")
    with a_room(browser, house, edda, viewport=PHONE) as room:
        page = room.open("/stand/practice/1")
        expect(page.get_by_label("Your teacher plays it")).to_be_visible()
        room.look("model-on-the-stand")
        room.open(f"/stand/takes/{take.id}")
        page.get_by_role("link", name="Beside your teacher's").click()
        expect(page.get_by_role("heading", name="What differs by more than chance")).to_be_visible()
        expect(
            page.get_by_text("Right minus left, timing: further from zero than your teacher's")
        ).to_be_visible()
        check(room, "beside-the-model")
        room.look("beside-the-model")
    models = house.studio.takes.models(edda.id)
    assert [(take.exercise, take.source, take.status) for take in models] == [(TEXT, "teacher", "heard")]
