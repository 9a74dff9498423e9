"""Every entry takes what it begins from, and refuses in words what is drawn; ``make fuzz`` goes on longer."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, seed

from tests.depth import share
from tests.fuzz.__main__ import changed, drawn, variants
from tests.fuzz.entries import PARSED, Entry, Tries, refuses
from tests.fuzz.others import ENTRIES

REST = [entry for entry in ENTRIES if entry not in PARSED]
QUICK, LONG = 0.25, 0.2


def try_drawn(entry: Entry, folder: Path, part: float) -> None:
    tries, seeds = entry.makes(folder)
    for content in seeds:
        tries(content)

    @seed(1)
    @share(part)
    @given(variants(seeds))
    def law(content: bytes) -> None:
        tries(content)

    law()


@pytest.mark.parametrize("entry", PARSED, ids=lambda entry: entry.name)
def test_a_parser_reads_or_refuses(entry: Entry, tmp_path: Path) -> None:
    try_drawn(entry, tmp_path, QUICK)


@pytest.mark.deep
@pytest.mark.parametrize("entry", REST, ids=lambda entry: entry.name)
def test_what_else_comes_in_is_taken_or_refused(entry: Entry, tmp_path: Path) -> None:
    try_drawn(entry, tmp_path, LONG)


def saying(words: str) -> Tries:
    """Give an entry that refuses whatever is not empty with these words."""

    def reads(content: bytes) -> None:
        if content:
            raise ValueError(words)

    return reads


def test_what_is_raised_is_a_find_and_what_is_refused_on_one_line_is_none() -> None:
    short, long = saying("no"), saying("no,\nnot this")
    with pytest.raises(ValueError, match="no"):
        drawn(short, [b"some"], minutes=0.1, first=1)
    with pytest.raises(AssertionError):
        drawn(refuses(long, ValueError), [b"some"], minutes=0.1, first=1)
    assert drawn(refuses(short, ValueError), [b"some"], minutes=0.001, first=1) >= 100


def test_contents_are_changed_in_every_way() -> None:
    assert changed(b"abcdef", [(0.5, 0.5, b"X", 0)]) == b"abcXef"
    assert changed(b"abcdef", [(0.5, 0.5, b"X", 1)]) == b"abcXdef"
    assert changed(b"abcdef", [(0.0, 0.5, b"", 2)]) == b"def"
    assert changed(b"abcdef", [(0.0, 0.5, b"", 3)]) == b"abcabcdef"
