"""What a newer ear hears otherwise, in the terminal: all takes in sum, and those with most to look at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from evenhand.acts.documents import json_of, plain
from evenhand.cli.tables.figures import bold, plain_lines, quiet, say_blocks
from evenhand.measuring.reheard import COUNTED
from evenhand.report.words.again import counted_words, outcome_words, sum_rows
from evenhand.report.words.figures import count
from evenhand.studio.safekeeping.export import table_text
from evenhand.studio.whole.again import COLUMNS, SumAgain, TakeAgain, row_of

MOST_SHOWN = 12
OLD_STAYS = (
    "What is shown is as it was, until you take the new versions over: --take-over all, or --take-over TAKE."
)
NOTHING = "No take has two versions: nothing was heard by an older ear, or nothing was asked for."


def say(takes: Sequence[TakeAgain], summed: SumAgain, students: Mapping[str, str]) -> None:
    """Print the sum, then the takes with most to look at."""
    if not takes:
        say_blocks(plain_lines([NOTHING]))
        return
    first = sorted((take for take in takes if take.weight), key=lambda take: -take.weight)
    more = len(first) - MOST_SHOWN
    ears = sorted({(take.ear_before, take.ear_now) for take in takes})
    held = "; ".join(
        f"ear {now} against {f'ear {before}' if before else 'one without a number'}" for before, now in ears
    )
    say_blocks(
        [bold(outcome_words(summed.outcomes, summed.shown, summed.corrected)), *quiet(held.capitalize())],
        [_sum(summed)] if summed.found.takes else [],
        [_takes(first[:MOST_SHOWN], students)] if first else [],
        quiet(f"and {count(more, 'take')} more: --csv FILE has them all" if more > 0 else ""),
        quiet(OLD_STAYS if summed.shown < len(takes) else ""),
    )


def _sum(summed: SumAgain) -> RenderableType:
    table = Table.grid(padding=(0, 3, 0, 0))
    for what, many in sum_rows(summed.found):
        table.add_row(Text(what), Text(many))
    return table


def _takes(takes: Sequence[TakeAgain], students: Mapping[str, str]) -> RenderableType:
    table = Table.grid(padding=(0, 2, 0, 0))
    for take in takes:
        at = f"{take.recorded_at.astimezone():%Y-%m-%d %H:%M}"
        said = counted_words(take.found) or take.reason
        state = " (shown)" if take.shown else " (corrected)" if take.corrected else ""
        table.add_row(
            Text(at),
            Text(students.get(take.student_id, "all students")),
            Text(take.take_id),
            Text(said + state),
        )
    return table


def as_csv(takes: Sequence[TakeAgain]) -> str:
    """Write a row a take."""
    return table_text(map(row_of, takes), COLUMNS)


def as_json(takes: Sequence[TakeAgain], summed: SumAgain) -> str:
    """Write the sum and every take (docs/batch.md)."""
    counted = {name: getattr(summed.found, name) for name in COUNTED}
    kinds = {name: dict(getattr(summed.found, name)) for name in ("findings_new", "findings_gone")}
    outcomes = {"outcomes": dict(summed.outcomes), "shown": summed.shown, "corrected": summed.corrected}
    return json_of(
        plain({**outcomes, "compared": {**counted, **kinds}, "takes": [row_of(each) for each in takes]})
    )
