"""A path as a TOML file that a teacher can edit, both ways; and as JSON.

Conventions: one ``[[stage]]`` a stage, in order, with its ``[[stage.condition]]``. A bound is a
number in the measure's unit, or ``"audible"``: what an ear can tell. Keys that are not known are
refused, so that none is misspelt in silence. Files of an earlier form, with ``beat`` and ``tempo_bpm``
in place of ``rate_per_s``, are read as they were meant: so many notes a minute, by two hands in turn.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import get_args

from evenhand.acts.documents import Fields, Json, guess, json_of, plain, read_text_file
from evenhand.errors import BadPath
from evenhand.music.exercise import FASTEST_BPM, SLOWEST_BPM
from evenhand.music.library.tracks import TRACKS
from evenhand.music.strokes.heights import STROKE_CLASSES, StrokeClass
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.progress.stages.path import (
    PATH_MEASURES,
    SINGLES,
    Condition,
    Holds,
    Ornament,
    PathMeasure,
    PracticePath,
    Stage,
    StageLimits,
    condition,
    plain_name,
)

AUDIBLE = "audible"
LARGEST_BYTES = 2**20
MOST_STAGES, MOST_CONDITIONS = 60, 40
MOST_REPETITIONS, MOST_MINUTES, MOST_WEEKS = 1000, 240.0, 520.0
LEAST_BOUND, MOST_BOUND = -60.0, 100_000.0
STAGE_KEYS = (
    "name",
    "words",
    "stroke",
    "rate_per_s",
    "repetitions",
    "minutes_a_day",
    "weeks",
    "beside",
    "tracks",
    "limits",
    "record",
    "formerly",
    "condition",
)
EARLIER_KEYS = ("beat", "tempo_bpm")  # of files from before stages were said in strokes a second
LIMIT_KEYS = ("longest_run", "notes", "accents", "ornaments", "hardness")
CONDITION_KEYS = ("measure", "at_least", "at_most", "within_ms", "holds_back", "words")
HOLDS: tuple[Holds, ...] = get_args(Holds)
ORNAMENTS: tuple[Ornament, ...] = get_args(Ornament)
SLOWEST_PER_S, FASTEST_PER_S = 0.01, 30.0
MOST_NOTES, MOST_HARDNESS = 4096, 1000.0
NO_LIMITS = StageLimits(MOST_NOTES, MOST_NOTES, accents=True, ornaments=ORNAMENTS, hardness=MOST_HARDNESS)
_TABLES = "tables, each under [[stage]] or [[stage.condition]]"
_DEEP_KEY = re.compile(r"""(?:(?:[A-Za-z0-9_-]{1,200}|"[^"\n]{0,200}"|'[^'\n]{0,200}')[ \t]*\.[ \t]*){16}""")


def read_path(path: Path) -> PracticePath:
    """Read a path's file.

    Raises
    ------
    BadPath
        Naming the file, the stage and the key of the first thing that cannot be read.
    """
    must_be = "a text file (UTF-8) with a path in TOML, such as --write makes"
    text = read_text_file(path, error=BadPath, largest_bytes=LARGEST_BYTES, must_be=must_be)
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
    top = Fields(data, name, BadPath)
    top.only(("stage", "gone"))
    stages = tuple(
        _stage(each, where) for where, each in top.inside("stage", "stage", 1, MOST_STAGES, _TABLES)
    )
    names = [plain_name(stage.name) for stage in stages]
    for number, each in enumerate(names):
        if each in names[:number]:
            where = f"{name}, stage {number + 1}, name"
            raise BadPath(where=where, got=f"{stages[number].name!r} a second time", must_be="another name")
    return PracticePath(stages, _gone(top, [stage.name for stage in stages]))


def _gone(top: Fields, names: list[str]) -> tuple[tuple[str, str], ...]:
    """Read which stages were taken out, and where their students are now."""
    found = top.found.get("gone", {})
    if not isinstance(found, dict):
        top.fail("gone", "names with the stages they lead to")
    return tuple((name, top.choice_in("gone", to, names)) for name, to in found.items())


def _stage(found: object, where: str) -> Stage:
    name = Fields(found, where, BadPath, _TABLES).words("name", needed=True)
    data = Fields(found, f"{where} ({name})", BadPath)
    data.only((*STAGE_KEYS, *(EARLIER_KEYS if "rate_per_s" not in data.found else ())))
    least, most = _pair(data, "repetitions", 1, MOST_REPETITIONS, whole=True)
    conditions = data.inside("condition", "condition", 0, MOST_CONDITIONS, _TABLES)
    return Stage(
        name=name,
        words=data.words("words"),
        stroke=data.choice("stroke", STROKE_CLASSES),
        rate_per_s=_rates(data),
        repetitions=(int(least), int(most)),
        minutes_a_day=_pair(data, "minutes_a_day", 0, MOST_MINUTES),
        weeks=_pair(data, "weeks", 0, MOST_WEEKS),
        conditions=tuple(_read_condition(each, place) for place, each in conditions),
        beside=_beside(data),
        tracks=_texts(data, "tracks", TRACKS),
        limits=_limits(data),
        record=_record(data),
        formerly=_texts(data, "formerly"),
    )


