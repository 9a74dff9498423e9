"""A path's stages as a TOML file that a teacher can edit.

Conventions: one ``[[stage]]`` a stage, in order, with its ``[[stage.condition]]``. A bound is a
number in the measure's unit, or ``"audible"``: what an ear can tell. Keys that are not known are
refused, so that none is misspelt in silence.

Write a path's stages as TOML with comments, for a teacher to edit.
"""

from __future__ import annotations

import json
import math
import re
import tomllib
from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from fractions import Fraction
from pathlib import Path
from typing import NoReturn

from evenhand.errors import BadPath
from evenhand.music.exercise import FASTEST_BPM, SLOWEST_BPM
from evenhand.music.strokes.heights import STROKE_CLASSES, StrokeClass
from evenhand.progress.stages.path import (
    PATH_MEASURES,
    Condition,
    PathMeasure,
    PracticePath,
    Stage,
    plain_name,
)

AUDIBLE = "audible"
LARGEST_BYTES = 1_000_000
MOST_STAGES, MOST_CONDITIONS, MOST_LETTERS = 60, 40, 2000
MOST_REPETITIONS, MOST_MINUTES, MOST_WEEKS = 1000, 240.0, 520.0
LEAST_BOUND, MOST_BOUND = -60.0, 100_000.0
STAGE_KEYS = (
    "name",
    "words",
    "stroke",
    "beat",
    "tempo_bpm",
    "repetitions",
    "minutes_a_day",
    "weeks",
    "beside",
    "condition",
)
CONDITION_KEYS = ("measure", "at_least", "at_most", "words")
_SHOWN = 60
_DEEP_KEY = re.compile(r"""(?:(?:[A-Za-z0-9_-]{1,200}|"[^"\n]{0,200}"|'[^'\n]{0,200}')[ \t]*\.[ \t]*){16}""")
_BEAT = re.compile(r"\s*(\d{1,4})\s*/\s*(\d{1,4})\s*", re.ASCII)


def read_path(path: Path) -> PracticePath:
    """Read a path's file.

    Raises
    ------
    BadPath
        Naming the file, the stage and the key of the first thing that cannot be read.
    """
    must_be = f"a text file (TOML, UTF-8) of at most {LARGEST_BYTES // 1_000_000} MB"
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise BadPath(where=path.name, got="more than that", must_be=must_be)
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadPath(where=path.name, got="bytes that are not text", must_be=must_be) from error
    except OSError as error:
        raise BadPath(where=str(path), got=error.strerror or str(error), must_be=must_be) from error
    return path_from_toml(text, name=path.name)


def path_from_toml(text: str, *, name: str) -> PracticePath:
    """Read a path from TOML."""
    if _DEEP_KEY.search(text):  # each part of such a key makes a table in a table, and their paths are kept
        raise BadPath(where=name, got="keys within keys without end", must_be="a path such as --write makes")
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadPath(where=name, got=f"no TOML ({error})", must_be="a path such as --write makes") from error
    except RecursionError as error:
        raise BadPath(where=name, got="lists within lists without end", must_be="a path") from error
    top = _Table(data, name)
    top.only(("stage",))
    stages = tuple(
        _stage(each, f"{name}, stage {number}")
        for number, each in enumerate(top.tables("stage", 1, MOST_STAGES), start=1)
    )
    names = [plain_name(stage.name) for stage in stages]
    for number, each in enumerate(names):
        if each in names[:number]:
            where = f"{name}, stage {number + 1}, key name"
            raise BadPath(where=where, got=f"{stages[number].name!r} a second time", must_be="another name")
    return PracticePath(stages)


def _stage(data: dict[str, object], where: str) -> Stage:
    table = _Table(data, where)
    name = table.words("name", needed=True)
    table = _Table(data, f"{where} ({name})")
    table.only(STAGE_KEYS)
    least, most = table.pair("repetitions", 1, MOST_REPETITIONS, whole=True)
    return Stage(
        name=name,
        words=table.words("words"),
        stroke=table.stroke("stroke") if "stroke" in data else None,
        beat=table.beat("beat"),
        tempo_bpm=table.pair("tempo_bpm", SLOWEST_BPM, FASTEST_BPM),
        repetitions=(int(least), int(most)),
        minutes_a_day=table.pair("minutes_a_day", 0, MOST_MINUTES),
        weeks=table.pair("weeks", 0, MOST_WEEKS),
        conditions=tuple(
            _condition(each, f"{where} ({name}), condition {number}")
            for number, each in enumerate(table.tables("condition", 0, MOST_CONDITIONS), start=1)
        ),
        beside=table.beside(),
    )


