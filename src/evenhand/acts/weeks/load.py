"""Show the load of some weeks and the sound of a day: gathered, and as JSON (docs/load.md)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass

from evenhand.acts.documents import Json, plain
from evenhand.errors import WrongOptions
from evenhand.planning.load.counts import (
    JUMP,
    Jump,
    SoundExposure,
    SoundSpell,
    WeekLoad,
    WeeklyLoad,
    assigned_load,
    recorded_load,
)
from evenhand.planning.load.exposure import exposure_of
from evenhand.planning.practice import PracticePlan
from evenhand.progress.history import History
from evenhand.report.words.figures import EXERCISES_CAUTION
from evenhand.report.words.load import HEARING_CAUTION

_SPELL = re.compile(r"\s*(\d{1,3}(?:\.\d{1,3})?)\s*:\s*(\d{1,4}(?:\.\d{1,3})?)\s*", re.ASCII)
SOFTEST_DBA, LOUDEST_DBA = 30.0, 140.0
DAY_MIN = 24.0 * 60.0
LOAD_DIGITS = {**dict.fromkeys(("minutes", "min", "percent", "dba", "before", "now"), 4), "energy_pa2h": 9}


@dataclass(frozen=True, slots=True)
class LoadFigures:
    """What was asked for; None where it was not. ``left_out`` names takes that told nothing."""

    recorded: WeeklyLoad | None = None
    assigned: WeeklyLoad | None = None
    sound: SoundExposure | None = None
    student: str = ""
    left_out: tuple[str, ...] = ()

    @property
    def loads(self) -> tuple[WeeklyLoad, ...]:
        """The loads there are."""
        return tuple(course for course in (self.recorded, self.assigned) if course is not None)


def read_spells(texts: Iterable[str]) -> tuple[SoundSpell, ...]:
    """Read a day's levels and minutes, such as ``94:30``.

    Raises
    ------
    WrongOptions
        Where one cannot be read or heard, or where they are longer than a day.
    """
    spells = tuple(_spell(text) for text in texts)
    minutes = sum(spell.minutes for spell in spells)
    if minutes > DAY_MIN:
        raise WrongOptions(got=f"sound for {minutes:g} minutes", must_be=f"at most {DAY_MIN:g}, one day")
    return spells


def show_load(
    history: History | None, plans: Sequence[PracticePlan], spells: Sequence[SoundSpell]
) -> LoadFigures:
    """Count what was recorded and what was assigned, and weigh the sound."""
    if history is None and not plans and not spells:
        raise WrongOptions(got="nothing to count", must_be="--history, --plan or --sound, or several")
    named = [history.student] if history is not None else [plan.student for plan in plans]
    return LoadFigures(
        recorded=None if history is None else recorded_load(history),
        assigned=assigned_load(plans) if plans else None,
        sound=exposure_of(spells) if spells else None,
        student=next((name for name in named if name), ""),
        left_out=history.left_out if history is not None else (),
    )


def load_json(shown: LoadFigures) -> Json:
    """Turn a load into plain dicts, lists and numbers."""
    return plain(
        {
            "student": shown.student,
            "jump_over_percent": 100.0 * (JUMP - 1.0),
            "recorded": shown.recorded and _course(shown.recorded),
            "assigned": shown.assigned and _course(shown.assigned),
            "sound": shown.sound and _sound(shown.sound),
            "left_out": shown.left_out,
            "cautions": [EXERCISES_CAUTION, HEARING_CAUTION],
        },
        LOAD_DIGITS,
    )


def _spell(text: str) -> SoundSpell:
    found = _SPELL.fullmatch(text)
    if found is None:
        must_be = "a level in dBA and minutes, such as 94:30"
        raise WrongOptions(got=f"the sound {text!r}", must_be=must_be)
    spell = SoundSpell(float(found[1]), float(found[2]))
    if not SOFTEST_DBA <= spell.level_dba <= LOUDEST_DBA:
        must_be = f"{SOFTEST_DBA:g} to {LOUDEST_DBA:g} dBA"
        raise WrongOptions(got=f"a level of {spell.level_dba:g} dBA", must_be=must_be)
    if not 0.0 < spell.minutes <= DAY_MIN:
        must_be = f"more than 0 and at most {DAY_MIN:g} minutes"
        raise WrongOptions(got=f"{spell.minutes:g} minutes at {spell.level_dba:g} dBA", must_be=must_be)
    return spell


def _course(course: WeeklyLoad) -> Json:
    return {"weeks": [_week(week) for week in course.weeks], "jumps": [_jump(each) for each in course.jumps]}


def _week(week: WeekLoad) -> Json:
    return {
        "week": week.name,
        "monday": week.monday,
        "days": week.days,
        "pieces": week.pieces,
        "minutes": week.minutes,
        "hands": week.hands,
        "unknown_strokes": week.unknown_strokes,
        "empty_weeks_before": week.empty_before,
    }


def _jump(jump: Jump) -> Json:
    return {**asdict(jump), "rise_percent": jump.rise_percent}


def _sound(sound: SoundExposure) -> Json:
    return {
        "spells": sound.spells,
        "niosh": {
            "dose_percent": sound.dose_percent,
            "average_8h_dba": sound.average_dba,
            "over_ceiling": sound.over_ceiling,
        },
        "who": {"week_percent": sound.week_percent, "energy_pa2h": sound.energy_pa2h},
    }