def _record(data: Fields) -> str:
    """Read the exercise to record, written the one way."""
    if not data.found.get("record"):
        return ""
    return print_exercise(data.read("record", parse_exercise, "an exercise"))


def _rates(data: Fields) -> tuple[float, float]:
    """Read strokes a second; of an earlier file, notes a minute of two hands in turn."""
    if "tempo_bpm" not in data.found:
        return _pair(data, "rate_per_s", SLOWEST_PER_S, FASTEST_PER_S)
    slow, fast = _pair(data, "tempo_bpm", SLOWEST_BPM, FASTEST_BPM)
    return slow / SINGLES, fast / SINGLES


def _texts(data: Fields, key: str, known: tuple[str, ...] | None = None) -> tuple[str, ...]:
    """Read a list of words."""
    found = data.found.get(key, [])
    if not isinstance(found, list) or not all(isinstance(each, str) for each in found):
        data.fail(key, 'a list of names, such as ["singles"]')
    return tuple(found if known is None else (data.choice_in(key, each, known) for each in found))


def _limits(data: Fields) -> StageLimits:
    """Read what an exercise of the stage may hold; anything, where nothing is said of it."""
    if "limits" not in data.found:
        return NO_LIMITS
    limits = Fields(data.found["limits"], f"{data.where}, limits", BadPath)
    limits.only(LIMIT_KEYS)
    ornaments, accents = _texts(limits, "ornaments", ORNAMENTS), limits.found.get("accents", False)
    if not isinstance(accents, bool):
        limits.fail("accents", "true or false")
    return StageLimits(
        longest_run=limits.whole("longest_run", 1, MOST_NOTES),
        notes=limits.whole("notes", 1, MOST_NOTES),
        accents=accents,
        ornaments=tuple(each for each in ORNAMENTS if each in ornaments),
        hardness=limits.number("hardness", 0, MOST_HARDNESS, f"a number, 0 to {MOST_HARDNESS:g}"),
    )


def _read_condition(found: object, where: str) -> Condition:
    data = Fields(found, where, BadPath, _TABLES)
    data.only(CONDITION_KEYS)
    name = data.words("measure", needed=True)
    if name == EARLIER_CEILING:
        return _earlier_ceiling(data)
    measure = PATH_MEASURES.get(name)
    if measure is None:
        data.fail("measure", f"one of {', '.join(PATH_MEASURES)}{guess(name, list(PATH_MEASURES))}")
    key, other = ("at_least", "at_most") if measure.relation == "at least" else ("at_most", "at_least")
    if other in data.found:
        data.fail(other, f"{key}, for {name} is good {measure.relation} some bound", f"the key {other}")
    bound, within_ms = _bound(data, key, measure), None
    if "within_ms" in data.found:
        within_ms = data.number("within_ms", 1, MOST_BOUND, "a number of ms")
    holds = data.choice("holds_back", HOLDS)
    if holds is not None and not measure.seen:
        data.fail("holds_back", f"left out: {name} is heard, and always holds back")
    return condition(name, bound, data.words("words"), within_ms=within_ms, holds=holds)


EARLIER_CEILING = "ceiling_bpm"


def _earlier_ceiling(data: Fields) -> Condition:
    """Read a ceiling of an earlier file: notes a minute of two hands in turn."""
    notes = data.number("at_least", LEAST_BOUND, MOST_BOUND, "a number, bpm")
    return condition("ceiling_per_s", notes / SINGLES, data.words("words"))


def _pair(data: Fields, key: str, least: float, most: float, *, whole: bool = False) -> tuple[float, float]:
    """Read a range, from and to."""
    must_be = f"[from, to], two {'whole ' if whole else ''}numbers of {least:g} to {most:g}, rising"
    found = data.found.get(key)
    if not isinstance(found, list) or len(found) != 2:
        data.fail(key, must_be)
    if whole and not all(isinstance(each, int) for each in found):
        data.fail(key, must_be)
    low, high = (data.number_in(key, each, least, most, must_be) for each in found)
    if low > high:
        data.fail(key, must_be)
    return low, high


def _bound(data: Fields, key: str, measure: PathMeasure) -> float | None:
    """Read a bound; None for what an ear can tell."""
    must_be = f"a number, {measure.unit}" + (f', or "{AUDIBLE}"' if measure.audible else "")
    if measure.unit == "%":
        return data.number(key, 0, 100, "a number, 0 to 100 %")
    if measure.audible and data.found.get(key) == AUDIBLE:
        return None
    return data.number(key, LEAST_BOUND, MOST_BOUND, must_be)


def _beside(data: Fields) -> tuple[tuple[StrokeClass, float], ...]:
    """Read the strokes that are kept up beside, with their minutes a day."""
    found = data.found.get("beside", {})
    if not isinstance(found, dict):
        data.fail("beside", "strokes with minutes a day, such as { half = 3, full = 3 }")
    must_be = f"minutes a day, 0 to {MOST_MINUTES:g}"
    return tuple(
        (
            data.choice_in("beside", stroke, STROKE_CLASSES),
            data.number_in("beside", minutes, 0, MOST_MINUTES, must_be),
        )
        for stroke, minutes in found.items()
    )


