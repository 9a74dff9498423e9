"""The notation engraver is not believed: what it returns is checked."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace
from xml.etree import ElementTree as ET

import pytest

from evenhand.errors import CannotEngrave
from evenhand.music.engraving import glyphs as engraver
from evenhand.music.engraving.glyphs import (
    bottom_and_top,
    draw_mei,
    glyph_boxes,
    glyph_outline,
    middle,
    number,
    placed,
)
from evenhand.music.engraving.mei import to_mei
from evenhand.music.engraving.shapes import take_apart
from evenhand.music.text import parse_exercise


def blank(*, takes: bool) -> SimpleNamespace:
    """Make a toolkit that loads everything and draws nothing; ``takes`` is what options return."""
    return SimpleNamespace(
        setResourcePath=lambda _: None,
        setOptions=lambda _: takes,
        loadData=lambda _: True,
        renderToSVG=lambda _: "",
    )


@pytest.fixture
def fresh(monkeypatch: pytest.MonkeyPatch) -> Iterator[pytest.MonkeyPatch]:
    """Forget this thread's toolkit for one test."""
    monkeypatch.delattr(engraver._here, "toolkit", raising=False)  # noqa: SLF001 - what is tested
    yield monkeypatch
    vars(engraver._here).pop("toolkit", None)  # noqa: SLF001 - what is tested


def test_music_that_is_refused_is_an_error() -> None:
    with pytest.raises(CannotEngrave, match="the engraver refused the music"):
        draw_mei("no music")


def test_an_empty_drawing_is_an_error(fresh: pytest.MonkeyPatch) -> None:
    fresh.setattr("verovio.toolkit", lambda _: blank(takes=True))
    with pytest.raises(CannotEngrave, match="the engraver drew nothing"):
        draw_mei("<mei/>")


def test_options_that_are_not_taken_are_an_error(fresh: pytest.MonkeyPatch) -> None:
    fresh.setattr("verovio.toolkit", lambda _: blank(takes=False))
    with pytest.raises(CannotEngrave, match="did not take its options"):
        draw_mei("<mei/>")


def test_a_drawing_without_a_staff_is_an_error() -> None:
    with pytest.raises(CannotEngrave, match="the drawing has no staff"):
        take_apart(ET.Element("{http://www.w3.org/2000/svg}svg"))


def test_a_warning_would_be_seen(capfd: pytest.CaptureFixture[str]) -> None:
    """The tests that want silence hear the engraver's own log: broken music breaks it."""
    mei = to_mei(parse_exercise("1/8: RL"))
    head, _, rest = mei.partition("<meiHead>")
    draw_mei(head + rest.partition("</meiHead>")[2])
    assert "[Warning]" in capfd.readouterr().err


def test_the_toolkit_is_made_once_a_thread() -> None:
    draw_mei(to_mei(parse_exercise("1/8: RL")))
    first = engraver._here.toolkit  # noqa: SLF001 - what is tested
    draw_mei(to_mei(parse_exercise("1/8: LR")))
    assert engraver._here.toolkit is first  # noqa: SLF001 - what is tested


def test_a_black_head_is_as_wide_and_high_as_the_font_says() -> None:
    """Published metadata of the font: 1.18 staff spaces wide, 1 high; a space is 250 font units."""
    assert middle("E0A4") == pytest.approx(1.18 * 250 / 2)
    assert bottom_and_top("E0A4") == (-125, 125)
    assert len(glyph_boxes()) > 800


def test_an_outline_is_scaled_turned_over_and_relative() -> None:
    """By hand: the font's augmentation dot begins at (50, 50) and runs clockwise seen upwards."""
    assert glyph_outline("E044").startswith("M50 50c27 0 50 -22 50 -50")
    assert placed("E044", 10, 20, 0.1).startswith("M10 20m5 -5c2.7 0 5 2.2 5 5")


def test_contours_follow_each_other() -> None:
    """By hand: the clef's second bar begins at (382, 235), the first having closed at (160, -235)."""
    assert glyph_outline("E069").startswith("M160 -235c")
    assert "zM382 235v-470c" in glyph_outline("E069")
    assert "zm22.2 -47v47c" in placed("E069", 0, 0, 0.1)


@pytest.mark.parametrize(
    ("value", "text"), [(1.0, "1"), (0.0, "0"), (-0.001, "0"), (-1.5, "-1.5"), (2.345678, "2.35")]
)
def test_numbers_are_short(value: float, text: str) -> None:
    assert number(value) == text
