"""The week as bursts of sticks: one a take, on its day, with its twin in words."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from evenhand.report.plots.week import DAY_PX, MOST_STICKS, DayMarks, week_marks, week_words

NAMES = ("Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed")


def week(*takes: int) -> list[DayMarks]:
    return [DayMarks(name, n, name == "Wed") for name, n in zip(NAMES, takes, strict=True)]


def sticks(svg: str) -> list[float]:
    """Read where the sticks begin."""
    paths = re.findall(r'<path class="both"[^>]*d="([^"]+)"', svg)
    return sorted(float(x) for d in paths for x in re.findall(r"M([\d.]+) ", d))


@pytest.mark.parametrize("takes", [(0, 0, 0, 0, 0, 0, 0), (1, 0, 3, 0, 0, 2, 0), (12, 1, 1, 1, 1, 1, 1)])
def test_there_is_a_stick_for_each_take_within_its_day(takes: tuple[int, ...]) -> None:
    at = sticks(week_marks(week(*takes)))
    assert [sum(day * DAY_PX <= x < (day + 1) * DAY_PX for x in at) for day in range(7)] == list(takes)


def test_many_takes_stay_within_their_day_and_the_words_have_their_number() -> None:
    marked = week_marks(week(40, 0, 0, 0, 0, 0, 0))
    assert len(sticks(marked)) == MOST_STICKS
    assert max(sticks(marked)) < DAY_PX
    assert "Thu 40 takes" in marked


def test_takes_are_counted_in_no_hands_colour_nor_shape() -> None:
    """Upright, in plain ink: the two inks and the two leans mean hands, and here no hand is meant."""
    marked = week_marks(week(4, 0, 0, 0, 0, 0, 0))
    (drawn,) = re.findall(r'<path class="both"[^>]*d="([^"]+)"', marked)
    assert re.fullmatch(r"(M[\d.]+ [\d.]+v-12\.8){4}", drawn)
    assert not re.search(r'class="[rl]"', marked)


def test_the_picture_has_a_twin_in_words_and_is_sound_markup() -> None:
    marked = ET.fromstring(week_marks(week(0, 2, 0, 0, 1, 0, 0)))
    assert marked.get("role") == "img"
    assert marked.get("aria-label") == "Fri 2 takes and Mon 1 take; nothing on the other days."
    letters = [text.text for text in marked.iter("{http://www.w3.org/2000/svg}text")]
    assert letters == list(NAMES)
    assert week_words(week(0, 0, 0, 0, 0, 0, 0)) == "No take in these days."
    assert week_words(week(1, 1, 1, 1, 1, 1, 1)).endswith("and Wed 1 take.")


def test_the_lessons_day_stands_out() -> None:
    marked = ET.fromstring(week_marks(week(0, 0, 0, 0, 0, 0, 0)))
    marks = [text.get("class") for text in marked.iter("{http://www.w3.org/2000/svg}text")]
    assert marks == [None] * 6 + ["lesson"]
