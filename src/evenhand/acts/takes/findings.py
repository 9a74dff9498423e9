"""Read back what was found in takes: the JSON files that ``evenhand listen`` wrote (docs/json.md)."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evenhand.acts.takes.document import finding_of
from evenhand.errors import BadExercise, BadList
from evenhand.music.text import parse_exercise
from evenhand.planning.choosing import TakeFindings

SCHEMA_ID = "urn:evenhand:listen-1"
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
        take = _take(_loaded(path), path)
        if take is None:
            blind.append(path.name)
        else:
            takes.append(take)
    return HeardTakes(tuple(takes), tuple(blind))


def _files(path: Path) -> list[Path]:
    """List the files that a path stands for."""
    if not path.is_dir():
        return [path]
    inside = sorted(each for each in path.iterdir() if each.suffix.lower() == SUFFIX and each.is_file())
    if not inside:
        raise BadList(where=str(path), got="a folder with no *.json in it", must_be=_MUST_BE)
    return inside


def _loaded(path: Path) -> dict[str, Any]:
    """Load one file, or say what it is instead."""
    try:
        with path.open("rb") as file:  # not its size first: a device has none
            data = file.read(LARGEST_BYTES + 1)
        if len(data) > LARGEST_BYTES:
            raise BadList(where=str(path), got=f"more than {LARGEST_BYTES // 2**20} MB", must_be=_MUST_BE)
        loaded = json.loads(data)
    except OSError as error:
        raise BadList(where=str(path), got=error.strerror or str(error), must_be=_MUST_BE) from error
    except (ValueError, RecursionError) as error:
        raise BadList(where=str(path), got="a file that is not JSON", must_be=_MUST_BE) from error
    whole: dict[str, Any] = loaded if isinstance(loaded, dict) else {}
    schema = whole.get("schema")
    if schema != SCHEMA_ID:
        got = "JSON without a schema" if schema is None else f"JSON of the schema {schema!r}"
        raise BadList(where=str(path), got=got, must_be=_MUST_BE)
    return whole


def _take(loaded: dict[str, Any], path: Path) -> TakeFindings | None:
    """Make a take of a file's JSON; None where it was heard blind."""
    if loaded.get("exercise") is None:
        return None
    try:
        exercise = parse_exercise(loaded["exercise"])
        findings = tuple(finding_of(each) for each in loaded["findings"])
    except BadExercise as error:
        raise BadList(where=str(path), got=f"the exercise {error.text!r}", must_be=error.must_be) from error
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise BadList(where=str(path), got=f"a finding that is none ({error})", must_be=_MUST_BE) from error
    return TakeFindings(path.name, exercise, findings)
