"""A week's plan in the terminal: each exercise once, with its course over the days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from evenhand.craft.text import print_exercise
from evenhand.domain.cautions import EXERCISES_CAUTION
from evenhand.domain.practice import PracticeItem, PracticePlan

WIDEST = 118
WIDEST_EXERCISE = 40  # letters; a longer one pushes its row out
_HEADINGS = ("exercise", "stroke", "tempo", "repetitions", "turns a day")


@dataclass(slots=True)
class _Line:
    """An exercise with one stroke over the week: its items day by day."""

    days: list[list[PracticeItem]]

    @property
    def items(self) -> list[PracticeItem]:
        return [item for day in self.days for item in day]


def say(plan: PracticePlan, *, written: Sequence[Path] = ()) -> None:
    """Print a plan on stdout."""
    parts: list[RenderableType] = ["", Text(_head(plan), style="bold"), "", *_table(plan), ""]
    parts += [Text(note, style="dim") for note in plan.notes]
    if written:
        parts += ["", Text("Written: " + ", ".join(str(place) for place in written))]
    parts += ["", Text(EXERCISES_CAUTION, style="dim"), ""]
    console = Console(highlight=False)
    console.width = min(console.width, WIDEST)
    console.print(Padding(Group(*parts), (0, 2)))


def _head(plan: PracticePlan) -> str:
    whose = f" for {plan.student}" if plan.student else ""
    lengths = sorted({clock(day.seconds) for day in plan.days})
    days = "1 day" if len(plan.days) == 1 else f"{len(plan.days)} days"
    each = f"{lengths[0]} each" if len(lengths) == 1 else f"{lengths[0]} to {lengths[-1]}"
    return f"{days}{whose}, {each}, rests too"


def _table(plan: PracticePlan) -> list[RenderableType]:
    """Give each exercise once: how fast and how often, its turns day by day, and under it why."""
    lines = _lines(plan)
    rows = [_HEADINGS, *(_row(line) for line in lines)]
    widths = [max(len(row[place]) for row in rows) for place in range(len(_HEADINGS))]
    widths[0] = min(widths[0], WIDEST_EXERCISE)
    told = ["   ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    table: list[RenderableType] = [Text(told[0], style="dim")]
    for line, text in zip(lines, told[1:], strict=True):
        table += [Text(text), Padding(Text(line.items[-1].why, style="dim"), (0, 0, 0, 2))]
    return table


def _row(line: _Line) -> tuple[str, ...]:
    first, last = line.items[0], line.items[-1]
    return (
        print_exercise(first.exercise),
        first.stroke or "rebound",
        _course(str(first.tempo), f"{last.tempo.bpm:g}" if last.tempo != first.tempo else ""),
        _course(
            str(first.repetitions), str(last.repetitions) if last.repetitions != first.repetitions else ""
        ),
        " ".join(str(len(day)) if day else "-" for day in line.days),
    )


def _course(first: str, last: str) -> str:
    return f"{first} to {last}" if last else first


def _lines(plan: PracticePlan) -> list[_Line]:
    """Gather the items of one exercise and stroke, in order of their first."""
    lines: dict[tuple[object, ...], _Line] = {}
    for number, day in enumerate(plan.days):
        for item in day.items:
            key = (item.exercise, item.stroke)
            line = lines.setdefault(key, _Line([[] for _ in plan.days]))
            line.days[number].append(item)
    return list(lines.values())


def clock(seconds: float) -> str:
    """Write minutes and seconds.

    >>> clock(905), clock(900)
    ('15 min 5 s', '15 min')
    """
    minutes, left = divmod(round(seconds), 60)
    return f"{minutes} min {left} s" if left else f"{minutes} min"
