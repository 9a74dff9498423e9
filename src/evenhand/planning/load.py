"""What each hand plays week by week, counted from takes or from plans, and where it jumps; and sound spells.

Conventions: a week is an ISO week, Monday to Sunday, numbered from year 1's first; a plan's first seven days
are one week, the one its first day lies in. Every blow counts as one stroke, graces too, whatever its height.
A hand's minutes are those of the exercises it takes part in, without the rests between. Levels are dBA as a
sound level meter gives them.

Of sound it says how much of a day and of a week is used up. Levels are dBA, each an average over its minutes
(LAeq); a dose is a percentage of one day. Every level counts, the quiet ones too, which errs to the safe
side.

NIOSH (criteria document 98-126): T = 480 / 2^((L - 85) / 3) minutes, D = 100 sum(C / T),
TWA = 10 log10(D / 100) + 85, and no time at all over 115 dBA.
WHO and ITU (H.870, 2019): 80 dB for 40 hours a week, and what has the same energy: 1.6 Pa2h.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Literal

from evenhand.errors import BadPlan
from evenhand.music.exercise import HANDS, Exercise, Hand
from evenhand.planning.practice import PracticeDay, PracticePlan
from evenhand.progress.history import History, PastTake

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
class WeeklyLoad:
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

    ``niosh_allowed_min`` is NIOSH's limit for a day at this level alone, 0 over its ceiling;
    ``who_week_allowed_min`` is the WHO's for a week.
    """

    level_dba: float
    minutes: float
    niosh_allowed_min: float
    niosh_dose_percent: float
    niosh_left_min: float
    who_week_allowed_min: float
    who_week_percent: float
    who_week_left_min: float


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


FIGURES: tuple[LoadFigure, LoadFigure] = ("strokes", "minutes")
ROUNDING = 1e-9  # so that minutes a quarter up are not taken for more by their last digit


@dataclass(frozen=True, slots=True)
class _Piece:
    """One take, or one item of a plan."""

    week: int
    day: int  # only tells the days of a week apart
    seconds: float
    strokes: Mapping[Hand, int]
    unknown: int = 0


def recorded_load(history: History) -> WeeklyLoad:
    """Count what was recorded; a take that does not tell its hands counts for neither."""
    if not history.takes:
        return WeeklyLoad("recorded", (), ())
    first = min(take.day for take in history.takes)
    weeks = _weeks((_piece_of_take(take) for take in history.takes), dated=True)
    return WeeklyLoad("recorded", weeks, jumps_of(weeks), begins=first)


def assigned_load(plans: Sequence[PracticePlan]) -> WeeklyLoad:
    """Count what was assigned, a plan after the other.

    A plan without a date is the week after the one before it; where none has one, weeks are
    numbered from 1.

    Raises
    ------
    BadPlan
        Where a plan's weeks lie outside the calendar.
    """
    pieces = [
        piece
        for plan, week in zip(plans, _first_weeks(plans), strict=True)
        for number, day in enumerate(plan.days)
        for piece in _pieces_of_day(day, week, number)
    ]
    weeks = _weeks(pieces, dated=any(plan.starts is not None for plan in plans))
    return WeeklyLoad("assigned", weeks, jumps_of(weeks))


def jumps_of(weeks: Sequence[WeekLoad]) -> tuple[Jump, ...]:
    """Find every hand that plays over a quarter more than in the last week with playing."""
    found = []
    for before, now in pairwise(weeks):
        for hand in HANDS:
            for figure in FIGURES:
                was, is_now = (getattr(week.hands[hand], figure) for week in (before, now))
                if is_now > JUMP * was + ROUNDING:
                    found.append(Jump(now.name, before.name, hand, figure, was, is_now))
    return tuple(found)


def strokes_of(exercise: Exercise) -> Counter[Hand]:
    """Count each hand's blows in one time through, graces too."""
    struck = [note for note in exercise.notes if not note.is_rest]
    blows: Counter[Hand] = Counter(note.one_hand for note in struck if note.one_hand is not None)
    blows.update(hand for note in struck if note.both for hand in HANDS)
    blows.update(hand for note in struck for hand in note.graces)
    return blows


def _piece_of_take(take: PastTake) -> _Piece:
    week, day = week_of(take.day), take.day.toordinal()
    if not take.clear:
        return _Piece(week, day, take.seconds, {}, sum(take.strokes.values()))
    return _Piece(week, day, take.seconds, {hand: take.strokes.get(hand, 0) for hand in HANDS})


def _pieces_of_day(day: PracticeDay, first_week: int, number: int) -> Iterator[_Piece]:
    week = first_week + number // DAYS_A_WEEK
    for item in day.items:
        blows = strokes_of(item.exercise)
        strokes = {hand: item.goes * item.repetitions * many for hand, many in blows.items()}
        played_s = item.seconds - (item.goes - 1) * item.pause_s
        yield _Piece(week, number, played_s, strokes)


