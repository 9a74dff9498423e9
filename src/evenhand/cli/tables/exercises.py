"""Exercises as a quiet table in the terminal, a line each; the two hands in their inks.

What a shelf of books holds, in the terminal: the exercises, and which of them are the same.

A stroke plan in the terminal: letters under the sticking, each stroke, each hand's reach, what to know.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.cli.tables.figures import (
    INDENT,
    INKS,
    WIDEST,
    blocks,
    bold,
    figures_table,
    inked,
    quiet,
    readable_console,
    warned,
    where_it_is,
)
from evenhand.music.book import Entry
from evenhand.music.exercise import HAND_NAMES, Note
from evenhand.music.strokes.heights import height_words
from evenhand.music.strokes.plan import LETTERS
from evenhand.music.strokes.remarks import BOUNCE_UNDER_S, WRISTS_OVER_S
from evenhand.music.text import print_exercise
from evenhand.report.words.figures import EXERCISES_CAUTION, count, listed
from evenhand.report.words.practice import turn_words
from evenhand.report.words.strokes import stroke_remark_words, tempo_below

if TYPE_CHECKING:
    from evenhand.acts.exercises.books import Same, TidyBook
    from evenhand.acts.exercises.strokes import PlannedExercise, TimedStroke
    from evenhand.music.strokes.rebound import HandLimits
    from evenhand.music.strokes.remarks import Doubles

WIDE = 400  # where nobody watches, a line stays one line, so that it can be searched


def say_all(parts: Iterable[RenderableType]) -> None:
    """Print the parts on stdout, one under another."""
    console = Console(highlight=False, soft_wrap=False)
    indented = Group(*(Padding(part, (0, 2), expand=False) for part in parts))
    if sys.stdout.isatty():
        console.print(indented)
        return
    console.width = WIDE
    with console.capture() as captured:
        console.print(indented)
    sys.stdout.write("".join(f"{line.rstrip()}\n" for line in captured.get().splitlines()))


def exercise_table(entries: Sequence[Entry], lead: Sequence[str], beside: Sequence[str] = ()) -> Table:
    """Set out exercises with their titles, under their sections; ``lead`` stands before each."""
    table = Table.grid(padding=(0, 2))
    table.add_column(style="dim", justify="right", no_wrap=True)
    table.add_column(overflow="fold", max_width=44)
    table.add_column(overflow="fold")
    if beside:
        table.add_column(style="dim", no_wrap=True)
    section = ""
    for entry, before, after in zip(entries, lead, beside or [""] * len(entries), strict=True):
        if entry.section != section:
            section = entry.section
            table.add_row("", "")
            table.add_row("", Text(section, style="bold"))
        row = (before, Text(entry.title), inked(print_exercise(entry.exercise)))
        table.add_row(*row, *([after] if beside else []))
    return table


def say_book(tidied: TidyBook, *, same: bool, listed: bool, written: Path | None) -> None:
    """Print what was asked for: the exercises, those that are the same, and how many there are."""
    say_all(_parts(tidied, same=same, listed=listed, written=written))


def _parts(tidied: TidyBook, *, same: bool, listed: bool, written: Path | None) -> Iterator[RenderableType]:
    shelf = tidied.shelf
    if listed and not same:
        if shelf.title:
            yield Text(f"\n{shelf.title}", style="bold")
        numbers = [str(number) for number in range(1, len(shelf.placed) + 1)]
        yield exercise_table([placed.entry for placed in shelf.placed], numbers)
        yield Text(" ")
    if same:
        for group in tidied.same:
            yield _group(group)
            yield Text(" ")
    yield Text(_counted(tidied, same=same, written=written))


def _group(same: Same) -> Table:
    """Set out exercises that are the same, each with its place and how it is got from the first."""
    table = Table.grid(padding=(0, 2))
    for style in (None, None, "dim", "dim"):
        table.add_column(overflow="fold", style=style)
    table.add_row(
        inked(print_exercise(same.first.entry.exercise)), same.first.entry.title, str(same.first), ""
    )
    for other, turn in same.others:
        table.add_row(
            inked(print_exercise(other.entry.exercise)), other.entry.title, str(other), turn_words(turn)
        )
    return table


def _counted(tidied: TidyBook, *, same: bool, written: Path | None) -> str:
    """Count the exercises, and those that are the same as an earlier one."""
    again = sum(len(group.others) for group in tidied.same)
    said_of = f"{count(len(tidied.shelf.placed), 'exercise')} from {count(tidied.files, 'file')}"
    if written is not None:
        said_of += f" in {written}"
    if tidied.dropped:
        dropped = count(tidied.dropped, "dropped that was", "dropped that were")
        return f"{said_of}; {dropped} the same as an earlier one"
    if not again:
        return f"{said_of}, no two of them the same" if len(tidied.shelf.placed) > 1 else said_of
    hint = "" if same else " (--same lists them, --without-same drops them)"
    return f"{said_of}; {count(again, 'is', 'are')} the same as an earlier one{hint}"


MOST_ROWS = 48
LONGEST_NAME = 160
NEED_WORDS = {None: "", "throw": "a throw", "lift": "the hand lifts"}
LETTER_WORDS = "F full, D down, T tap, U up"
ASSUMED = (
    "Heights and classes are common practice; a teacher may set others (--heights). The rebound is a model: "
    "the tip in free fall, the drum giving back {restitution:g} of its speed."
)


def say_strokes(planned: PlannedExercise, *, chart: Path | None = None) -> None:
    """Print a stroke plan on stdout."""
    console = readable_console()
    console.print(stroke_summary(planned, width=console.width, chart=chart))


def stroke_summary(
    planned: PlannedExercise, *, width: int = WIDEST, chart: Path | None = None
) -> RenderableType:
    """Build what is printed."""
    written = planned.exercise_text
    name = written if len(written) <= LONGEST_NAME else f"{written[:LONGEST_NAME]} …"
    return blocks(
        [bold(f"{name}   at {planned.tempo}")],
        [*_letters(planned, width - 2 * INDENT), *quiet(LETTER_WORDS)],
        [_table(planned)],
        [*_hands(planned), *_doubles(planned)],
        warned(_remarks(planned)),
        where_it_is("chart", chart),
        quiet(ASSUMED.format(restitution=planned.options.restitution), EXERCISES_CAUTION),
    )


def _remarks(planned: PlannedExercise) -> list[str]:
    unit, beat = planned.options.unit, planned.tempo.beat
    return [stroke_remark_words(remark, unit, beat) for remark in planned.plan.remarks]


def _letters(planned: PlannedExercise, width: int) -> list[Text]:
    """Write the sticking with each note's letter under it, in lines that fit."""
    letters = planned.plan.letters()
    cells = [
        (_sticking(note), letters.get(position, "")) for position, note in enumerate(planned.exercise.notes)
    ]
    room = max(len(top) for top, _ in cells) + 1
    a_line = max(1, width // room)
    lines = []
    for at in range(0, min(len(cells), MOST_ROWS), a_line):
        some = cells[at : min(at + a_line, MOST_ROWS)]
        top = inked("".join(sticking.rjust(room) for sticking, _ in some))
        lines.append(top.append("\n").append("".join(letter.rjust(room) for _, letter in some)))
    return lines


def _sticking(note: Note) -> str:
    """Write a note so that its hand stands last."""
    if note.hand is None:
        return "-"
    return f"{'>' if note.accent else ''}{''.join(note.graces).lower()}{note.letter}"


def _table(planned: PlannedExercise) -> RenderableType:
    """List the strokes with their heights and what rises freely in their time."""
    timed, unit = planned.timed(), planned.options.unit
    heads = ("note", "hand", "stroke", "from", "to", "same hand again in", "free up to", "needs")
    rows = (_row(each, planned) for each in timed[:MOST_ROWS])
    table = figures_table(heads, rows, numbers=range(3, 7))
    if len(timed) <= MOST_ROWS:
        return table
    return Group(table, *quiet(f"and {len(timed) - MOST_ROWS} more in --json; heights in {unit}"))


def _row(timed: TimedStroke, planned: PlannedExercise) -> tuple[Text | str, ...]:
    stroke, unit = timed.stroke, planned.options.unit
    number = str(stroke.position + 1) + ("" if stroke.grace is None else " grace")
    motion = f"{LETTERS[stroke.motion]} {stroke.motion}" + (", a bounce" if stroke.bounce else "")
    return (
        number,
        Text(stroke.hand, style=INKS[stroke.hand]),
        motion,
        height_words(stroke.before_cm, unit),
        height_words(stroke.after_cm, unit),
        f"{timed.interval_s:.3f} s",
        "–" if timed.free_cm is None else _reached(planned, timed.free_cm),
        NEED_WORDS[timed.need],
    )


def _hands(planned: PlannedExercise) -> list[Text]:
    """Say each hand's reach; once where both are alike."""
    said = [(limits.hand, _reach(planned, limits)) for limits in planned.limits]
    if len(said) == 2 and said[0][1] == said[1][1]:
        return [Text(f"Each hand: {said[0][1]}")]
    return [Text(f"{HAND_NAMES[hand].capitalize()} hand: {reach}") for hand, reach in said]


def _reach(planned: PlannedExercise, limits: HandLimits) -> str:
    if limits.shortest is None:
        return "only buzzes, after which the hand lifts the stick."
    reach, unit, heights = limits.shortest, planned.options.unit, planned.options.heights
    dropped, thrown, most = (_reached(planned, h) for h in (reach.free_cm, reach.thrown_cm, reach.rise_cm))
    free = [
        f"{each} ({height_words(heights.of(each).aim_cm, unit)}) up to {tempo_below(planned.tempo.beat, bpm)}"
        for each, bpm in limits.free_up_to_bpm.items()
    ]
    doubled = " (a double counted as two wrist strokes)" if planned.doubles else ""
    by_itself = (
        f"at least {reach.interval_s:.3f} s between its own notes. In that time the stick rises and falls "
        f"by itself {dropped}"
    )
    if reach.free_cm <= heights.full.high_cm:
        by_itself += f"; thrown so that it keeps its height, {thrown}; with the hardest throw, {most}"
    return f"{by_itself}. Without force{doubled}: {listed(free)}."


def _reached(planned: PlannedExercise, height_cm: float) -> str:
    """Write a height that is reached; what is over every stroke is only said to be."""
    top_cm, unit = planned.options.heights.full.high_cm, planned.options.unit
    return height_words(height_cm, unit) if height_cm <= top_cm else f"over {height_words(top_cm, unit)}"


def _doubles(planned: PlannedExercise) -> list[Text]:
    """Say where doubles turn; once where both hands' are alike."""
    said = [(doubles.hand, _turning(planned, doubles)) for doubles in planned.doubles]
    if len(said) == 2 and said[0][1] == said[1][1]:
        return [Text(f"Doubles, each hand: {said[0][1]}")]
    return [Text(f"Doubles, {HAND_NAMES[hand]} hand: {words}") for hand, words in said]


def _turning(planned: PlannedExercise, doubles: Doubles) -> str:
    now = {
        "wrists": "two wrist strokes",
        "turning": "between two wrist strokes and a throw with its bounce",
        "bounce": "one throw and its bounce",
    }[doubles.played_as]
    turns, turned = (
        tempo_below(planned.tempo.beat, bpm) for bpm in (doubles.turns_from_bpm, doubles.turned_at_bpm)
    )
    return (
        f"{doubles.interval_s:.3f} s apart, {now}. Two wrist strokes up to "
        f"{turns} ({WRISTS_OVER_S:.2f} s), one throw and its bounce from "
        f"{turned} ({BOUNCE_UNDER_S:.2f} s)."
    )
