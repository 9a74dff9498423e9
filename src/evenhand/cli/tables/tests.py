"""Dropped sticks in the terminal: a sentence, the comparison, a line for each drop.

Loudness as height in the terminal.

A minute of single strokes in the terminal.

A tempo ceiling in the terminal: a sentence, the hands, and each tempo tried.
"""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.acts.takes.ceiling import HeardCeiling
from evenhand.cli.tables.figures import INKS, figures_table, say_parts
from evenhand.music.strokes.heights import Unit
from evenhand.music.text import print_exercise
from evenhand.progress.bounce.restitution import HeardBounce
from evenhand.progress.ceiling.control import TempoCeiling, TriedRepetition
from evenhand.progress.heights import HeightCalibration, SaidHeights
from evenhand.progress.minute.rates import HeardMinute
from evenhand.report.plots.ceiling import ceiling_words
from evenhand.report.words.figures import (
    DROP_CAUTION,
    EXERCISES_CAUTION,
    MINUTE_CAUTION,
    PLAYING_CAUTION,
    count,
)
from evenhand.report.words.remarks import remark_words
from evenhand.report.words.tests import (
    DAMPED_NOTE,
    DROP_HEADS,
    FIGURE_HEADS,
    HEIGHT_NOTE,
    PHYSICS_NOTE,
    SAID_HEADS,
    SCALE_HEADS,
    bounce_top_words,
    calibration_words,
    count_lines,
    drop_cells,
    facts,
    figure_rows,
    hands_lines,
    label_line,
    minute_top_words,
    pair_line,
    said_rows,
    said_words,
    scale_cells,
    tiring_line,
)
from evenhand.report.words.times import duration


def say_bounce(heard: HeardBounce, unit: Unit) -> None:
    """Print the summary of a take of drops."""
    say_parts(bounce_summary(heard, unit))


def bounce_summary(heard: HeardBounce, unit: Unit) -> RenderableType:
    """Build the summary of a take of drops."""
    numbered = list(enumerate(heard.drops, start=1))
    facts = f"{heard.name}   {count(len(heard.drops), 'drop')} in {duration(heard.input.seconds)}"
    whys = [f"Drop {number}: {remark_words(drop.why)}" for number, drop in numbered if drop.kind != "free"]
    parts: list[RenderableType] = [
        "",
        Text(bounce_top_words(heard), style="bold"),
        "",
        Text(facts, style="dim"),
    ]
    parts += [Text(f"! {warning}") for warning in heard.warnings]
    said = [*(label_line(label) for label in heard.labels), *(pair_line(pair) for pair in heard.comparisons)]
    if said:
        parts += ["", *(Text(line) for line in said)]
    parts += ["", figures_table(DROP_HEADS, [drop_cells(number, drop, unit) for number, drop in numbered])]
    if whys:
        parts += ["", *(Text(why) for why in whys), Text(DAMPED_NOTE, style="dim")]
    parts += ["", Text(HEIGHT_NOTE, style="dim"), Text(DROP_CAUTION, style="dim"), ""]
    return Group(*parts)


def say_calibration(calibration: HeightCalibration, out: Path) -> None:
    """Print what a calibration gives."""
    rows = [scale_cells(of, scale) for of, scale in calibration.scales.items()]
    parts: list[RenderableType] = ["", Text(calibration_words(calibration), style="bold"), ""]
    parts += [Text(f"! {warning}") for warning in calibration.warnings]
    parts += [figures_table(SCALE_HEADS, rows), "", Text(PHYSICS_NOTE, style="dim")]
    parts += [
        Text("Leave pad, microphone and gain as they are.", style="dim"),
        Text(f"The calibration is in {out}"),
        Text(PLAYING_CAUTION, style="dim"),
        "",
    ]
    say_parts(Group(*parts))


def say_said(said: SaidHeights) -> None:
    """Print what was said of a take."""
    parts: list[RenderableType] = ["", Text(said_words(said), style="bold"), ""]
    parts += [Text(f"! {warning}") for warning in said.warnings]
    if said.strokes:
        parts += [figures_table(SAID_HEADS, said_rows(said)), ""]
    parts += [Text(PLAYING_CAUTION, style="dim"), ""]
    say_parts(Group(*parts))


BARS = "▁▂▃▄▅▆▇█"
WIDEST = 72


def say_minute(heard: HeardMinute) -> None:
    """Print the summary of a minute."""
    say_parts(minute_summary(heard))


def minute_summary(heard: HeardMinute) -> RenderableType:
    """Build the summary of a minute."""
    said = [heard.name, *(fact for fact in facts(heard) if fact)]
    parts: list[RenderableType] = [
        "",
        Text(minute_top_words(heard), style="bold"),
        "",
        Text("   ".join(said), style="dim"),
    ]
    parts += [Text(f"! {warning}") for warning in heard.warnings]
    parts += [Text(line) for line in count_lines(heard)]
    if len(heard.rate_per_s) > 1:
        parts += ["", Text(course(heard))]
    parts += ["", Text(tiring_line(heard)), *(Text(line) for line in hands_lines(heard))]
    parts += ["", figures_table(FIGURE_HEADS, figure_rows(heard)), "", Text(MINUTE_CAUTION, style="dim"), ""]
    return Group(*parts)


def course(heard: HeardMinute) -> str:
    """Draw the course of the rate as a row of bars, from its lowest to its highest.

    Never over less than two strokes a second, so that a steady minute looks steady.
    """
    rates = [rate for _, rate in heard.rate_per_s]
    rates = rates[:: -(-len(rates) // WIDEST)]
    low, high = min(rates), max(rates)
    spare = max(0.0, 2.0 - (high - low)) / 2
    low, high = low - spare, high + spare
    bars = "".join(BARS[min(int((rate - low) / (high - low) * len(BARS)), len(BARS) - 1)] for rate in rates)
    return f"{bars}  strokes a second, from {low:.1f} to {high:.1f}"


HAND_NAMES = {"R": "right hand /", "L": "left hand \\"}


def say_ceiling(found: HeardCeiling, *, picture: Path | None = None) -> None:
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