def _first_weeks(plans: Sequence[PracticePlan]) -> list[int]:
    """Say in which week each plan begins; those ahead of the first date count back from it."""
    lengths = [-(-len(plan.days) // DAYS_A_WEEK) for plan in plans]
    dated = next((i for i, plan in enumerate(plans) if plan.starts is not None), None)
    starts = [None if plan.starts is None else week_of(plan.starts) for plan in plans]
    week = 0 if dated is None else (starts[dated] or 0) - sum(lengths[:dated])
    out = []
    for given, length in zip(starts, lengths, strict=True):
        week = week if given is None else given
        if week < 0 or week + length - 1 > LAST_WEEK:
            raise BadPlan(
                where="plan, starts", got="weeks that no calendar has", must_be="a date of these times"
            )
        out.append(week)
        week += length
    return out


def _weeks(pieces: Iterable[_Piece], *, dated: bool) -> tuple[WeekLoad, ...]:
    """Add pieces up by their weeks, oldest first."""
    by_week: dict[int, list[_Piece]] = {}
    for piece in pieces:
        by_week.setdefault(piece.week, []).append(piece)
    weeks = [min(by_week, default=0) - 1, *sorted(by_week)]
    return tuple(
        _week_load(by_week[week], dated=dated, empty_before=week - last - 1) for last, week in pairwise(weeks)
    )


def _week_load(pieces: Sequence[_Piece], *, dated: bool, empty_before: int) -> WeekLoad:
    """Add the pieces of one week up."""
    week, hands = pieces[0].week, dict[Hand, HandLoad]()
    for hand in HANDS:
        own = [piece for piece in pieces if piece.strokes.get(hand)]
        strokes, seconds = sum(piece.strokes[hand] for piece in own), sum(piece.seconds for piece in own)
        hands[hand] = HandLoad(strokes, seconds / 60.0)
    return WeekLoad(
        name=week_name(week) if dated else f"week {week + 1}",
        monday=monday_of(week) if dated else None,
        days=len({piece.day for piece in pieces}),
        pieces=len(pieces),
        minutes=sum(piece.seconds for piece in pieces) / 60.0,
        hands=hands,
        unknown_strokes=sum(piece.unknown for piece in pieces),
        empty_before=empty_before,
    )


DAY_MIN = 480.0  # the working day that both rules are made for
CEILING_DBA = 115.0
WEEK_DB, WEEK_MIN = 80.0, 40.0 * 60.0
REFERENCE_PA = 20e-6


@dataclass(frozen=True, slots=True)
class DayRule:
    """The level that fills a working day, and how many dB more halve the time."""

    level_dba: float
    exchange_db: float


NIOSH = DayRule(85.0, 3.0)


def allowed_minutes(level_dba: float, rule: DayRule = NIOSH) -> float:
    """Return how long a day may hold this level, and no other sound.

    >>> allowed_minutes(94), allowed_minutes(100)
    (60.0, 15.0)
    """
    return DAY_MIN / math.pow(2.0, (level_dba - rule.level_dba) / rule.exchange_db)


def dose_percent(spells: Sequence[SoundSpell], rule: DayRule = NIOSH) -> float:
    """Return how much of the day's allowance some spells use up."""
    return 100.0 * sum(spell.minutes / allowed_minutes(spell.level_dba, rule) for spell in spells)


def average_dba(dose: float) -> float:
    """Return the steady level over 8 hours that gives a dose above 0 (NIOSH's TWA)."""
    return 10.0 * math.log10(dose / 100.0) + NIOSH.level_dba


def week_minutes(level_dba: float) -> float:
    """Return how long a week may hold this level, and no other sound."""
    return WEEK_MIN * math.pow(10.0, (WEEK_DB - level_dba) / 10.0)


def energy_pa2h(spells: Sequence[SoundSpell]) -> float:
    """Return the sound exposure: squared pressure times hours."""
    return sum(
        math.pow(10.0, spell.level_dba / 10.0) * REFERENCE_PA**2 * spell.minutes / 60.0 for spell in spells
    )


def exposure_of(spells: Sequence[SoundSpell]) -> SoundExposure:
    """Weigh a day's spells, at least one, against NIOSH's day and the WHO's week."""
    dose = dose_percent(spells)
    week = 100.0 * sum(spell.minutes / week_minutes(spell.level_dba) for spell in spells)
    return SoundExposure(
        spells=tuple(_spell(spell, dose, week) for spell in spells),
        dose_percent=dose,
        average_dba=average_dba(dose),
        week_percent=week,
        energy_pa2h=energy_pa2h(spells),
        over_ceiling=any(spell.level_dba > CEILING_DBA for spell in spells),
    )


def _spell(spell: SoundSpell, dose: float, week: float) -> SpellExposure:
    """Weigh one spell; what is left at its level is what all of them together leave."""
    allowed, allowed_week = allowed_minutes(spell.level_dba), week_minutes(spell.level_dba)
    day_min = 0.0 if spell.level_dba > CEILING_DBA else allowed
    return SpellExposure(
        level_dba=spell.level_dba,
        minutes=spell.minutes,
        niosh_allowed_min=day_min,
        niosh_dose_percent=100.0 * spell.minutes / allowed,
        niosh_left_min=day_min * max(0.0, 1.0 - dose / 100.0),
        who_week_allowed_min=allowed_week,
        who_week_percent=100.0 * spell.minutes / allowed_week,
        who_week_left_min=allowed_week * max(0.0, 1.0 - week / 100.0),
    )
