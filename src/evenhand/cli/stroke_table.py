"""A stroke plan in the terminal: letters under the sticking, each stroke, each hand's reach, what to know."""

from __future__ import annotations

import math
import sys
from pathlib import Path

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.application.plan_strokes import PlannedExercise, TimedStroke
from evenhand.cli.figure_table import INKS
from evenhand.craft.doubles import BOUNCE_UNDER_S, WRISTS_OVER_S, Doubles
from evenhand.craft.free_heights import HandLimits
from evenhand.craft.lengths import height_words
from evenhand.craft.stroke_plan import LETTERS
from evenhand.domain.cautions import EXERCISES_CAUTION
from evenhand.domain.exercise import Note
from evenhand.pages.figures import listed

WIDEST = 100
MOST_ROWS = 48
LONGEST_NAME = 160
HAND_NAMES = {"R": "right", "L": "left"}
NEED_WORDS = {None: "", "throw": "a throw", "lift": "the hand lifts"}
LETTER_WORDS = "F full, D down, T tap, U up"
ASSUMED = (
    "Heights and classes are common practice; a teacher may set others (--heights). The rebound is a model: "
    "the tip in free fall, the drum giving back {restitution:g} of its speed."
)


def say(planned: PlannedExercise, *, chart: Path | None = None) -> None:
    """Print a stroke plan on stdout."""
    console = Console(highlight=False, soft_wrap=False)
    console.width = min(console.width, WIDEST) if sys.stdout.isatty() else WIDEST
    console.print(stroke_summary(planned, width=console.width, chart=chart))


def stroke_summary(
    planned: PlannedExercise, *, width: int = WIDEST, chart: Path | None = None
) -> RenderableType:
    """Build what is printed."""
    written = planned.exercise_text
    name = written if len(written) <= LONGEST_NAME else f"{written[:LONGEST_NAME]} …"
    parts: list[RenderableType] = ["", Text(f"{name}   at {planned.tempo}", style="bold"), ""]
    parts += [*_letters(planned, width - 4), Text(LETTER_WORDS, style="dim"), "", _table(planned), ""]
    parts += [*_hands(planned), *_doubles(planned)]
    if planned.plan.remarks:
        parts += ["", *(Text(f"! {remark.text}") for remark in planned.plan.remarks)]
    if chart is not None:
        parts += ["", Text(f"The chart is in {chart}")]
    assumed = ASSUMED.format(restitution=planned.wishes.restitution)
    parts += ["", Text(assumed, style="dim"), Text(EXERCISES_CAUTION, style="dim"), ""]
    return Padding(Group(*parts), (0, 2))


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
        top = Text("".join(sticking.rjust(room) for sticking, _ in some))
        top.highlight_regex(r"[rR]", INKS["R"])
        top.highlight_regex(r"[lL]", INKS["L"])
        lines.append(top.append("\n").append("".join(letter.rjust(room) for _, letter in some)))
    return lines


def _sticking(note: Note) -> str:
    """Write a note so that its hand stands last."""
    if note.hand is None:
        return "-"
    return f"{'>' if note.accent else ''}{''.join(note.graces).lower()}{note.hand}"


def _table(planned: PlannedExercise) -> RenderableType:
    """List the strokes with their heights and what rises freely in their time."""
    timed, unit = planned.timed(), planned.wishes.unit
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    for name in ("note", "hand", "stroke"):
        table.add_column(name)
    for name in ("from", "to", "same hand again in", "free up to"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("needs")
    for each in timed[:MOST_ROWS]:
        table.add_row(*_row(each, planned))
    if len(timed) <= MOST_ROWS:
        return table
    return Group(table, Text(f"and {len(timed) - MOST_ROWS} more in --json; heights in {unit}", style="dim"))


def _row(timed: TimedStroke, planned: PlannedExercise) -> tuple[Text | str, ...]:
    stroke, unit = timed.stroke, planned.wishes.unit
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
    reach, unit, heights = limits.shortest, planned.wishes.unit, planned.wishes.heights
    dropped, thrown, most = (_reached(planned, h) for h in (reach.free_cm, reach.thrown_cm, reach.rise_cm))
    free = [
        f"{each} ({height_words(heights.of(each).aim_cm, unit)}) up to {_tempo(planned, bpm)}"
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
    top_cm, unit = planned.wishes.heights.full.high_cm, planned.wishes.unit
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
    return (
        f"{doubles.interval_s:.3f} s apart, {now}. Two wrist strokes up to "
        f"{_tempo(planned, doubles.turns_from_bpm)} ({WRISTS_OVER_S:.2f} s), one throw and its bounce from "
        f"{_tempo(planned, doubles.turned_at_bpm)} ({BOUNCE_UNDER_S:.2f} s)."
    )


def _tempo(planned: PlannedExercise, bpm: float) -> str:
    beat = planned.tempo.beat
    return f"{beat.numerator}/{beat.denominator} = {math.floor(bpm + 1e-9)}"
