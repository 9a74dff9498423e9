"""Dropped sticks in the terminal: a sentence, the comparison, a line for each drop.

Loudness as height in the terminal.

A minute of single strokes in the terminal.

A tempo ceiling in the terminal: a sentence, the hands, and each tempo tried.
"""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from evenhand.acts.takes.many import HeardCeiling
from evenhand.cli.tables.figures import (
    bold,
    figures_table,
    hand_head,
    plain_lines,
    quiet,
    say_blocks,
    warned,
    where_it_is,
    without_empty_columns,
)
from evenhand.music.strokes.heights import Unit
from evenhand.music.text import print_exercise
from evenhand.progress.bounce.restitution import HeardBounce
from evenhand.progress.ceiling.control import TempoCeiling, TriedRepetition
from evenhand.progress.heights import HeightCalibration, SaidHeights
from evenhand.progress.minute.rates import HeardMinute
from evenhand.report.words.ceiling import ceiling_words
from evenhand.report.words.figures import (
    DROP_CAUTION,
    EXERCISES_CAUTION,
    MINUTE_CAUTION,
    PLAYING_CAUTION,
    count,
    duration,
    interval_words,
    plain,
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
    SEEN_HEADS,
    SEEN_NOTE,
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
    seen_rows,
    tiring_line,
)


def say_bounce(heard: HeardBounce, unit: Unit) -> None:
    """Print the summary of a take of drops."""
    say_blocks(*bounce_blocks(heard, unit))


def bounce_blocks(heard: HeardBounce, unit: Unit) -> list[list[RenderableType]]:
    """Build the summary of a take of drops."""
    numbered = list(enumerate(heard.drops, start=1))
    facts = f"{heard.name}   {count(len(heard.drops), 'drop')} in {duration(heard.input.seconds)}"
    whys = [f"Drop {number}: {remark_words(drop.why)}" for number, drop in numbered if drop.kind != "free"]
    said = [*map(label_line, heard.labels), *map(pair_line, heard.comparisons)]
    rows = [drop_cells(number, drop, unit) for number, drop in numbered]
    seen = seen_rows(heard, unit)
    return [
        [bold(bounce_top_words(heard))],
        [*quiet(facts), *warned(heard.warnings)],
        [*plain_lines(said)],
        [figures_table(*without_empty_columns(DROP_HEADS, rows))],
        [*plain_lines(whys), *quiet(DAMPED_NOTE)] if whys else [],
        [figures_table(SEEN_HEADS, seen), *quiet(SEEN_NOTE)] if seen else [],
        [*quiet(HEIGHT_NOTE, DROP_CAUTION)],
    ]


def say_calibration(calibration: HeightCalibration, out: Path) -> None:
    """Print what a calibration gives."""
    rows = [scale_cells(of, scale) for of, scale in calibration.scales.items()]
    say_blocks(
        [bold(calibration_words(calibration))],
        [*warned(calibration.warnings), figures_table(*without_empty_columns(SCALE_HEADS, rows))],
        [
            *quiet(PHYSICS_NOTE, "Leave pad, microphone and gain as they are."),
            *where_it_is("calibration", out),
            *quiet(PLAYING_CAUTION),
        ],
    )


def say_said(said: SaidHeights) -> None:
    """Print what was said of a take."""
    rows = figures_table(*without_empty_columns(SAID_HEADS, said_rows(said))) if said.strokes else None
    say_blocks(
        [bold(said_words(said))],
        [*warned(said.warnings), *([rows] if rows else [])],
        quiet(PLAYING_CAUTION),
    )


BARS = "▁▂▃▄▅▆▇█"
WIDEST = 72


def say_minute(heard: HeardMinute) -> None:
    """Print the summary of a minute."""
    say_blocks(*minute_blocks(heard))


def minute_blocks(heard: HeardMinute) -> list[list[RenderableType]]:
    """Build the summary of a minute."""
    named = "   ".join([heard.name, *(fact for fact in facts(heard) if fact)])
    return [
        [bold(minute_top_words(heard))],
        [*quiet(named), *warned(heard.warnings), *plain_lines(count_lines(heard))],
        [Text(course(heard))] if len(heard.rate_per_s) > 1 else [],
        [*plain_lines([tiring_line(heard), *hands_lines(heard)])],
        [figures_table(*without_empty_columns(FIGURE_HEADS, figure_rows(heard)))],
        [*quiet(MINUTE_CAUTION)],
    ]


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


def say_ceiling(found: HeardCeiling, *, picture: Path | None = None) -> None:
    """Print what was found on stdout."""
    tried = bool(found.ceiling.tried)
    say_blocks(
        [bold(ceiling_words(found.ceiling))],
        quiet(print_exercise(found.exercise)),
        [_hands(found.ceiling)] if tried and found.ceiling.hands else [],
        [_tried(found.ceiling)] if tried else [],
        where_it_is("picture", picture),
        quiet(EXERCISES_CAUTION),
    )


def _hands(found: TempoCeiling) -> Table:
    """Give each hand's own ceiling."""
    table = Table.grid(padding=(0, 3))
    for hand, measure in found.hands.items():
        said = f"not bounded yet ({count(measure.n, 'repetition')})"
        if measure.value is not None and measure.ci95 is not None:
            figure, interval = plain(measure.value, 0), interval_words(measure.ci95, 0)
            said = f"{figure}   {interval}   {count(measure.n, 'repetition')}"
        table.add_row(hand_head(hand), said)
    return table


def _tried(found: TempoCeiling) -> Table:
    """Give a line for each take: its tempo, and how many of its repetitions were in control."""
    beat = f"{found.beat.numerator}/{found.beat.denominator}"
    heads = ("take", f"tempo, {beat}", "in control", "spread, ms", "audible from, ms")
    takes = groupby(found.tried, key=lambda each: each.take)
    return figures_table(heads, ((take, *_sums(list(group))) for take, group in takes), numbers=range(1, 5))


def _sums(tried: list[TriedRepetition]) -> tuple[str, str, str, str]:
    tempos = sorted(each.tempo_bpm for each in tried)
    spreads = sorted(each.spread_ms for each in tried if each.spread_ms is not None)
    steady = tempos[-1] - tempos[0] < 0.12 * tempos[0]
    tempo = f"{tempos[len(tempos) // 2]:.0f}" if steady else f"{tempos[0]:.0f} to {tempos[-1]:.0f}"
    spread = f"{spreads[len(spreads) // 2]:.1f}" if spreads else "-"
    controlled = sum(each.controlled for each in tried)
    return tempo, f"{controlled} of {len(tried)}", spread, f"{tried[0].audible_ms:.1f}"
