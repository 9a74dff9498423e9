r"""What was heard, in the terminal: a sentence, the findings, the notes one by one, the figures.

Two inks, blue for the right hand and rust for the left, each readable on dark and on light;
shape before colour: ``/`` leans as the right hand's stick does, ``\`` as the left's.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.cli.tables.figures import INKS, figure_table, note_strip, with_unit
from evenhand.measuring.values import Evidence, Finding, HeardTake
from evenhand.music.exercise import Exercise
from evenhand.report.plots.marks import middle_level_db
from evenhand.report.words.figures import (
    PLAYING_CAUTION,
    count,
    decimals_for,
    from_words,
    interval_words,
    plain,
    signed,
)
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.remarks import doubts_of
from evenhand.report.words.take import top_sentence
from evenhand.report.words.times import duration
from evenhand.take import Heard

WIDEST = 100
CLOCKS = {
    "click": "timing is against the click in the recording",
    "smooth": "timing is against the take's own smooth tempo, so it only compares the hands",
}
BLIND = "Say what was played (--exercise and --tempo) to hear what each hand did."


def say(take: HeardTake, *, report: Path | None = None) -> None:
    """Print the summary of a take on stdout."""
    console = Console(highlight=False, soft_wrap=False)
    console.width = min(console.width, WIDEST) if sys.stdout.isatty() else WIDEST
    console.print(summary(take, width=console.width, report=report))


def summary(take: HeardTake, *, width: int = WIDEST, report: Path | None = None) -> RenderableType:
    """Build the summary of a take."""
    first, others = _first_and_others(take)
    parts: list[RenderableType] = ["", Text(top_sentence(take), style="bold")]
    if first is not None:
        parts += [_said_of(first, take.exercise)]
    parts += ["", _facts(take), *_doubts(take)]
    if others:
        parts += ["", _findings(others, take.exercise)]
    if take.exercise is None:
        parts += ["", Text(BLIND)]
    elif take.measures is not None:
        parts += [note_strip(take.exercise, take.measures, middle_level_db(take.heard), width=width - 4)]
        parts += ["", figure_table(take.measures, width=width - 4)]
    if report is not None:
        parts += ["", Text(f"The report is in {report}")]
    parts += ["", Text(PLAYING_CAUTION, style="dim"), ""]
    return Padding(Group(*parts), (0, 2))


def _first_and_others(take: HeardTake) -> tuple[Finding | None, Sequence[tuple[int, Finding]]]:
    """Split off the finding that the sentence on top already says; the others keep their numbers."""
    numbered = list(enumerate(take.findings, start=1))
    if take.findings and finding_words(take.findings[0], take.exercise) == top_sentence(take):
        return take.findings[0], numbered[1:]
    return None, numbered


def _facts(take: HeardTake) -> Text:
    """Say what was heard, in two quiet lines."""
    name = Text().append(f"{take.name}, {duration(take.input.seconds)}", style="dim")
    if take.exercise_text is not None:
        name.append("   ").append(_inked(take.exercise_text)).append(f"   at {take.tempo}", style="dim")
    return name.append("\n").append(_counts(take.heard), style="dim")


def _inked(exercise: str) -> Text:
    """Write an exercise with its hands in their inks."""
    text = Text(exercise)
    text.highlight_regex(r"[rR]", INKS["R"])
    text.highlight_regex(r"[lL]", INKS["L"])
    return text


def _counts(heard: Heard) -> str:
    """Count what was heard, and say what timing is against."""
    said = [count(len(heard.hits), "hit")]
    if heard.missed:
        said.append(f"{len(heard.missed)} missed")
    if heard.extra:
        said.append(f"{len(heard.extra)} extra ({_reasons(heard)})")
    if heard.clicks_s:
        said.append(count(len(heard.clicks_s), "click"))
    if heard.clock is not None:
        said.append(CLOCKS[heard.clock])
    return "; ".join(said)


def _reasons(heard: Heard) -> str:
    """Say why the extra hits have no note."""
    return ", ".join(f"{n} {reason}" for reason, n in Counter(hit.reason for hit in heard.extra).items())


def _doubts(take: HeardTake) -> list[RenderableType]:
    """Say what stands in the way of being sure, before any figure."""
    said = {top_sentence(take), *(finding_words(finding, take.exercise) for finding in take.findings)}
    lines = [Text(f"! {doubt}") for doubt in doubts_of(take) if doubt not in said]
    return ["", *lines] if lines else []


def _findings(findings: Sequence[tuple[int, Finding]], exercise: Exercise | None) -> Table:
    """List findings in the order to practise them."""
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right", style="dim", no_wrap=True)
    table.add_column(overflow="fold")
    for number, finding in findings:
        last = number == findings[-1][0]
        said = Group(Text(finding_words(finding, exercise)), _said_of(finding, exercise))
        table.add_row(str(number), Padding(said, (0, 0, 0 if last else 1, 0)))
    return table


def _said_of(finding: Finding, exercise: Exercise | None) -> Text:
    """Write the evidence behind a finding, and its remedy."""
    lines = []
    if finding.evidence is not None:
        lines.append(Text(_evidence(finding.evidence), style="dim"))
    remedy = remedy_words(finding, exercise)
    if remedy:
        lines.append(Text(f"To practise: {remedy}"))
    return Text("\n").join(lines)


def _evidence(evidence: Evidence) -> str:
    """Write the figure behind a finding."""
    decimals = _decimals(evidence)
    said = []
    if evidence.value is not None:
        figure = signed if evidence.unit == "dB" else plain
        said.append(with_unit(figure(evidence.value, decimals), evidence.unit))
        if evidence.ci95 is not None:
            said[-1] += f" ({interval_words(evidence.ci95, decimals)})"
    said.append(from_words(evidence.measure, evidence.n))
    if evidence.audible_from is not None:
        edge = plain(evidence.audible_from, decimals).removesuffix(".0")
        said.append(f"audible from {with_unit(edge, evidence.unit)}")
    if evidence.positions:
        said.append(f"at {_places(evidence.positions)}")
    return "; ".join(said)


def _decimals(evidence: Evidence) -> int:
    """Return how many decimals show both the figure and where it begins to be heard."""
    edge = abs(evidence.audible_from or 1.0)
    return max(decimals_for(evidence.unit), math.ceil(-math.log10(edge)) if 0 < edge < 1 else 0)


def _places(positions: tuple[int, ...]) -> str:
    """Count notes as people do, from 1."""
    noun = "note" if len(positions) == 1 else "notes"
    return f"{noun} {', '.join(str(position + 1) for position in positions)}"
