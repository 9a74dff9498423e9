"""The signs of music: the font's own outlines and boxes, scaled and turned the page's way."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.svgLib.path import parse_path

from evenhand.music.engraving import stems as glyphs
from evenhand.music.engraving.stems import bottom_and_top, middle, number, placed, sign_of

SIGNS = Path(glyphs.__file__).with_name("signs.json")
CODES = sorted(json.loads(SIGNS.read_text("utf-8")))


@pytest.mark.parametrize("code", CODES)
def test_a_sign_is_the_fonts_own(code: str) -> None:
    """The outlines of the pinned release of verovio, whose font the signs were cut from."""
    glyph = ET.fromstring((files("verovio") / "data" / "Bravura" / f"{code}.xml").read_bytes())
    assert sign_of(code).outline == next(glyph.iter("path")).attrib["d"]


@pytest.mark.parametrize("code", CODES)
def test_a_sign_fills_its_box(code: str) -> None:
    """Measured by an independent reader of SVG paths (fontTools); the font gives boxes to a unit or two."""
    sign, pen = sign_of(code), BoundsPen(None)
    parse_path(sign.outline, pen)
    box = (sign.left, sign.bottom, sign.left + sign.width, sign.bottom + sign.height)
    assert pen.bounds == pytest.approx(box, abs=3)


def test_the_licence_of_the_signs_lies_beside_them() -> None:
    assert "SIL OPEN FONT LICENSE" in SIGNS.with_name("OFL.txt").read_text("utf-8")


def test_a_black_head_is_as_wide_and_high_as_the_font_says() -> None:
    """Published metadata of the font: 1.18 staff spaces wide, 1 high; a space is 250 font units."""
    assert middle("E0A4") == pytest.approx(1.18 * 250 / 2)
    assert bottom_and_top("E0A4") == (-125, 125)


def test_contours_follow_each_other() -> None:
    """By hand: the clef's second bar begins at (382, 235), the first having closed at (160, -235)."""
    assert sign_of("E069").outline.startswith("M160 -235c")
    assert "zM382 235v-470c" in sign_of("E069").outline
    assert placed("E069", 10, 20, 0.1).startswith("M10 20m16 23.5c")
    assert "zm22.2 -47v47c" in placed("E069", 0, 0, 0.1)


@pytest.mark.parametrize(
    ("value", "text"), [(1.0, "1"), (0.0, "0"), (-0.001, "0"), (-1.5, "-1.5"), (2.345678, "2.35")]
)
def test_numbers_are_short(value: float, text: str) -> None:
    assert number(value) == text
