"""Which grip, or which hand, each drop was: typed in a row, or read from a small table."""

from __future__ import annotations

import csv
import io

from evenhand.errors import BadList, WrongOptions

COLUMNS = ("grip", "hand")
IGNORED = ("drop", "note")
HANDS = ("R", "L")
LONGEST_LABEL = 60


def typed_grips(text: str) -> tuple[str, ...]:
    """Read grips with commas between.

    >>> typed_grips("fingertips, whole hand")
    ('fingertips', 'whole hand')
    """
    labels = tuple(part.strip() for part in text.split(","))
    if not all(labels) or any(len(label) > LONGEST_LABEL for label in labels):
        must_be = f"a name for each drop with commas between, of {LONGEST_LABEL} characters at most"
        raise WrongOptions(got=f"grips {text!r}", must_be=must_be)
    return labels


def typed_hands(text: str) -> tuple[str, ...]:
    """Read hands with commas between.

    >>> typed_hands("R,L, r")
    ('R', 'L', 'R')
    """
    hands = tuple(part.strip().upper() for part in text.split(","))
    if not all(hand in HANDS for hand in hands):
        raise WrongOptions(got=f"hands {text!r}", must_be="R or L for each drop with commas between")
    return hands


def table_labels(text: str, name: str) -> tuple[str, ...]:
    """Read a table with a heading, ``grip`` or ``hand`` or both, and a row for each drop in order."""
    try:
        lines = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True))
    except csv.Error as error:
        raise BadList(where=name, got=str(error), must_be="comma-separated values") from error
    rows = [(number, [cell.strip() for cell in row]) for number, row in enumerate(lines, start=1) if any(row)]
    if not rows:
        raise BadList(where=name, got="nothing", must_be="the heading grip or hand, and a row for each drop")
    heading = [cell.lower() for cell in rows[0][1]]
    _check_heading(heading, name)
    labels = tuple(
        _label(number, dict(zip(heading, cells, strict=False)), name) for number, cells in rows[1:]
    )
    if not labels:
        raise BadList(where=name, got="a heading alone", must_be="a row for each drop below it")
    return labels


def _check_heading(heading: list[str], name: str) -> None:
    """Refuse a heading that says neither grip nor hand, or something else besides."""
    unknown = [column for column in heading if column not in (*COLUMNS, *IGNORED)]
    if unknown or len(set(heading)) < len(heading) or not set(heading) & set(COLUMNS):
        got = f"the columns {', '.join(heading)}"
        raise BadList(where=f"{name}, row 1", got=got, must_be="grip or hand, and if wanted drop and note")


def _label(number: int, cells: dict[str, str], name: str) -> str:
    """Read one row."""
    hand = cells.get("hand", "").upper()
    if "hand" in cells and hand not in HANDS:
        raise BadList(where=f"{name}, row {number}, column hand", got=repr(cells["hand"]), must_be="R or L")
    grip = cells.get("grip", "")
    label = ", ".join(part for part in (hand, grip) if part)
    if not label or len(label) > LONGEST_LABEL:
        must_be = f"a name of 1 to {LONGEST_LABEL} characters"
        raise BadList(where=f"{name}, row {number}", got=repr(label), must_be=must_be)
    return label
