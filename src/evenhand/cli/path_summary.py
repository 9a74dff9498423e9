"""The path in the terminal: its stages one under another; and what a student's takes say of one of them."""

from __future__ import annotations

from pathlib import Path

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.application.advise import VERDICTS, StudentAdvice, headline
from evenhand.cli.plain_summary import say_parts
from evenhand.domain.cautions import EXERCISES_CAUTION
from evenhand.domain.path import Judged, PracticePath, Stage
from evenhand.domain.stroke import Unit
from evenhand.errors import WrongOptions
from evenhand.pages.figures import count
from evenhand.pages.practice_words import stroke_pieces
from evenhand.practising.advice_words import (
    TEACHER_DECIDES,
    bound_words,
    count_weeks,
    figure_words,
    weeks_words,
)


def say_path(path: PracticePath, stage: str | None = None, unit: Unit = "in") -> None:
    """Print the stages, or one of them."""
    shown = path.stages
    if stage is not None:
        found = path.stage(stage)
        if found is None:
            must_be = f"one of {', '.join(each.name for each in path.stages)}"
            raise WrongOptions(got=f"the stage {stage!r}", must_be=must_be)
        shown = (found,)
    parts: list[RenderableType] = []
    for each in shown:
        parts += ["", _stage(path.stages.index(each) + 1, each, unit)]
    parts += ["", Text(EXERCISES_CAUTION, style="dim"), ""]
    say_parts(Padding(Group(*parts), (0, 2)))


def _stage(number: int, stage: Stage, unit: Unit) -> Group:
    """Set out one stage."""
    beat = f"{stage.beat.numerator}/{stage.beat.denominator}"
    facts = [
        ", ".join(stroke_pieces(stage.stroke, unit)) if stage.stroke else "",
        f"{beat} = {_range(stage.tempo_bpm)}",
        f"{_range(stage.repetitions)} repetitions in one go",
        f"{_range(stage.minutes_a_day)} min a day",
        weeks_words(stage.weeks),
    ]
    parts: list[RenderableType] = [Text(f"{number}  {stage.name}", style="bold"), Text(f"   {stage.words}")]
    parts.append(Text("   " + ", ".join(each for each in facts if each), style="dim"))
    if stage.beside:
        beside = ", ".join(f"{stroke} strokes {minutes:g} min" for stroke, minutes in stage.beside)
        parts.append(Text(f"   beside it, each day: {beside}", style="dim"))
    if stage.conditions:
        parts.append(Text("   to go on:", style="dim"))
        table = Table.grid(padding=(0, 3, 0, 0))
        for each in stage.conditions:
            bound = bound_words(each, each.bound, stage.beat).removesuffix(" asked")
            table.add_row(Text(each.words), Text(bound, style="dim"))
        parts.append(Padding(table, (0, 0, 0, 5)))
    return Group(*parts)


def _range(pair: tuple[float, float]) -> str:
    low, high = pair
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def say_advice(found: StudentAdvice, *, picture: Path | None = None) -> None:
    """Print what is proposed, and what it rests on."""
    advice = found.advice
    whose = f"{found.student}: " if found.student else ""
    facts = [f"stage {advice.stage}", count(advice.takes, "take"), f"on {count(advice.days, 'day')}"]
    if advice.weeks_in_stage is not None:
        facts.append(f"{count_weeks(advice.weeks_in_stage)} in the stage")
    parts: list[RenderableType] = ["", Text(f"{whose}{headline(advice)}", style="bold")]
    parts += [Text(", ".join(facts), style="dim"), "", Text(advice.why)]
    if advice.judged:
        parts += ["", _table(advice.judged, found.stage)]
    before = found.path.before(found.stage)
    if advice.slipped and before is not None:
        parts += [
            "",
            Text(f"What the stage {before.name} asked:", style="dim"),
            _table(advice.slipped, before),
        ]
    parts += [
        Text(f"! {note}") for note in (*advice.notes, *(f"left out: {each}" for each in found.left_out))
    ]
    if picture is not None:
        parts += ["", Text(f"The picture is in {picture}")]
    parts += ["", Text(TEACHER_DECIDES), Text(EXERCISES_CAUTION, style="dim"), ""]
    say_parts(Padding(Group(*parts), (0, 2)))


def _table(judged: tuple[Judged, ...], stage: Stage) -> Table:
    """Give a line for each condition: what it asks, on which side it is, and what was found."""
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    for heading in ("", "", "heard", "asked"):
        table.add_column(heading, overflow="fold")
    for each in judged:
        heard = [figure_words(each, stage.beat)]
        known = each.value is not None or each.at_least is not None or each.at_most is not None
        heard += [each.why] if known and each.why else []
        if each.needs is not None:
            heard.append(f"about {count(each.needs, 'take')} more would tell")
        style = "bold" if each.verdict == "not met" else ""
        table.add_row(
            Text(each.condition.words),
            Text(VERDICTS[each.verdict], style=style),
            Text("; ".join(heard)),
            Text(bound_words(each.condition, each.bound, stage.beat).removesuffix(" asked"), style="dim"),
        )
    return table
