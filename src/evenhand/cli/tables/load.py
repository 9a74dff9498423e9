"""A load in the terminal: a sentence, the weeks, where they jump, and the sound of a day."""

from __future__ import annotations

import math
from pathlib import Path

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.acts.weeks.load import LoadFigures
from evenhand.cli.tables.figures import HANDS, INKS, NAMES, STICKS, say_parts
from evenhand.music.exercise import Hand
from evenhand.planning.load.counts import SoundExposure, SpellExposure, WeekLoad, WeeklyLoad
from evenhand.report.words.figures import EXERCISES_CAUTION
from evenhand.report.words.load import (
    HEARING_CAUTION,
    NO_LIMIT,
    jump_lines,
    load_words,
    note_lines,
    sound_words,
    thousands,
    week_words,
)
from evenhand.report.words.times import duration

MOST_WEEKS = 26
DAY, WEEK = (24 * 60.0, "all day"), (7 * 24 * 60.0, "all week")
SOUND_HEADS = (
    "level",
    "for",
    "NIOSH's day allows",
    "uses",
    "left today",
    "WHO's week allows",
    "uses",
    "left",
)


def say(found: LoadFigures, *, picture: Path | None = None) -> None:
    """Print a load on stdout."""
    say_parts(summary(found, picture=picture))


def summary(found: LoadFigures, *, picture: Path | None = None) -> RenderableType:
    """Build what is printed."""
    parts: list[RenderableType] = ["", Text(found.student, style="dim")] if found.student else []
    for course in found.loads:
        parts += ["", *_course(course)]
    if found.loads:
        parts.append(Text(NO_LIMIT, style="dim"))
    parts += [Text(f"Left out: {reason}") for reason in found.left_out]
    if found.sound is not None:
        parts += ["", *_sound(found.sound)]
    if picture is not None:
        parts += ["", Text(f"The picture is in {picture}")]
    return Padding(Group(*parts, "", Text(EXERCISES_CAUTION, style="dim"), ""), (0, 2))


def _course(course: WeeklyLoad) -> list[RenderableType]:
    """Give one load: the sentence, a line a week, the jumps, the notes."""
    parts: list[RenderableType] = [Text(load_words(course), style="bold")]
    if course.weeks:
        parts += ["", _weeks(course)]
    if course.jumps:
        parts += ["", *(Text(f"! {line}") for line in jump_lines(course))]
    return [*parts, "", *(Text(line, style="dim") for line in note_lines(course))]


def _weeks(course: WeeklyLoad) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="dim")
    table.add_column("week", no_wrap=True)
    for head in ("days", "in all"):
        table.add_column(head, justify="right", no_wrap=True)
    for hand in HANDS:
        ink = Text(f"{STICKS[hand]} {NAMES[hand]}", style=f"bold {INKS[hand]}")
        table.add_column(ink, justify="right", no_wrap=True)
        table.add_column("", justify="right", no_wrap=True)
    shown = course.weeks[-MOST_WEEKS:]
    if len(shown) < len(course.weeks):
        table.add_row(Text(f"{len(course.weeks) - len(shown)} weeks before", style="dim"))
    for week in shown:
        figures = (str(week.days), f"{week.minutes:.1f} min")
        table.add_row(week_words(week), *figures, *(cell for hand in HANDS for cell in _hand(week, hand)))
    return table


def _hand(week: WeekLoad, hand: Hand) -> tuple[str, str]:
    load = week.hands[hand]
    return f"{thousands(load.strokes)} strokes", f"{load.minutes:.1f} min"


def _sound(sound: SoundExposure) -> list[RenderableType]:
    """Give a day's sound: the sentence, a line a level, what the figures rest on."""
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="dim")
    for head in SOUND_HEADS:
        table.add_column(head, justify="right")
    for each in sound.spells:
        table.add_row(*_cells(each))
    level = f"The same dose as {sound.average_dba:.1f} dBA over 8 hours; 3 dB more would double it."
    if len(sound.spells) > 1:
        level += " The time left is for one of the levels, not for each."
    return [
        Text(sound_words(sound), style="bold"),
        "",
        table,
        "",
        Text(level),
        Text(HEARING_CAUTION, style="dim"),
    ]


def _cells(each: SpellExposure) -> tuple[str, ...]:
    return (
        f"{each.spell.level_dba:g} dBA",
        length(each.spell.minutes),
        length(each.allowed_min, DAY) if each.allowed_min else "no time",
        f"{each.dose_percent:,.1f} %",
        length(each.left_min, DAY),
        length(each.week_allowed_min, WEEK),
        f"{each.week_percent:,.1f} %",
        length(each.week_left_min, WEEK),
    )


def length(minutes: float, whole: tuple[float, str] = (math.inf, "")) -> str:
    """Write how long something may last; what would be longer than the whole is all of it.

    >>> length(0.0), length(0.46), length(47.622), length(150.0), length(24000.0, WEEK)
    ('none', '28 s', '48 min', '2 h 30 min', 'all week')
    """
    most, words = whole
    if minutes <= 0:
        return "none"
    if minutes >= most:
        return words
    return duration(60 * minutes, "minutes")
