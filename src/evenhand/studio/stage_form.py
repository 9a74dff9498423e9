"""A stage of the path as it stands in a form: its fields as text, both ways.

Conventions: ranges are two fields, ``rate_from`` and ``rate_to``; conditions are numbered from 0, with an
empty measure for none. A bound is a number in the measure's unit, or empty for what an ear can tell.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from evenhand.acts.weeks.path import HOLDS, ORNAMENTS
from evenhand.errors import WrongOptions
from evenhand.music.library.tracks import TRACKS
from evenhand.music.strokes.heights import stroke_class
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.progress.stages.path import PATH_MEASURES, Condition, Stage, StageLimits, condition
from evenhand.studio.typed import whole_number

MOST_CONDITIONS = 20
EXTRA_CONDITIONS = 2  # empty rows, to add some
RANGES = {"rate": "rate_per_s", "minutes": "minutes_a_day", "weeks": "weeks", "repetitions": "repetitions"}
LONGEST_NAME, LONGEST_WORDS = 60, 2000


def typed_stage(stage: Stage) -> dict[str, str]:
    """Write a stage as a form has it."""
    typed = {
        "name": stage.name,
        "words": stage.words,
        "stroke": stage.stroke or "",
        "record": stage.record,
        "track": stage.tracks[0] if stage.tracks else "",
        "longest_run": str(stage.limits.longest_run),
        "notes": str(stage.limits.notes),
        "hardness": f"{stage.limits.hardness:g}",
        "accents": "yes" if stage.limits.accents else "",
    }
    for name, of in RANGES.items():
        low, high = getattr(stage, of)
        typed |= {f"{name}_from": f"{low:g}", f"{name}_to": f"{high:g}"}
    typed |= {f"track_{track}": "yes" for track in stage.tracks[1:]}
    typed |= {f"ornament_{ornament}": "yes" for ornament in stage.limits.ornaments}
    for number in range(len(stage.conditions) + EXTRA_CONDITIONS):
        each = stage.conditions[number] if number < len(stage.conditions) else None
        typed |= _typed_condition(each, number)
    return typed


def _typed_condition(asked: Condition | None, number: int) -> dict[str, str]:
    if asked is None:
        return {f"{name}_{number}": "" for name in ("measure", "bound", "within", "holds", "said")}
    return {
        f"measure_{number}": asked.measure,
        f"bound_{number}": "" if asked.bound is None else f"{asked.bound:g}",
        f"within_{number}": "" if asked.within_ms is None else f"{asked.within_ms:g}",
        f"holds_{number}": asked.holds if PATH_MEASURES[asked.measure].seen else "",
        f"said_{number}": "" if asked.words == PATH_MEASURES[asked.measure].words else asked.words,
    }


def read_stage(typed: Mapping[str, str], base: Stage) -> Stage:
    """Read a form; what it does not hold stays as in ``base``. Whether it can be is judged where it is kept.

    Raises
    ------
    WrongOptions
        Naming the field.
    BadExercise
        Where the exercise to record cannot be read.
    """
    name, words = " ".join(typed.get("name", "").split()), typed.get("words", "").replace("\r\n", "\n")
    if not 1 <= len(name) <= LONGEST_NAME or not name.isprintable():
        raise WrongOptions(got=f"the name {name[:LONGEST_NAME]!r}", must_be=f"1 to {LONGEST_NAME} characters")
    if len(words) > LONGEST_WORDS:
        raise WrongOptions(got=f"words of {len(words)} characters", must_be=f"{LONGEST_WORDS} at most")
    rate, minutes, weeks = (_range(typed, each) for each in ("rate", "minutes", "weeks"))
    repetitions = tuple(_whole(typed, f"repetitions_{end}") for end in ("from", "to"))
    first = typed.get("track", "")
    ticked = [track for track in TRACKS if typed.get(f"track_{track}") and track != first]
    others = sorted(ticked, key=(*base.tracks, *TRACKS).index)  # those it had stay in order
    record = typed.get("record", "")
    return replace(
        base,
        name=name,
        words=words,
        stroke=stroke_class(typed.get("stroke")),
        rate_per_s=rate,
        repetitions=(repetitions[0], repetitions[1]),
        minutes_a_day=minutes,
        weeks=weeks,
        conditions=tuple(_conditions(typed)),
        tracks=(*([first] if first in TRACKS else []), *others),
        limits=_limits(typed),
        record=print_exercise(parse_exercise(record)) if record else "",
        formerly=base.formerly if base.name == name else (),
    )


def _limits(typed: Mapping[str, str]) -> StageLimits:
    return StageLimits(
        longest_run=_whole(typed, "longest_run"),
        notes=_whole(typed, "notes"),
        accents=bool(typed.get("accents")),
        ornaments=tuple(each for each in ORNAMENTS if typed.get(f"ornament_{each}")),
        hardness=_number(typed, "hardness"),
    )


def _conditions(typed: Mapping[str, str]) -> Iterator[Condition]:
    """Read the conditions that are not empty."""
    for number in range(MOST_CONDITIONS):
        measure = typed.get(f"measure_{number}", "")
        if not measure:
            continue
        if measure not in PATH_MEASURES:
            raise WrongOptions(got=f"the measure {measure[:40]!r}", must_be="one of those listed")
        bound = _number(typed, f"bound_{number}") if typed.get(f"bound_{number}") else None
        if bound is None and not PATH_MEASURES[measure].audible:
            words = PATH_MEASURES[measure].words
            raise WrongOptions(got=f"no bound for {words!r}", must_be="a number: an ear cannot tell this one")
        within = _number(typed, f"within_{number}") if typed.get(f"within_{number}") else None
        holds = next((each for each in HOLDS if each == typed.get(f"holds_{number}")), None)
        holds = holds if PATH_MEASURES[measure].seen else None
        yield condition(measure, bound, typed.get(f"said_{number}", ""), within_ms=within, holds=holds)


def _range(typed: Mapping[str, str], name: str) -> tuple[float, float]:
    return _number(typed, f"{name}_from"), _number(typed, f"{name}_to")


def _number(typed: Mapping[str, str], name: str) -> float:
    text = typed.get(name, "")
    try:
        return float(text.replace(",", "."))
    except ValueError:
        got = f"{text[:40] or 'nothing'} as {name.replace('_', ' ')}"
        raise WrongOptions(got=got, must_be="a number") from None


def _whole(typed: Mapping[str, str], name: str) -> int:
    number = whole_number(typed.get(name, ""), 4)
    if number is None:
        got = f"{typed.get(name, '')[:40] or 'nothing'} as {name.replace('_', ' ')}"
        raise WrongOptions(got=got, must_be="a whole number")
    return number