def _condition(data: dict[str, object], where: str) -> Condition:
    table = _Table(data, where)
    table.only(CONDITION_KEYS)
    name = table.words("measure", needed=True)
    measure = PATH_MEASURES.get(name)
    if measure is None:
        table.fail("measure", f"one of {', '.join(PATH_MEASURES)}{_guess(name, PATH_MEASURES)}")
    key, other = ("at_least", "at_most") if measure.relation == "at least" else ("at_most", "at_least")
    if other in data:
        table.fail(other, f"{key}, for {name} is good {measure.relation} some bound", f"the key {other}")
    bound = table.bound(key, measure)
    return Condition(name, measure.relation, bound, measure.unit, table.words("words") or measure.words)


class _Table:
    """A table's keys, each read as what it must be or refused by its name."""

    def __init__(self, data: dict[str, object], where: str) -> None:
        self._data, self._where = data, where

    def fail(self, key: str, must_be: str, got: str | None = None) -> NoReturn:
        """Refuse what stands under a key."""
        said = got or (_shown(self._data[key]) if key in self._data else "nothing")
        raise BadPath(where=f"{self._where}, key {key}", got=said, must_be=must_be)

    def only(self, known: tuple[str, ...]) -> None:
        """Refuse keys that are not known."""
        for key in self._data:
            if key not in known:
                must_be = f"one of {', '.join(known)}{_guess(key, known)}"
                raise BadPath(where=self._where, got=f"the key {key!r}", must_be=must_be)

    def tables(self, key: str, least: int, most: int) -> list[dict[str, object]]:
        """Read a list of tables."""
        found = self._data.get(key, [])
        heading = "[[stage]]" if key == "stage" else "[[stage.condition]]"
        if not isinstance(found, list) or not all(isinstance(each, dict) for each in found):
            self.fail(key, f"tables, each under {heading}")
        if not least <= len(found) <= most:
            raise BadPath(where=self._where, got=f"{len(found)} of {heading}", must_be=f"{least} to {most}")
        return found

    def words(self, key: str, *, needed: bool = False) -> str:
        """Read text; it may be left out where it is not needed."""
        found = self._data.get(key, "")
        if not isinstance(found, str) or (needed and not found.strip()):
            self.fail(key, "text")
        if len(found) > MOST_LETTERS:
            self.fail(key, f"at most {MOST_LETTERS} characters", f"{len(found)} characters")
        return found.strip()

    def _number(self, key: str, value: object, least: float, most: float, must_be: str) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.fail(key, must_be)
        if not (math.isfinite(value) and least <= value <= most):
            self.fail(key, must_be)
        return float(value)

    def pair(self, key: str, least: float, most: float, *, whole: bool = False) -> tuple[float, float]:
        """Read a range, from and to."""
        must_be = f"[from, to], two {'whole ' if whole else ''}numbers of {least:g} to {most:g}, rising"
        found = self._data.get(key)
        if not isinstance(found, list) or len(found) != 2:
            self.fail(key, must_be)
        if whole and not all(isinstance(each, int) for each in found):
            self.fail(key, must_be)
        low, high = (self._number(key, each, least, most, must_be) for each in found)
        if low > high:
            self.fail(key, must_be)
        return low, high

    def bound(self, key: str, measure: PathMeasure) -> float | None:
        """Read a bound; None for what an ear can tell."""
        found = self._data.get(key)
        must_be = f"a number, {measure.unit}" + (f', or "{AUDIBLE}"' if measure.audible else "")
        if measure.audible and found == AUDIBLE:
            return None
        return self._number(key, found, LEAST_BOUND, MOST_BOUND, must_be)

    def beat(self, key: str) -> Fraction:
        """Read a note value."""
        text = self._data.get(key)
        found = _BEAT.fullmatch(text) if isinstance(text, str) else None
        if found is None or not int(found[1]) or not int(found[2]):
            self.fail(key, 'a note value such as "1/8"')
        return Fraction(int(found[1]), int(found[2]))

    def stroke(self, key: str, value: object = None) -> StrokeClass:
        """Read a stroke class, from a key or as given."""
        given = self._data[key] if value is None else value
        found = next((known for known in STROKE_CLASSES if known == given), None)
        if found is None:
            self.fail(key, " or ".join(STROKE_CLASSES), _shown(given))
        return found

    def beside(self) -> tuple[tuple[StrokeClass, float], ...]:
        """Read the strokes that are kept up beside, with their minutes a day."""
        found = self._data.get("beside", {})
        if not isinstance(found, dict):
            self.fail("beside", "strokes with minutes a day, such as { half = 3, full = 3 }")
        must_be = f"minutes a day, 0 to {MOST_MINUTES:g}"
        return tuple(
            (self.stroke("beside", stroke), self._number("beside", minutes, 0, MOST_MINUTES, must_be))
            for stroke, minutes in found.items()
        )


