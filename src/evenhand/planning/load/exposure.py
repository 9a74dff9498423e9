"""How much of a day's and of a week's sound is used up: NIOSH's dose, the WHO's weekly energy.

Conventions: levels are dBA, each an average over its minutes (LAeq); a dose is a percentage
of one day. Every level counts, the quiet ones too, which errs to the safe side.

NIOSH (criteria document 98-126): T = 480 / 2^((L - 85) / 3) minutes, D = 100 sum(C / T),
TWA = 10 log10(D / 100) + 85, and no time at all over 115 dBA.
WHO and ITU (H.870, 2019): 80 dB for 40 hours a week, and what has the same energy: 1.6 Pa2h.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from evenhand.planning.load.counts import SoundExposure, SoundSpell, SpellExposure

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
