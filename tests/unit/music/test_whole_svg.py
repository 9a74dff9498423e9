"""One drawing that stands on its own."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.engraved import whole_svg
from evenhand.music.text import parse_exercise

SVG = "{http://www.w3.org/2000/svg}"
LONG = engrave(parse_exercise("4/4 1/16: " + "RLRR LRLL " * 8), width=700, repeat=4, id_prefix="x")
SHORT = engrave(parse_exercise("1/8: RLRR"), width=700)


def test_all_lines_stand_under_each_other_inside_it() -> None:
    svg = ET.fromstring(whole_svg(LONG))
    moves = [
        float(group.attrib["transform"].removesuffix(")").split()[1]) for group in svg.findall(f"{SVG}g")
    ]
    assert len(moves) == len(LONG.lines) == 4
    feet = [top + line.height for top, line in zip(moves, LONG.lines, strict=True)]
    assert all(foot < top for foot, top in zip(feet, moves[1:], strict=False))
    _, _, width, height = map(float, svg.attrib["viewBox"].split())
    assert feet[-1] < height
    assert max(line.width for line in LONG.lines) < width
    assert (svg.get("width"), svg.get("height")) == tuple(svg.attrib["viewBox"].split()[2:])


def test_its_ink_is_its_own() -> None:
    text = whole_svg(LONG)
    assert "currentColor" not in text
    assert re.fullmatch(r"#[0-9a-f]{6}", ET.fromstring(text).attrib["fill"])


def test_a_screen_reader_hears_its_title_and_every_line() -> None:
    svg = ET.fromstring(whole_svg(LONG, title='Sixteens <& "more">\x07'))
    title, words = svg.find(f"{SVG}title"), svg.find(f"{SVG}desc")
    assert title is not None
    assert words is not None
    assert title.text == 'Sixteens <& "more">'
    assert (words.text or "").count("Sticking, line ") == 4
    assert svg.get("aria-labelledby") == f"{title.get('id')} {words.get('id')}"


def test_the_ground_is_clear_unless_asked_for() -> None:
    assert "<rect" not in whole_svg(SHORT)
    ground = ET.fromstring(whole_svg(SHORT, background="white")).find(f"{SVG}rect")
    assert ground is not None
    assert ground.get("fill") == "white"


def test_it_is_one_document_with_its_name_space_once_and_the_same_bytes_each_time() -> None:
    text = whole_svg(LONG, title="a")
    assert text.startswith("<?xml")
    assert text.count("xmlns=") == text.count("<svg") == 1
    assert text == whole_svg(LONG, title="a")
