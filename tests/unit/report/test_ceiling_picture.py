"""The picture of a ceiling is whole, and says in words what it shows."""

from __future__ import annotations

from fractions import Fraction
from xml.etree import ElementTree as ET

from evenhand.progress.ceiling.control import TriedRepetition
from evenhand.progress.ceiling.estimate import tempo_ceiling, with_curve
from evenhand.report.plots.progress import ceiling_picture
from evenhand.report.words.ceiling import ceiling_words


def tried(*counts: tuple[float, int, int]) -> list[TriedRepetition]:
    return [
        TriedRepetition("take", i + 1, bpm, 4.0, 6.0, 0, i < well, {"R": i < well})
        for bpm, well, not_well in counts
        for i in range(well + not_well)
    ]


FOUND = with_curve(tempo_ceiling(tried((80, 20, 0), (100, 15, 5), (120, 0, 20)), Fraction(1, 4)))


def test_it_is_one_image_with_its_words() -> None:
    svg = ET.fromstring(ceiling_picture(FOUND))
    assert svg.get("role") == "img"
    desc = svg.find("{http://www.w3.org/2000/svg}desc")
    assert desc is not None
    assert desc.text == ceiling_words(FOUND)


def test_every_repetition_is_drawn() -> None:
    svg = ET.fromstring(ceiling_picture(FOUND))
    paths = {path.get("class"): path.get("d") or "" for path in svg.iter("{http://www.w3.org/2000/svg}path")}
    assert (paths["well"].count("M"), paths["not"].count("M")) == (35, 25)


def test_the_words_give_beat_interval_and_count() -> None:
    words = ceiling_words(FOUND)
    assert "1/4 = 10" in words
    assert "60 repetitions" in words
    assert "between" in words


def test_an_open_end_is_said_as_such() -> None:
    assert "or more" in ceiling_words(tempo_ceiling(tried((80, 10, 0)), Fraction(1, 4)))
    assert "or less" in ceiling_words(tempo_ceiling(tried((80, 0, 10)), Fraction(1, 4)))
    assert "not known yet" in ceiling_words(tempo_ceiling(tried((80, 4, 1)), Fraction(1, 4)))


def test_nothing_heard_is_still_a_picture() -> None:
    ET.fromstring(ceiling_picture(tempo_ceiling([], Fraction(1, 4))))
