"""Paper and page have one face: the browser makes a line as long as the setter of the sheet does."""

from __future__ import annotations

import json

import pytest
import typst
from playwright.sync_api import Browser

from evenhand.report.plots.shell import SIZE_ADJUST, face_rules
from tests.e2e.rooms import House, a_room

pytestmark = pytest.mark.e2e

LINES = (
    "The left hand comes 20 ms behind the right (18 to 22).",
    "Paradiddle from its fourth note, half strokes, 6–9 in",
    "officially, offbeat, fjord, Ágnes Łukaszewicz, Şule Țurcanu",
)
SIZE, NEAR = 100, 0.002  # px or pt; of a line's length
PAPER = """
#let said = json(bytes(sys.inputs.lines))
#let style = sys.inputs.style
#context [#metadata(said.map(line => measure(
  text(font: "Libertinus Serif", size: 100pt, number-type: "lining", number-width: "tabular",
    weight: if style == "700" { 700 } else { 400 },
    style: if style == "italic" { "italic" } else { "normal" },
    hyphenate: false, box(line))).width.pt())) <widths>]
"""
PAGE = """async ([lines, weight, style]) => {
  const font = `${style} ${weight} 100px "Libertinus Serif"`;
  await document.fonts.load(font);
  const held = document.body.appendChild(document.createElement("div"));
  Object.assign(held.style, { font, fontVariantNumeric: "lining-nums tabular-nums", whiteSpace: "pre" });
  return lines.map((line) => {
    const span = document.createElement("span");
    span.textContent = line;
    held.replaceChildren(span);
    return span.getBoundingClientRect().width;
  });
}"""


def on_paper(lines: tuple[str, ...], style: str) -> list[float]:
    """Ask the setter how long the lines are, pt."""
    inputs = {"lines": json.dumps(lines), "style": style}
    said = typst.query(PAPER.encode(), "<widths>", field="value", one=True, sys_inputs=inputs)
    return [float(width) for width in json.loads(said)]


@pytest.mark.parametrize(("weight", "style"), [("400", "normal"), ("700", "normal"), ("400", "italic")])
def test_a_line_is_as_long_on_the_page_as_on_paper(
    browser: Browser, house: House, weight: str, style: str
) -> None:
    with a_room(browser, house, "teacher") as room:
        room.open("/")
        seen = room.page.evaluate(PAGE, [list(LINES), weight, style])
    larger = float(SIZE_ADJUST.rstrip("%")) / 100
    paper = on_paper(LINES, "700" if weight == "700" else style)
    assert [width / larger for width in seen] == [pytest.approx(width, rel=NEAR) for width in paper]


def test_figures_are_all_of_one_width(browser: Browser, house: House) -> None:
    lines = [str(figure) * 10 for figure in range(10)]
    with a_room(browser, house, "teacher") as room:
        room.open("/")
        for weight in ("400", "700"):
            widths = room.page.evaluate(PAGE, [lines, weight, "normal"])
            assert max(widths) - min(widths) < 0.01 * SIZE


def test_a_report_brings_its_face_with_it(browser: Browser, house: House) -> None:
    """Its rules alone, in a page without a network, make a line as long as on paper."""
    with a_room(browser, house) as room:
        room.page.set_content(f"<!doctype html><style>{face_rules()}</style><body>")
        seen = room.page.evaluate(PAGE, [list(LINES[:2]), "400", "normal"])
    larger = float(SIZE_ADJUST.rstrip("%")) / 100
    assert [width / larger for width in seen] == [
        pytest.approx(width, rel=NEAR) for width in on_paper(LINES[:2], "normal")
    ]
