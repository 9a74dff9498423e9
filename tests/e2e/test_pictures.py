"""Pictures and reports as files: no words lie on others, with the shipped face and with the machine's."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial

import numpy as np
import pytest
from playwright.sync_api import Browser

from evenhand.acts.exercises.strokes import StrokeOptions, height_chart, plan_exercise
from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.weeks.progress import show_progress
from evenhand.acts.weeks.stages import advise_student
from evenhand.progress.history import History
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.report.plots.advice import advice_picture
from evenhand.report.plots.heights import calibration_drawing, said_drawing
from evenhand.report.plots.progress import ceiling_picture, progress_picture
from evenhand.report.plots.reach import draw_heights
from evenhand.report.plots.shell import face_rules
from evenhand.report.plots.tests import bounce_drawing, bounce_page, minute_drawing, minute_page
from evenhand.report.plots.week import load_picture
from tests.e2e.rooms import DESK, PHONE
from tests.e2e.test_pages import OVERLAPS
from tests.histories import a_take, day, drops
from tests.unit.acts.test_fit_heights import MIXED, calibrated, say, struck
from tests.unit.measuring.takes import TAKES
from tests.unit.report.test_ceiling_picture import FOUND
from tests.unit.report.test_drops_and_minutes import a_minute, some_drops
from tests.unit.report.test_load_picture import course
from tests.unit.report.test_report import page_of

pytestmark = pytest.mark.e2e


def advice(stage: str) -> str:
    rng = np.random.default_rng(1)
    takes = [
        a_take(day(x), rng, louder_db=3.0, tempo="1/8=88", ceiling_bpm=110, spread_ms=(6.0, 9.0))
        for x in range(0, 12, 2)
    ]
    found = advise_student(History(tuple(takes), (drops(day(1)),)), COMMON_PATH, stage)
    return advice_picture(found.path, found.advice)


def weeks() -> str:
    rng = np.random.default_rng(5)
    takes = [
        a_take(day(x), rng, spread_ms=(5.0, 9.0), tempo=f"1/8={95 + x + more}", ceiling_bpm=104 + x)
        for x in range(0, 36, 3)
        for more in (0, 14)
    ]
    return progress_picture(show_progress(History(tuple(takes), (), (), "Ines"), wish="1/8=160"))


def heights(text: str, tempo: str) -> str:
    return draw_heights(height_chart(plan_exercise(TakeRequest.read(text, tempo), StrokeOptions())))


DRAWN: dict[str, Callable[[], str]] = {
    **{f"advice-{stage.name}": partial(advice, stage.name) for stage in COMMON_PATH.stages},
    "weeks": weeks,
    "load": lambda: load_picture([course((12_400, 12_500), (37_000, 36_800), (9, 12), empty_before=2)]),
    "ceiling": lambda: ceiling_picture(FOUND),
    "heights": lambda: heights("1/16: RLRR LRLL", "1/4=60"),
    "heights-flams": lambda: heights("1/8: lR R L rL >R L", "1/4=90"),
    "drops": lambda: bounce_drawing(some_drops()),
    "drops-page": lambda: bounce_page(some_drops()),
    "minute": lambda: minute_drawing(a_minute()),
    "minute-page": lambda: minute_page(a_minute()),
    "calibration": lambda: calibration_drawing(calibrated()),
    "said-heights": lambda: said_drawing(say(struck(MIXED, 7)), calibrated().heights),
    **{f"report-{name}": partial(page_of, played) for name, played in TAKES.items()},
}


@cache
def drawn(name: str) -> str:
    """Draw it once; a picture alone gets a page around it."""
    made = DRAWN[name]()
    return made if made.startswith("<!doctype html>") else f"<!doctype html><body style='margin:0'>{made}"


@pytest.mark.parametrize("face", ["its own face", "another face"])
@pytest.mark.parametrize("name", DRAWN)
def test_no_words_lie_on_others(browser: Browser, name: str, face: str) -> None:
    page = drawn(name).replace(face_rules(), "")
    if face == "its own face":
        page = page.replace("<body", f"<style>{face_rules()}</style><body", 1)
    with browser.new_page(viewport=DESK) as tab:  # type: ignore[arg-type]
        tab.set_content(page)
        tab.evaluate("document.fonts.ready")
        assert tab.evaluate(OVERLAPS) == [], f"{name}, wide"
        if not name.startswith(("advice", "weeks")):
            tab.set_viewport_size(PHONE)  # type: ignore[arg-type]
            assert tab.evaluate(OVERLAPS) == [], f"{name}, narrow"
