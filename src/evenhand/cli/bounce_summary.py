"""Dropped sticks in the terminal: a sentence, the comparison, a line for each drop."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from evenhand.cli.plain_summary import figures_table, say_parts
from evenhand.domain.bounce import HeardBounce
from evenhand.domain.cautions import DROP_CAUTION
from evenhand.domain.stroke import Unit
from evenhand.pages.bounce_words import (
    DAMPED_NOTE,
    DROP_HEADS,
    HEIGHT_NOTE,
    drop_cells,
    label_line,
    pair_line,
    top_words,
)
from evenhand.pages.figures import count, duration


def say(heard: HeardBounce, unit: Unit) -> None:
    """Print the summary of a take of drops."""
    say_parts(summary(heard, unit))


def summary(heard: HeardBounce, unit: Unit) -> RenderableType:
    """Build the summary of a take of drops."""
    numbered = list(enumerate(heard.drops, start=1))
    facts = f"{heard.name}   {count(len(heard.drops), 'drop')} in {duration(heard.input.seconds)}"
    whys = [f"Drop {number}: {drop.why}" for number, drop in numbered if drop.kind != "free"]
    parts: list[RenderableType] = ["", Text(top_words(heard), style="bold"), "", Text(facts, style="dim")]
    parts += [Text(f"! {warning}") for warning in heard.warnings]
    said = [*(label_line(label) for label in heard.labels), *(pair_line(pair) for pair in heard.comparisons)]
    if said:
        parts += ["", *(Text(line) for line in said)]
    parts += ["", figures_table(DROP_HEADS, [drop_cells(number, drop, unit) for number, drop in numbered])]
    if whys:
        parts += ["", *(Text(why) for why in whys), Text(DAMPED_NOTE, style="dim")]
    parts += ["", Text(HEIGHT_NOTE, style="dim"), Text(DROP_CAUTION, style="dim"), ""]
    return Group(*parts)
