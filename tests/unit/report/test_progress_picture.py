"""The picture of the weeks draws every take, and says in words what it shows."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from evenhand.acts.weeks.progress import show_progress
from evenhand.measuring.values import Measure
from evenhand.progress.ceiling.estimate import tempo_ceiling
from evenhand.progress.history import History
from evenhand.progress.trends.trajectory import CeilingTrajectory, StudentProgress, WishedTempo
from evenhand.report.plots.progress import progress_picture
from evenhand.report.words.ceiling import ceiling_course_words, control_words, day_at, wish_words
from tests.histories import FIRST, a_take, day
from tests.unit.planning.weeks import well

SVG = "{http://www.w3.org/2000/svg}"
NOTHING = Measure(None, 40, "bpm")


@pytest.fixture(scope="module")
def weeks() -> StudentProgress:
    rng = np.random.default_rng(5)
    takes = [
        a_take(
            day(x),
            rng,
            spread_ms=(5.0, 6 + 9 * np.exp(-x / 8)),
            tempo=f"1/8={95 + x + more}",
            ceiling_bpm=104 + x,
        )
        for x in range(0, 36, 3)
        for more in (0, 14)
    ]
    return show_progress(History(tuple(takes), (), (), "Ines"), wish="1/8=160")


@pytest.fixture(scope="module")
def svg(weeks: StudentProgress) -> ET.Element:
    return ET.fromstring(progress_picture(weeks))


def joined(svg: ET.Element, class_: str) -> str:
    return "".join(path.get("d") or "" for path in svg.iter(f"{SVG}path") if path.get("class") == class_)


def test_it_is_one_image_with_its_words(svg: ET.Element) -> None:
    assert svg.get("role") == "img"
    desc = svg.find(f"{SVG}desc")
    assert desc is not None
    assert desc.text is not None
    assert "timing, spread, left hand:" in desc.text
    assert "better by more than chance" in desc.text
    assert "tempo ceiling: In control " in desc.text


def test_every_take_is_drawn_for_each_hand(weeks: StudentProgress, svg: ET.Element) -> None:
    by_hand = [course for course in weeks.exercises[0].trajectories if course.hand == "L"]
    points = sum(len(course.points) for course in by_hand)
    assert points == 24 * len(by_hand)
    assert joined(svg, "stick l").count("M") == points + 1  # and one in the key
    assert joined(svg, "whisker l").count("M") == points


def test_marks_stay_inside_the_drawing(svg: ET.Element) -> None:
    _, _, width, height = (float(each) for each in (svg.get("viewBox") or "").split())
    for text in svg.iter(f"{SVG}text"):
        assert 0 <= float(text.get("x") or 0) <= width
        assert 0 <= float(text.get("y") or 0) <= height


def test_the_words_of_the_tempo_say_that_spreads_go_with_it(svg: ET.Element) -> None:
    said = " ".join(text.text or "" for text in svg.iter(f"{SVG}text"))
    assert "from 1/8 = 95 to 142" in said
    assert "The tempo changed over these takes, and spreads go with it." in said


def test_days_are_dates() -> None:
    assert day_at(FIRST, 31.2) == date(2026, 4, 2)


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (WishedTempo(90.0, "reached", NOTHING, None, 80.0, 0.99), "1/8 = 90 is reached (chance 99 %)."),
        (
            WishedTempo(140.0, "may be reached", Measure(50.0, 9, "days", (45.0, 60.0)), None, 80.0, 0.1),
            "If this goes on, 1/8 = 140 may be reached about 21 April (between 16 April and 1 May).",
        ),
        (
            WishedTempo(160.0, "can't tell", NOTHING, 48.0, 80.0, 0.0),
            (
                "Can't tell when 1/8 = 160 may be reached: not likely before 19 April, "
                "and nothing is said of days after 21 May."
            ),
        ),
        (
            WishedTempo(300.0, "can't tell", NOTHING, 80.0, 80.0, 0.0),
            "1/8 = 300 is not likely before 21 May; further ahead nothing can be said.",
        ),
        (
            WishedTempo(160.0, "can't tell", NOTHING, None, 80.0, 0.5),
            "Can't tell when 1/8 = 160 may be reached.",
        ),
        (None, ""),
    ],
)
def test_what_is_said_of_a_wished_tempo(wish: WishedTempo | None, words: str) -> None:
    """Days counted by hand from 2 March 2026."""
    assert wish_words(wish, "1/8", FIRST) == words


def test_a_ceiling_that_cannot_be_followed_says_what_is_known_now() -> None:
    percent, now = Measure(None, 40, "%"), tempo_ceiling(well(110), Fraction(1, 8))
    course = CeilingTrajectory(Fraction(1, 8), (), NOTHING, NOTHING, percent, "can't tell", 40, 3, now=now)
    assert ceiling_course_words(course, FIRST) == f"{control_words(now)} Heard in 40 repetitions on 3 days."
    assert "or more" in control_words(now)
