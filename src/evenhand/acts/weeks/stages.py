"""Judge where a student is on the path (docs/path.md); its stages as a TOML file that a teacher can edit.

Conventions: one ``[[stage]]`` a stage, in order, with its ``[[stage.condition]]``. A bound is a
number in the measure's unit, or ``"audible"``: what an ear can tell. Keys that are not known are
refused, so that none is misspelt in silence.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import date
from fractions import Fraction
from pathlib import Path

from evenhand.acts.documents import Fields, Json, guess, json_of, plain, read_text_file
from evenhand.errors import BadPath, WrongOptions
from evenhand.music.exercise import FASTEST_BPM, SLOWEST_BPM
from evenhand.music.strokes.heights import STROKE_CLASSES, StrokeClass
from evenhand.progress.history import History
from evenhand.progress.stages.advising import advise
from evenhand.progress.stages.path import (
    PATH_MEASURES,
    Advice,
    Condition,
    Judged,
    PathMeasure,
    PracticePath,
    Stage,
    plain_name,
)
from evenhand.report.words.advice import TEACHER_DECIDES, judged_words, reason_words
from evenhand.report.words.figures import EXERCISES_CAUTION
from evenhand.report.words.remarks import all_remarks

AUDIBLE = "audible"
LARGEST_BYTES = 2**20
MOST_STAGES, MOST_CONDITIONS = 60, 40
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
_TABLES = "tables, each under [[stage]] or [[stage.condition]]"
_DEEP_KEY = re.compile(r"""(?:(?:[A-Za-z0-9_-]{1,200}|"[^"\n]{0,200}"|'[^'\n]{0,200}')[ \t]*\.[ \t]*){16}""")
_BEAT = re.compile(r"\s*(\d{1,4})\s*/\s*(\d{1,4})\s*", re.ASCII)


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
    top.only(("stage",))
    stages = tuple(
        _stage(each, where) for where, each in top.inside("stage", "stage", 1, MOST_STAGES, _TABLES)
    )
    names = [plain_name(stage.name) for stage in stages]
    for number, each in enumerate(names):
        if each in names[:number]:
            where = f"{name}, stage {number + 1}, name"
            raise BadPath(where=where, got=f"{stages[number].name!r} a second time", must_be="another name")
    return PracticePath(stages)


def _stage(found: object, where: str) -> Stage:
    name = Fields(found, where, BadPath, _TABLES).words("name", needed=True)
    data = Fields(found, f"{where} ({name})", BadPath)
    data.only(STAGE_KEYS)
    least, most = _pair(data, "repetitions", 1, MOST_REPETITIONS, whole=True)
    conditions = data.inside("condition", "condition", 0, MOST_CONDITIONS, _TABLES)
    return Stage(
        name=name,
        words=data.words("words"),
        stroke=data.choice("stroke", STROKE_CLASSES),
        beat=_beat(data, "beat"),
        tempo_bpm=_pair(data, "tempo_bpm", SLOWEST_BPM, FASTEST_BPM),
        repetitions=(int(least), int(most)),
        minutes_a_day=_pair(data, "minutes_a_day", 0, MOST_MINUTES),
        weeks=_pair(data, "weeks", 0, MOST_WEEKS),
        conditions=tuple(_read_condition(each, place) for place, each in conditions),
        beside=_beside(data),
    )


def _read_condition(found: object, where: str) -> Condition:
    data = Fields(found, where, BadPath, _TABLES)
    data.only(CONDITION_KEYS)
    name = data.words("measure", needed=True)
    measure = PATH_MEASURES.get(name)
    if measure is None:
        data.fail("measure", f"one of {', '.join(PATH_MEASURES)}{guess(name, list(PATH_MEASURES))}")
    key, other = ("at_least", "at_most") if measure.relation == "at least" else ("at_most", "at_least")
    if other in data.found:
        data.fail(other, f"{key}, for {name} is good {measure.relation} some bound", f"the key {other}")
    bound = _bound(data, key, measure)
    return Condition(name, measure.relation, bound, measure.unit, data.words("words") or measure.words)


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
    if measure.audible and data.found.get(key) == AUDIBLE:
        return None
    return data.number(key, LEAST_BOUND, MOST_BOUND, must_be)


def _beat(data: Fields, key: str) -> Fraction:
    """Read a note value."""
    text = data.found.get(key)
    found = _BEAT.fullmatch(text) if isinstance(text, str) else None
    if found is None or not int(found[1]) or not int(found[2]):
        data.fail(key, 'a note value such as "1/8"')
    return Fraction(int(found[1]), int(found[2]))


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


@dataclass(frozen=True, slots=True)
class StudentAdvice:
    """What is proposed to a student, on which path, and which takes told nothing."""

    student: str
    path: PracticePath
    stage: Stage
    advice: Advice
    left_out: tuple[str, ...]


def advise_student(
    history: History,
    path: PracticePath,
    stage: str,
    *,
    since: date | None = None,
    until: date | None = None,
) -> StudentAdvice:
    """Judge a stage from a history; ``since`` and ``until`` are the first and the last day that count.

    Raises
    ------
    WrongOptions
        Where the path has no such stage, or the days are the wrong way round.
    """
    if since is not None and until is not None and until < since:
        raise WrongOptions(got=f"days from {since} to {until}", must_be="the earlier day first")
    advice = advise(
        history,
        path,
        stage,
        since_day=None if since is None else since.toordinal(),
        until_day=None if until is None else until.toordinal(),
    )
    found = path.stage(stage) or path.stages[0]
    return StudentAdvice(history.student, path, found, advice, history.left_out)


def advice_text(found: StudentAdvice) -> str:
    """Write the advice as JSON text."""
    return json_of(advice_json(found))


def advice_json(found: StudentAdvice) -> Json:
    """Turn the advice into plain dicts, lists and numbers."""
    advice = found.advice
    return plain(
        {
            "student": found.student,
            "stage": advice.stage,
            "proposal": advice.proposal,
            "to": advice.to,
            "why": reason_words(advice, found.path),
            "decides": TEACHER_DECIDES,
            "weeks_in_stage": advice.weeks_in_stage,
            "takes": advice.takes,
            "days": advice.days,
            "conditions": [_judged(each, found.stage) for each in advice.judged],
            "slipped": [
                _judged(each, found.path.before(found.stage) or found.stage) for each in advice.slipped
            ],
            "notes": all_remarks(advice.notes),
            "left_out": found.left_out,
            "caution": EXERCISES_CAUTION,
        },
        {"weeks_in_stage": 2},
    )


def _judged(judged: Judged, stage: Stage) -> Json:
    """Give what was judged, in words as well."""
    told = asdict(replace(judged, hands={}))
    digits = dict.fromkeys(("bound", "value", "ci95", "at_least", "at_most"), 3)
    return {
        **plain({**told.pop("condition"), **told}, digits),
        "hands": judged.hands,
        "text": judged_words(judged, stage.beat),
    }


def path_text(path: PracticePath) -> str:
    """Write a path as JSON text."""
    return json_of(plain({"stages": [_stage_json(stage) for stage in path.stages]}))


def _stage_json(stage: Stage) -> Json:
    beat = f"{stage.beat.numerator}/{stage.beat.denominator}"
    return {**asdict(stage), "beat": beat, "beside": dict(stage.beside)}
