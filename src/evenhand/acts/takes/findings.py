"""Read back what was found in takes: the JSON files that ``evenhand listen`` wrote (docs/json.md)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evenhand.acts.fields import read_text_file
from evenhand.acts.takes.document import heard_take_of
from evenhand.errors import BadDocument, BadList
from evenhand.measuring.values import HeardTake
from evenhand.planning.choosing import TakeFindings

SUFFIX = ".json"
LARGEST_BYTES = 256 * 2**20
_MUST_BE = "a JSON file written by evenhand listen --json, or a folder of such files"


@dataclass(frozen=True, slots=True)
class HeardTakes:
    """The takes that were read, and the names of those heard blind: nothing is known of their hands."""

    takes: tuple[TakeFindings, ...]
    blind: tuple[str, ...]


def read_takes(paths: Sequence[Path]) -> HeardTakes:
    """Read takes from files, and from folders of ``*.json``.

    Raises
    ------
    BadList
        Naming the first file that is no heard take, and what is wrong with it.
    """
    takes, blind = [], []
    for path in [file for each in paths for file in _files(each)]:
        take = _take(path)
        if take.exercise is None:
            blind.append(path.name)
        else:
            takes.append(TakeFindings(path.name, take.exercise, take.findings))
    return HeardTakes(tuple(takes), tuple(blind))


def _files(path: Path) -> list[Path]:
    """List the files that a path stands for."""
    if not path.is_dir():
        return [path]
    inside = sorted(each for each in path.iterdir() if each.suffix.lower() == SUFFIX and each.is_file())
    if not inside:
        raise BadList(where=str(path), got="a folder with no *.json in it", must_be=_MUST_BE)
    return inside


def _take(path: Path) -> HeardTake:
    """Read one file, or say what it is instead."""
    text = read_text_file(path, error=BadList, largest_bytes=LARGEST_BYTES, must_be=_MUST_BE)
    try:
        return heard_take_of(text)
    except BadDocument as error:
        raise BadList(where=str(path), got=error.got, must_be=error.must_be) from error