HEAD = """\
# The path: the stages of hand technique in their order, and what must be heard to go on.
# Change what you like: names, order, tempos, bounds; leave stages out, or add some.
#
# A stage            [[stage]]
#   stroke           "tap", "half" or "full"; left out where there is none
#   rate_per_s       [from, to] strokes a second of the busier hand; two hands in turn at 1/8 = 120: 1
#   repetitions      [from, to] in one go
#   minutes_a_day    [from, to]
#   weeks            [from, to] that the stage usually takes
#   beside           other strokes kept up beside it, with minutes a day
#   tracks           of the library, its own first; there are
#                    {tracks}
#   limits           what its exercises may hold: notes by one hand in a row (longest_run), notes in a
#                    repetition, accents, ornaments (flam, drag, buzz), and how hard they may be beside
#                    plain single strokes (hardness)
#   record           the exercise to record every week
#   formerly         names that the stage had before
# What must be heard [[stage.condition]], below its stage
#   measure          one of these, each with at_most or at_least as it stands here:
{measures}
#   a bound          a number, or where said "audible": what an ear can tell
#   within_ms        only takes count whose doubles' two notes are so close; may be left out
#   holds_back       of what must be seen in a video: "when seen" (if left out), "always" (a video must
#                    come), or "never" (a wish)
#   words            how you would say it, the bound apart; may be left out
"""


def path_to_toml(path: PracticePath) -> str:
    """Write a path, the same path always as the same text; reading it gives the same path."""
    measures = "\n".join(
        f"#     {m.name:16} {m.relation.replace(' ', '_'):9} {m.unit:8} {m.words}"
        + (' (may be "audible")' if m.audible else " (seen)" if m.seen else "")
        for m in PATH_MEASURES.values()
    )
    half = len(TRACKS) // 2
    tracks = f",\n#{' ' * 20}".join(", ".join(some) for some in (TRACKS[:half], TRACKS[half:]))
    head = HEAD.format(measures=measures, tracks=tracks)
    gone = "".join(f"\n{_text(name)} = {_text(to)}" for name, to in path.gone)
    tables = [*([f"[gone]{gone}\n"] if gone else []), *map(_path_toml_stage, path.stages)]
    return head + "".join(f"\n\n{table}" for table in tables)


def _path_toml_stage(stage: Stage) -> str:
    lines = ["[[stage]]", *(f"{key} = {value}" for key, value in _keys(stage))]
    return "\n".join(lines) + "\n" + "".join(f"\n{_path_toml_condition(each)}" for each in stage.conditions)


def _keys(stage: Stage) -> Iterator[tuple[str, str]]:
    yield "name", _text(stage.name)
    if stage.words:
        yield "words", _text(stage.words)
    if stage.stroke is not None:
        yield "stroke", _text(stage.stroke)
    for key in ("rate_per_s", "repetitions", "minutes_a_day", "weeks"):
        low, high = getattr(stage, key)
        yield key, f"[{_number(low)}, {_number(high)}]"
    if stage.beside:
        yield "beside", f"{{ {', '.join(f'{stroke} = {_number(m)}' for stroke, m in stage.beside)} }}"
    if stage.tracks:
        yield "tracks", _list(stage.tracks)
    if stage.limits != NO_LIMITS:
        yield "limits", _limits_text(stage.limits)
    if stage.record:
        yield "record", _text(stage.record)
    if stage.formerly:
        yield "formerly", _list(stage.formerly)


def _limits_text(limits: StageLimits) -> str:
    parts = [f"{key} = {_number(getattr(limits, key))}" for key in ("longest_run", "notes", "hardness")]
    parts.append(f"accents = {str(limits.accents).lower()}")
    return f"{{ {', '.join([*parts, f'ornaments = {_list(limits.ornaments)}'])} }}"


def _list(texts: tuple[str, ...]) -> str:
    return f"[{', '.join(map(_text, texts))}]"


def _path_toml_condition(asked: Condition) -> str:
    bound = _text(AUDIBLE) if asked.bound is None else _number(asked.bound)
    lines = [
        "[[stage.condition]]",
        f"measure = {_text(asked.measure)}",
        f"{asked.relation.replace(' ', '_')} = {bound}",
    ]
    if asked.within_ms is not None:
        lines.append(f"within_ms = {_number(asked.within_ms)}")
    if asked.holds != condition(asked.measure).holds:
        lines.append(f"holds_back = {_text(asked.holds)}")
    if asked.words != PATH_MEASURES[asked.measure].words:
        lines.append(f"words = {_text(asked.words)}")
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


def path_text(path: PracticePath) -> str:
    """Write a path as JSON text."""
    return json_of(plain({"stages": [_stage_json(stage) for stage in path.stages]}))


def _stage_json(stage: Stage) -> Json:
    return {**asdict(stage), "beside": dict(stage.beside)}
