"""A load in the terminal: a sentence, the weeks, where they jump, and the sound of a day."""

from __future__ import annotations

import math
from pathlib import Path

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from evenhand.acts.weeks.load import LoadFigures
from evenhand.cli.tables.layout import (
    bold,
    figures_table,
    hand_head,
    plain_lines,
    quiet,
    say_blocks,
    warned,
    where_it_is,
)
from evenhand.music.exercise import HANDS, Hand
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
    say_blocks(
        quiet(found.student),
        *(block for load in found.loads for block in _load(load)),
        quiet(NO_LIMIT) if found.loads else (),
        plain_lines(f"Left out: {reason}" for reason in found.left_out),
        *(() if found.sound is None else _sound(found.sound)),
        where_it_is("picture", picture),
        quiet(EXERCISES_CAUTION),
    )


def _load(load: WeeklyLoad) -> list[list[RenderableType]]:
    """Give one load: the sentence, a line a week, the jumps, the notes."""
    weeks = [_weeks(load)] if load.weeks else []
    return [[bold(load_words(load))], [*weeks], [*warned(jump_lines(load))], [*quiet(*note_lines(load))]]


def _weeks(load: WeeklyLoad) -> Table:
    heads = ["week", "days", "in all", *(head for hand in HANDS for head in (hand_head(hand), ""))]
    shown = load.weeks[-MOST_WEEKS:]
    rows: list[list[str | Text]] = []
    if len(shown) < len(load.weeks):
        rows.append(list(quiet(f"{len(load.weeks) - len(shown)} weeks before")))
    rows += [
        [
            week_words(week),
            str(week.days),
            f"{week.minutes:.1f} min",
            *(cell for hand in HANDS for cell in _hand(week, hand)),
        ]
        for week in shown
    ]
    return figures_table(heads, rows, numbers=range(1, len(heads)))


def _hand(week: WeekLoad, hand: Hand) -> tuple[str, str]:
    load = week.hands[hand]
    return f"{thousands(load.strokes)} strokes", f"{load.minutes:.1f} min"


def _sound(sound: SoundExposure) -> list[list[RenderableType]]:
    """Give a day's sound: the sentence, a line a level, what the figures rest on."""
    table = figures_table(SOUND_HEADS, map(_cells, sound.spells), numbers=range(len(SOUND_HEADS)))
    level = f"The same dose as {sound.average_dba:.1f} dBA over 8 hours; 3 dB more would double it."
    if len(sound.spells) > 1:
        level += " The time left is for one of the levels, not for each."
    return [[bold(sound_words(sound))], [table], [Text(level), *quiet(HEARING_CAUTION)]]


def _cells(each: SpellExposure) -> tuple[str, ...]:
    return (
        f"{each.level_dba:g} dBA",
        length(each.minutes),
        length(each.niosh_allowed_min, DAY) if each.niosh_allowed_min else "no time",
        f"{each.niosh_dose_percent:,.1f} %",
        length(each.niosh_left_min, DAY),
        length(each.who_week_allowed_min, WEEK),
        f"{each.who_week_percent:,.1f} %",
        length(each.who_week_left_min, WEEK),
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
