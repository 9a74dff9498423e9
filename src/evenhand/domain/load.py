"""Load: what each hand plays week by week, and how much sound an ear gets.

Conventions: a week is an ISO week, Monday to Sunday, numbered from year 1's first. Every blow
counts as one stroke, graces too, whatever its height. A hand's minutes are those of the
exercises it takes part in, without the rests between. Levels are dBA as a sound level meter
gives them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from evenhand.domain.exercise import Hand

# More than a quarter over the week before is a jump: a convention of ours. No limit a week that
# rests on evidence was found; musicians name a sudden increase of playing as a major cause of
# trouble (Chan & Ackermann 2014, Front Psychol 5:706).
JUMP = 1.25

DAYS_A_WEEK = 7
LAST_WEEK = (date.max.toordinal() - 1) // DAYS_A_WEEK

LoadKind = Literal["recorded", "assigned"]
LoadFigure = Literal["strokes", "minutes"]


def week_of(day: date) -> int:
    """Return the number of a day's week, 0 for the first of year 1 (which begins on a Monday)."""
    return (day.toordinal() - 1) // DAYS_A_WEEK


def monday_of(week: int) -> date:
    """Return the Monday of a numbered week.

    >>> monday_of(week_of(date(2026, 3, 15))).isoformat()
    '2026-03-09'
    """
    return date.fromordinal(week * DAYS_A_WEEK + 1)


def week_name(week: int) -> str:
    """Name a numbered week as ISO 8601 does.

    >>> week_name(week_of(date(2027, 1, 1)))
    '2026-W53'
    """
    year, number, _ = monday_of(week).isocalendar()
    return f"{year:04d}-W{number:02d}"


@dataclass(frozen=True, slots=True)
class HandLoad:
    """What one hand plays in a week."""

    strokes: int
    minutes: float


@dataclass(frozen=True, slots=True)
class WeekLoad:
    """One week with playing in it.

    ``name`` is the ISO week ("2026-W11"), or "week 1" where no date is known; ``days`` are
    those with playing, ``pieces`` takes or items. ``unknown_strokes`` come from takes that do
    not tell which hand is which: they are in ``minutes``, and in neither hand. ``empty_before``
    counts the weeks without anything since the last one.
    """

    name: str
    monday: date | None
    days: int
    pieces: int
    minutes: float
    hands: Mapping[Hand, HandLoad]
    unknown_strokes: int = 0
    empty_before: int = 0


@dataclass(frozen=True, slots=True)
class Jump:
    """A hand that plays more than a quarter more than in the last week with playing."""

    week: str
    since: str
    hand: Hand
    figure: LoadFigure
    before: float
    now: float

    @property
    def rise_percent(self) -> float | None:
        """How much more it is; None where there was nothing before."""
        return 100.0 * (self.now / self.before - 1.0) if self.before > 0 else None


@dataclass(frozen=True, slots=True)
class LoadCourse:
    """The load of some weeks, oldest first. ``begins`` is the first day with playing, where known."""

    kind: LoadKind
    weeks: tuple[WeekLoad, ...]
    jumps: tuple[Jump, ...]
    begins: date | None = None


@dataclass(frozen=True, slots=True)
class SoundSpell:
    """So many minutes at one level, dBA."""

    level_dba: float
    minutes: float


@dataclass(frozen=True, slots=True)
class SpellExposure:
    """What one spell uses up, and what is left at its level once all spells are over.

    ``allowed_min`` is NIOSH's limit for a day at this level alone, 0 over its ceiling;
    ``week_allowed_min`` is the WHO's for a week.
    """

    spell: SoundSpell
    allowed_min: float
    dose_percent: float
    left_min: float
    week_allowed_min: float
    week_percent: float
    week_left_min: float


@dataclass(frozen=True, slots=True)
class SoundExposure:
    """A day's sound against NIOSH's day and the WHO's week.

    ``average_dba`` is the steady level over 8 hours that gives the same dose.
    """

    spells: tuple[SpellExposure, ...]
    dose_percent: float
    average_dba: float
    week_percent: float
    energy_pa2h: float
    over_ceiling: bool
