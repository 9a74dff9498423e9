"""The pages of drops, of minutes and of heights: whole, readable, without a script, names made safe."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from evenhand.acts.takes.tests import MinuteRequest, hear_minute
from evenhand.progress.bounce.restitution import HeardBounce
from evenhand.progress.minute.rates import HeardMinute
from evenhand.report.plots.heights import calibration_drawing, said_drawing
from evenhand.report.plots.tests import bounce_drawing, bounce_page, minute_drawing, minute_page
from evenhand.report.words.tests import bounce_top_words as bounce_words
from evenhand.report.words.tests import minute_top_words as minute_words
from evenhand.testing import FakeTakes, midi_take
from tests.unit.acts.test_fit_heights import MIXED, calibrated, say, struck
from tests.unit.acts.test_hear_bounce import a_row_of, hear

NASTY = '<b>&"x'


def a_minute(seconds: float = 62.0, rate: float = 10.0) -> HeardMinute:
    times = (1.0 + np.arange(round(rate * seconds)) / rate).tolist()
    opens = FakeTakes({"m.mid": midi_take(times, [-12.0] * len(times))})
    return hear_minute(Path("m.mid"), MinuteRequest(), opens=opens)


def some_drops() -> HeardBounce:
    return hear(a_row_of(0.8, 0.6, 0.8, 0.6), "R", "L", "R", NASTY)


@pytest.mark.parametrize("page", [bounce_page(some_drops()), minute_page(a_minute())])
def test_a_page_is_whole_and_needs_nothing_else(page: str) -> None:
    assert page.startswith("<!doctype html>")
    assert page.rstrip().endswith("</html>")
    assert "<script" not in page
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    assert "numbness" in page


@pytest.mark.parametrize(
    "drawing",
    [
        bounce_drawing(some_drops()),
        minute_drawing(a_minute()),
        minute_drawing(a_minute(3.0)),
        calibration_drawing(calibrated()),
        said_drawing(say(struck(MIXED, 7)), calibrated().heights),
    ],
)
def test_a_drawing_is_an_svg_with_words_for_a_screen_reader(drawing: str) -> None:
    root = ET.fromstring(drawing)
    names = {child.tag.rpartition("}")[2]: child.text for child in root}
    assert names["title"]
    assert names["desc"]


def test_names_are_made_safe() -> None:
    page = bounce_page(replace(some_drops(), name=NASTY))
    assert NASTY not in page
    assert "&lt;b&gt;" in page


def test_one_sentence_says_what_matters() -> None:
    assert bounce_words(hear(a_row_of(0.8, 0.6, 0.8, 0.6), "R", "L", "R", "L")).endswith(
        "with the right hand."
    )
    assert "Can't tell yet which bounces longest" in bounce_words(hear(a_row_of(0.8, 0.8), "R", "L"))
    assert minute_words(a_minute()) == "600 strokes in 60 s."
    assert minute_words(a_minute(3.0)).endswith("it would be 600 in a minute.")


def test_every_blow_has_its_mark() -> None:
    heard = hear(a_row_of(0.8))
    marks = bounce_drawing(heard).count("v5")
    assert marks == heard.drops[0].bounces == 14
