"""The week as bursts of sticks: one a take, on its day, with its twin in words."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from evenhand.pages.week_marks import DAY_PX, MOST_STICKS, DayMarks, week_marks, week_words

NAMES = ("Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed")


def week(*takes: int) -> list[DayMarks]:
    return [DayMarks(name, n, name == "Wed") for name, n in zip(NAMES, takes, strict=True)]


def sticks(svg: str) -> list[float]:
    """Read where the sticks begin, right ones and left ones."""
    paths = re.findall(r'<path class="[rl]"[^>]*d="([^"]+)"', svg)
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


def test_hands_alternate_so_that_shape_is_there_before_colour() -> None:
    marked = week_marks(week(4, 0, 0, 0, 0, 0, 0))
    right = re.search(r'class="r"[^>]*d="([^"]+)"', marked)
    left = re.search(r'class="l"[^>]*d="([^"]+)"', marked)
    assert right is not None
    assert left is not None
    assert re.fullmatch(r"(M[\d.]+ [\d.]+l8\.4 -12\.8)+", right[1])  # rising: /
    assert re.fullmatch(r"(M[\d.]+ [\d.]+l8\.4 12\.8)+", left[1])  # falling: \
    assert right[1].count("M") == left[1].count("M") == 2


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
