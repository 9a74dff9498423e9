"""A minute of single strokes in the terminal."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from evenhand.cli.plain_summary import figures_table, say_parts
from evenhand.domain.cautions import MINUTE_CAUTION
from evenhand.domain.minute import HeardMinute
from evenhand.pages.minute_words import (
    FIGURE_HEADS,
    count_lines,
    facts,
    figure_rows,
    hands_lines,
    tiring_line,
    top_words,
)

BARS = "▁▂▃▄▅▆▇█"
WIDEST = 72


def say(heard: HeardMinute) -> None:
    """Print the summary of a minute."""
    say_parts(summary(heard))


def summary(heard: HeardMinute) -> RenderableType:
    """Build the summary of a minute."""
    said = [heard.name, *(fact for fact in facts(heard) if fact)]
    parts: list[RenderableType] = [
        "",
        Text(top_words(heard), style="bold"),
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
