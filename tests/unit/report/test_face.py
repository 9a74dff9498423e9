"""The text face: one for the studio and for a page that is one file, its licence beside it."""

from __future__ import annotations

import re
from base64 import b64decode
from importlib.resources import files
from importlib.resources.abc import Traversable

import pytest

from evenhand.report.plots.shell import SIZE_ADJUST, face_rules, page, style_sheet

STATIC = files("evenhand.web") / "static"
FOLDERS = (files("evenhand.report") / "faces", STATIC / "faces")
STYLES = ("regular", "bold", "italic")
WOFF2 = b"wOF2"  # how such a file begins: WOFF 2.0, section 4 (W3C)
SMALL_BYTES, REPORT_BYTES = 32_000, 70_000


@pytest.mark.parametrize("folder", FOLDERS, ids=("report", "studio"))
def test_each_style_is_there_small_with_its_licence(folder: Traversable) -> None:
    for style in STYLES:
        data = (folder / f"libertinus-serif-{style}.woff2").read_bytes()
        assert data.startswith(WOFF2)
        assert len(data) < SMALL_BYTES
    licence = (folder / "OFL.txt").read_text("utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    assert licence.startswith("Copyright © 2012-2024 The Libertinus Project Authors")


def test_a_page_that_is_one_file_holds_the_face() -> None:
    made = page("a")
    assert face_rules() in made
    held = [b64decode(data) for data in re.findall(r"url\(data:font/woff2;base64,([^)]+)\)", made)]
    assert held == [(FOLDERS[0] / f"libertinus-serif-{style}.woff2").read_bytes() for style in STYLES]
    assert len(face_rules()) < REPORT_BYTES


def test_the_studio_and_the_report_ask_for_the_same_face_in_the_same_size() -> None:
    style = (STATIC / "studio.css").read_text("utf-8")
    assert '--face:"Libertinus Serif",' in style_sheet("palette")
    assert "var(--face)" in style
    assert "var(--face)" in style_sheet("marks")
    assert re.findall(r"[^-]size-adjust: (\S+);", style) == [SIZE_ADJUST] * len(STYLES)
    assert re.findall(r"url\((faces/[^)]+)\)", style) == [
        f"faces/libertinus-serif-{each}.woff2" for each in STYLES
    ]
