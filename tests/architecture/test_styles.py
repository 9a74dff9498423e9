"""Style sheets: each class that one names is somewhere in a page, and colours stand in the palette."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2] / "src" / "evenhand"
SHEETS = [*(ROOT / "report" / "style").glob("*.css"), *(ROOT / "web" / "static").glob("*.css")]
MADE = "\n".join(
    path.read_text("utf-8")
    for folder, kinds in (
        ("report", "*.py"),
        ("studio", "*.py"),
        ("web", "*.py"),
        ("web", "*.html"),
        ("web", "*.js"),
    )
    for path in (ROOT / folder).rglob(kinds)
    if "htmx" not in path.name
)
ELSEWHERE = {"htmx-request", "of-figures"}  # htmx sets the one, a section its "of-" with its key the other


def classes(path: Path) -> set[str]:
    """Return the classes that a style sheet's selectors name."""
    text = re.sub(r"/\*.*?\*/", "", path.read_text("utf-8"), flags=re.DOTALL)
    selectors = re.findall(r"([^{};]+)\{", text)
    return {name for each in selectors for name in re.findall(r"\.([a-z][\w-]*)", each)}


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.name)
def test_each_class_of_a_style_sheet_is_in_a_page(path: Path) -> None:
    unused = {
        name for name in classes(path) - ELSEWHERE if not re.search(rf"(?<![\w-]){name}(?![\w-])", MADE)
    }
    assert unused == set()


@pytest.mark.parametrize(
    "path", [path for path in SHEETS if path.name != "palette.css"], ids=lambda path: path.name
)
def test_colours_stand_in_the_palette(path: Path) -> None:
    colours = set(re.findall(r"#[0-9a-f]{3,8}\b(?=[;\s])", path.read_text("utf-8")))
    assert colours <= {"#fff", "#000"}  # white paper and a code's black
