"""A tempo ceiling in the terminal: a sentence, the hands, and each tempo tried."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.application.hear_ceiling import HeardCeiling
from evenhand.cli.figure_table import INKS
from evenhand.craft.text import print_exercise
from evenhand.domain.cautions import EXERCISES_CAUTION
from evenhand.domain.ceiling import TempoCeiling, TriedRepetition
from evenhand.pages.ceiling_picture import ceiling_words

HAND_NAMES = {"R": "right hand /", "L": "left hand \\"}


def say(found: HeardCeiling, *, picture: Path | None = None) -> None:
    """Print what was found on stdout."""
    parts: list[RenderableType] = ["", Text(ceiling_words(found.ceiling), style="bold")]
    parts += ["", Text(print_exercise(found.exercise), style="dim")]
    if found.ceiling.tried:
        parts += ["", _hands(found.ceiling), "", _tried(found.ceiling)]
    if picture is not None:
        parts += ["", Text(f"The picture is in {picture}")]
    parts += ["", Text(EXERCISES_CAUTION, style="dim"), ""]
    console = Console(highlight=False)
    console.width = min(console.width, 100)
    console.print(Padding(Group(*parts), (0, 2)))


def _hands(found: TempoCeiling) -> Table:
    """Give each hand's own ceiling."""
    table = Table.grid(padding=(0, 3))
    for hand, measure in found.hands.items():
        if measure.value is None or measure.ci95 is None:
            said = f"not bounded yet ({measure.n} repetitions)"
        else:
            low, high = measure.ci95
            said = f"{measure.value:.0f}   {low:.0f} to {high:.0f}   {measure.n} repetitions"
        table.add_row(Text(HAND_NAMES[hand], style=INKS[hand]), said)
    return table


def _tried(found: TempoCeiling) -> Table:
    """Give a line for each take: its tempo, and how many of its repetitions were in control."""
    beat = f"{found.beat.numerator}/{found.beat.denominator}"
    table = Table(box=None, padding=(0, 3, 0, 0), header_style="dim")
    for heading in ("take", f"tempo, {beat}", "in control", "spread, ms", "audible from, ms"):
        table.add_column(heading, justify="left" if heading == "take" else "right")
    for take, group in groupby(found.tried, key=lambda each: each.take):
        table.add_row(take, *_sums(list(group)))
    return table


def _sums(tried: list[TriedRepetition]) -> tuple[str, str, str, str]:
    tempos = sorted(each.tempo_bpm for each in tried)
    spreads = sorted(each.spread_ms for each in tried if each.spread_ms is not None)
    steady = tempos[-1] - tempos[0] < 0.12 * tempos[0]
    tempo = f"{tempos[len(tempos) // 2]:.0f}" if steady else f"{tempos[0]:.0f} to {tempos[-1]:.0f}"
    spread = f"{spreads[len(spreads) // 2]:.1f}" if spreads else "-"
    controlled = sum(each.controlled for each in tried)
    return tempo, f"{controlled} of {len(tried)}", spread, f"{tried[0].audible_ms:.1f}"
