"""Any text is a list of takes, or is refused with the place of what is wrong."""

from __future__ import annotations

import csv
import io
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.acts.takes.many import read_list
from evenhand.errors import BadList

HEADING = "file,exercise,tempo\n"
CELLS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12)
NAMES = CELLS.map(str.strip).filter(lambda name: bool(name) and Path(name).name not in ("", "..", "."))


@given(st.one_of(st.text(), st.text().map(HEADING.__add__)))
def test_any_text_is_read_or_refused_by_place(text: str) -> None:
    with suppress(BadList):
        assert read_list(text, name="week.csv", folder=Path("takes"))


@given(st.lists(NAMES, min_size=1, max_size=8))
def test_every_row_becomes_a_take_with_a_result_of_its_own(names: list[str]) -> None:
    """Whatever the names hold: commas, quotes, case, dots."""
    out = io.StringIO()
    csv.writer(out).writerows([["file", "exercise", "tempo"], *([name, "", ""] for name in names)])
    takes = read_list(out.getvalue(), name="week.csv", folder=Path("takes"))
    assert [take.path for take in takes] == [Path("takes") / name for name in names]
    assert len({take.stem.casefold() for take in takes}) == len(names)


@given(st.lists(CELLS.map(lambda cell: cell.strip() or "x"), min_size=4, max_size=6))
def test_a_row_longer_than_its_heading_is_refused(cells: list[str]) -> None:
    out = io.StringIO()
    csv.writer(out).writerow(cells)
    with pytest.raises(BadList, match="row 2"):
        read_list(HEADING + out.getvalue(), name="week.csv", folder=Path())
