"""Write a path's stages as TOML with comments, for a teacher to edit."""

from __future__ import annotations

import json
from collections.abc import Iterator

from evenhand.application.path_file import AUDIBLE
from evenhand.domain.path import PATH_MEASURES, Condition, PracticePath, Stage

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
    return HEAD.format(measures=measures) + "".join(f"\n\n{_stage(stage)}" for stage in path.stages)


def _stage(stage: Stage) -> str:
    lines = ["[[stage]]", *(f"{key} = {value}" for key, value in _keys(stage))]
    return "\n".join(lines) + "\n" + "".join(f"\n{_condition(each)}" for each in stage.conditions)


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


def _condition(condition: Condition) -> str:
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
