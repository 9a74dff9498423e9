"""What was heard, in the terminal: a sentence, the findings, the notes one by one, the figures."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.cli.tables.figures import (
    INDENT,
    WIDEST,
    blocks,
    bold,
    figure_table,
    inked,
    note_strip,
    quiet,
    readable_console,
    warned,
    where_it_is,
    with_unit,
)
from evenhand.measuring.values import Evidence, Finding, HeardTake
from evenhand.music.exercise import Exercise
from evenhand.report.plots.marks import middle_level_db
from evenhand.report.words.figures import (
    PLAYING_CAUTION,
    count,
    decimals_for,
    duration,
    from_words,
    interval_words,
    plain,
    signed,
)
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.remarks import doubts_of
from evenhand.report.words.take import top_sentence
from evenhand.take import Heard

CLOCKS = {
    "click": "timing is against the click in the recording",
    "smooth": "timing is against the take's own smooth tempo, so it only compares the hands",
}
BLIND = "Say what was played (--exercise and --tempo) to hear what each hand did."


def say(take: HeardTake, *, report: Path | None = None) -> None:
    """Print the summary of a take on stdout."""
    console = readable_console()
    console.print(summary(take, width=console.width, report=report))


def summary(take: HeardTake, *, width: int = WIDEST, report: Path | None = None) -> RenderableType:
    """Build the summary of a take."""
    first, others = _first_and_others(take)
    inside = width - 2 * INDENT
    said, doubts = ([] if first is None else [_said_of(first, take.exercise)]), _doubts(take)
    figures: list[list[RenderableType]] = []
    if take.exercise is None:
        figures = [[Text(BLIND)]]
    elif take.measures is not None:
        notes = note_strip(take.exercise, take.measures, middle_level_db(take.heard), width=inside)
        figures = [[notes] if take.measures.positions else [], [figure_table(take.measures, width=inside)]]
    return blocks(
        [bold(top_sentence(take)), *said],
        [_facts(take)],
        doubts,
        [_findings(others, take.exercise)] if others else [],
        *figures,
        where_it_is("report", report),
        quiet(PLAYING_CAUTION),
    )


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
        name.append("   ").append(inked(take.exercise_text)).append(f"   at {take.tempo}", style="dim")
    return name.append("\n").append(_counts(take.heard), style="dim")


def _counts(heard: Heard) -> str:
    """Count what was heard, and say what timing is against."""
    said = [count(len(heard.hits), "hit")]
    if heard.missed:
        said.append(f"{len(heard.missed)} missed")
    if heard.hidden:
        said.append(f"{len(heard.hidden)} hidden")
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


def _doubts(take: HeardTake) -> list[Text]:
    """Say what stands in the way of being sure, before any figure."""
    said = {top_sentence(take), *(finding_words(finding, take.exercise) for finding in take.findings)}
    return warned(doubt for doubt in doubts_of(take) if doubt not in said)


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
    numbers = ", ".join(str(position + 1) for position in positions)
    return f"{'note' if len(positions) == 1 else 'notes'} {numbers}"
