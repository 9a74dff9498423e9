"""The chart of heights says what a free rebound allows, to the eye and in words."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest

from evenhand.acts.exercises.strokes import StrokeOptions, height_chart, plan_exercise
from evenhand.acts.takes.request import TakeRequest
from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import Unit
from evenhand.report.plots.reach import BOTTOM, HEIGHT, TOP, HeightChart, HeightCurve, draw_heights
from tests.unit.pages.reading import SVG, drawings


def chart_of(text: str, tempo: str, unit: Unit = "in") -> HeightChart:
    return height_chart(plan_exercise(TakeRequest.read(text, tempo), StrokeOptions(unit=unit)))


def drawn(chart: HeightChart) -> ET.Element:
    (drawing,) = drawings(draw_heights(chart))
    return drawing


def texts(drawing: ET.Element) -> list[str]:
    return [each.text or "" for each in drawing.iter(f"{SVG}text")]


def paths(drawing: ET.Element, kind: str) -> list[ET.Element]:
    return [each for each in drawing.iter(f"{SVG}path") if kind in each.attrib.get("class", "").split()]


def test_singles_are_free_to_where_a_fall_and_a_rise_fit() -> None:
    """By hand: of sixteenths each hand has an eighth, 30 / bpm s.

    11, 7.5 and 4 in take 0.4774, 0.3942 and 0.2879 s up and down: to 62.8, 76.1 and 104.2 quarters a minute.
    """
    (curve,) = chart_of("1/16: RLRL", "1/4=80").curves
    assert curve.hand is None
    assert [(name, round(bpm, 1)) for name, bpm, _ in curve.stops] == [
        ("full", 62.8),
        ("half", 76.1),
        ("tap", 104.2),
    ]


def test_every_class_that_stops_being_free_is_marked_with_its_tempo() -> None:
    drawing = drawn(chart_of("1/16: RLRL", "1/4=80"))
    assert {"full free up to 62", "half free up to 76", "tap free up to 104"} <= set(texts(drawing))
    assert len(paths(drawing, "end")) == 3


def test_it_says_in_words_what_it_shows() -> None:
    drawing = drawn(chart_of("1/16: RLRR LRLL", "1/4=80"))
    words = drawing.findtext(f"{SVG}desc") or ""
    assert "Both hands, rising and falling without force: full strokes up to 1/4 = 31" in words
    assert "between 1/4 = 75 and 100" in words
    assert (drawing.findtext(f"{SVG}title") or "").endswith("1/16: RLRR LRLL")
    assert drawing.attrib["role"] == "img"


@pytest.mark.parametrize(
    ("unit", "top", "band"), [("in", "14", "10 to 12 in"), ("cm", "35", "25.4 to 30.5 cm")]
)
def test_heights_are_written_in_the_unit_asked_for(unit: Unit, top: str, band: str) -> None:
    said = texts(drawn(chart_of("1/8: RL", "1/8=120", unit)))
    assert {unit, top, band} <= set(said)


def test_the_line_breaks_where_doubles_become_a_throw_and_its_bounce() -> None:
    """By hand: in the paradiddle the doubles turn at 1/4 = 100; left are ways of an eighth, 0.3 s there."""
    (curve,) = chart_of("1/16: RLRR LRLL", "1/4=80").curves
    slow, fast = curve.free
    assert slow[-1][0] == pytest.approx(100, abs=0.01)
    assert fast[0][0] == pytest.approx(100, abs=0.01)
    assert slow[-1][1] == pytest.approx(100 * 9.80665 * 0.15**2 / 8, rel=1e-4)
    assert fast[0][1] == pytest.approx(100 * 9.80665 * 0.3**2 / 8, rel=1e-4)


def test_hands_that_differ_have_a_line_each_told_apart_without_colour() -> None:
    drawing = drawn(chart_of("3/4 1/8: R L L R L L", "1/4=120"))
    assert {each.attrib["class"] for each in paths(drawing, "free")} == {"free r", "free l"}
    assert "L: full free up to 62" in texts(drawing)
    style = drawing.findtext(f"{SVG}style") or ""
    assert ".free.l{stroke-dasharray" in style


def test_it_stands_alone_in_light_dark_and_print() -> None:
    style = drawn(chart_of("1/8: RL", "1/8=120")).findtext(f"{SVG}style") or ""
    for part in ("--paper:#fbf8f1", "prefers-color-scheme:dark", "@media print"):
        assert part in style


def test_only_buzzes_rise_to_nothing() -> None:
    drawing = drawn(chart_of("1/4: R~ L~", "1/4=80"))
    assert "only buzz strokes: nothing rises by itself" in texts(drawing)
    assert paths(drawing, "free") == []


def test_nothing_is_drawn_outside() -> None:
    """The highest line comes in at the top edge, and no number is endless."""
    drawing = drawn(chart_of("1/8: RL", "1/8=40"))
    for each in paths(drawing, "free"):
        if "h" in each.attrib["d"]:
            continue  # the key's
        places = [float(part.split()[1]) for part in each.attrib["d"].replace("M", "L").split("L")[1:]]
        assert min(places) >= TOP
        assert max(places) <= HEIGHT - BOTTOM


def test_marks_of_two_hands_that_stand_close_have_their_words_apart() -> None:
    hands: tuple[tuple[Hand, float], ...] = (("R", 90.0), ("L", 100.0))
    curves = tuple(
        HeightCurve(hand, (((60.0, 12.0), (at, 10.0), (150.0, 3.0)),), (), (("tap", at, 10.0),))
        for hand, at in hands
    )
    chart = replace(chart_of("1/8: RL", "1/8=120"), curves=curves, from_bpm=50, to_bpm=160)
    ys = [
        float(each.attrib["y"]) for each in drawn(chart).iter(f"{SVG}text") if "free up" in (each.text or "")
    ]
    assert len(ys) == 2
    assert abs(ys[0] - ys[1]) > 13


def test_the_file_ends_in_a_line_break() -> None:
    assert draw_heights(chart_of("1/8: RL", "1/8=120")).endswith("</svg>\n")