def _shown(value: object) -> str:
    """Show a value as it stood, cut where it is long."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 3] + "..."


def _guess(text: str, known: Iterable[str]) -> str:
    close = get_close_matches(text, list(known), n=1)
    return f" (perhaps {close[0]})" if close else ""


HEAD = """\
# The path: the stages of hand technique in their order, and what must be heard to go on.
# Change what you like: names, order, tempos, bounds; leave stages out, or add some.
#
# A stage            [[stage]]
#   stroke           "tap", "half" or "full"; left out where there is none
#   beat             the note value that the tempos are said in
#   tempo_bpm        [from, to]; an exercise in other notes gets as many notes a minute
#   repetitions      [from, to] in one go
#   minutes_a_day    [from, to]
#   weeks            [from, to] that the stage usually takes
#   beside           other strokes kept up beside it, with minutes a day
# What must be heard [[stage.condition]], below its stage
#   measure          one of these, each with at_most or at_least as it stands here:
{measures}
#   a bound          a number, or where said "audible": what an ear can tell
#   words            how you would say it, the bound apart; may be left out
"""


def path_to_toml(path: PracticePath) -> str:
    """Write a path, the same path always as the same text; reading it gives the same path."""
    measures = "\n".join(
        f"#     {m.name:16} {m.relation.replace(' ', '_'):9} {m.unit:8} {m.words}"
        + (' (may be "audible")' if m.audible else "")
        for m in PATH_MEASURES.values()
    )
    return HEAD.format(measures=measures) + "".join(f"\n\n{_path_toml_stage(stage)}" for stage in path.stages)


def _path_toml_stage(stage: Stage) -> str:
    lines = ["[[stage]]", *(f"{key} = {value}" for key, value in _keys(stage))]
    return "\n".join(lines) + "\n" + "".join(f"\n{_path_toml_condition(each)}" for each in stage.conditions)


def _keys(stage: Stage) -> Iterator[tuple[str, str]]:
    yield "name", _text(stage.name)
    if stage.words:
        yield "words", _text(stage.words)
    if stage.stroke is not None:
        yield "stroke", _text(stage.stroke)
    yield "beat", _text(f"{stage.beat.numerator}/{stage.beat.denominator}")
    for key in ("tempo_bpm", "repetitions", "minutes_a_day", "weeks"):
        low, high = getattr(stage, key)
        yield key, f"[{_number(low)}, {_number(high)}]"
    if stage.beside:
        yield "beside", f"{{ {', '.join(f'{stroke} = {_number(m)}' for stroke, m in stage.beside)} }}"


def _path_toml_condition(condition: Condition) -> str:
    bound = _text(AUDIBLE) if condition.bound is None else _number(condition.bound)
    lines = [
        "[[stage.condition]]",
        f"measure = {_text(condition.measure)}",
        f"{condition.relation.replace(' ', '_')} = {bound}",
    ]
    if condition.words != PATH_MEASURES[condition.measure].words:
        lines.append(f"words = {_text(condition.words)}")
    return "\n".join(lines) + "\n"


def _number(value: float) -> str:
    """Write a number; whole ones without a point.

    >>> _number(60.0), _number(0.5)
    ('60', '0.5')
    """
    return str(int(value)) if value == int(value) else repr(float(value))


def _text(text: str) -> str:
    """Write text as a TOML basic string: JSON's escapes are TOML's, but for DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
