"""Show how a student's weeks went: figures (docs/progress.md), and load and sound (docs/load.md)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date

from evenhand.acts.documents import Json, json_of, plain
from evenhand.errors import WrongOptions
from evenhand.measuring.values import Measure
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.planning.load import (
    JUMP,
    Jump,
    SoundExposure,
    SoundSpell,
    WeekLoad,
    WeeklyLoad,
    assigned_load,
    exposure_of,
    recorded_load,
)
from evenhand.planning.practice import PracticePlan
from evenhand.planning.standing import exercise_standing
from evenhand.progress.ceiling.control import TempoCeiling
from evenhand.progress.history import History
from evenhand.progress.trends.trajectory import (
    CeilingTrajectory,
    ExerciseProgress,
    MeasureTrajectory,
    StudentProgress,
    WeekCeiling,
    WishedTempo,
)
from evenhand.progress.trends.weeks import follow
from evenhand.report.words.ceiling import ceiling_course_words, day_at, standing_words
from evenhand.report.words.figures import EXERCISES_CAUTION
from evenhand.report.words.progress import HEARING_CAUTION, course_words

PROGRESS_DIGITS: Mapping[str, int] = {
    **dict.fromkeys(("at_least_bpm", "at_most_bpm", "tempo_bpm"), 2),
    "audible_from": 3,
    **dict.fromkeys(("between_days", "chance_reached"), 4),
}


def show_progress(
    history: History, *, exercise: str | None = None, wish: str | None = None
) -> StudentProgress:
    """Follow a student's exercises, or the one given as text; ``wish`` is a tempo such as ``1/8=140``.

    Raises
    ------
    BadExercise, BadTempo
        Where one cannot be read.
    WrongOptions
        Where the student has no take of that exercise.
    """
    wanted = None if exercise is None else parse_exercise(exercise)
    tempo = None if wish is None else Tempo.parse(wish)
    known = {take.exercise.notes for take in history.takes}
    if wanted is not None and wanted.notes not in known:
        texts = dict.fromkeys(print_exercise(take.exercise) for take in history.takes)
        must_be = f"one that was played: {'; '.join(texts) or 'none was'}"
        raise WrongOptions(got=f"the exercise {exercise!r}", must_be=must_be)
    return follow(history, exercise=wanted, wish=tempo)


def progress_text(progress: StudentProgress) -> str:
    """Write a student's progress as JSON text."""
    return json_of(progress_json(progress))


def progress_json(progress: StudentProgress) -> Json:
    """Turn a student's progress into plain dicts, lists and numbers."""
    return plain(
        {
            "student": progress.student,
            "exercises": [_exercise(each) for each in progress.exercises],
            "heard_on_one_day": progress.single,
            "left_out": progress.left_out,
        },
        PROGRESS_DIGITS,
    )


def _exercise(each: ExerciseProgress) -> Json:
    first = each.takes[0].day
    return {
        "exercise": print_exercise(each.exercise),
        "stroke": each.stroke,
        "takes": len(each.takes),
        "days": len({take.day for take in each.takes}),
        "from": first,
        "to": each.takes[-1].day,
        "tempo_bpm": each.tempos_bpm,
        "courses": [_course(course, first) for course in each.trajectories],
        "ceiling": each.ceiling and _ceiling(each.ceiling, first),
        "next": _next(each),
    }


def _next(each: ExerciseProgress) -> Json:
    """Say how an exercise goes on: as the plan has it."""
    standing = exercise_standing(each.exercise, each.takes, stroke=each.stroke)
    return {
        "move": standing.move,
        "faults": [asdict(fault) for fault in standing.faults],
        "text": standing_words(standing),
    }


def _now(found: TempoCeiling) -> Json:
    return {
        "beat": f"{found.beat.numerator}/{found.beat.denominator}",
        "ceiling_bpm": found.ceiling,
        "at_least_bpm": found.at_least_bpm,
        "at_most_bpm": found.at_most_bpm,
    }


def _course(course: MeasureTrajectory, first: date) -> Json:
    followed, change, curve, plateau = course.followed, course.change, course.curve, course.plateau
    return {
        "measure": followed.place.format(hand=course.hand),
        "hand": course.hand,
        "unit": followed.unit,
        "better": followed.better,
        "audible_from": course.audible_from,
        "days": course.days,
        "points": [
            {"day": each.take.day, "take": each.take.name, **asdict(each.measure)} for each in course.points
        ],
        "change": change
        and {
            "told": change.direction,
            "per_week": change.per_week,
            "start": change.start,
            "end": change.end,
            "between_days": change.between,
        },
        "curve": curve and {"end": curve.end, "half_life_days": curve.half_life_days},
        "plateau": plateau
        and {
            "since": _day(plateau.since_days, first),
            "level": plateau.level,
            "days_of_practice": plateau.days,
        },
        "text": course_words(course, first),
    }


def _day(measure: Measure, first: date) -> Json:
    """Write days from the first take as dates."""
    ends = None if measure.ci95 is None else [day_at(first, edge) for edge in measure.ci95]
    return {"value": None if measure.value is None else day_at(first, measure.value), "ci95": ends}


def _ceiling(course: CeilingTrajectory, first: date) -> Json:
    return {
        "beat": f"{course.beat.numerator}/{course.beat.denominator}",
        "start_bpm": course.start,
        "end_bpm": course.end,
        "per_week": course.per_week,
        "told": course.direction,
        "repetitions": course.repetitions,
        "days": course.days,
        "weeks": [_week(week, first) for week in course.weeks],
        "wish": course.wish and _wish(course.wish, first),
        "now": course.now and _now(course.now),
        "text": ceiling_course_words(course, first),
    }


def _week(week: WeekCeiling, first: date) -> Json:
    return {
        "day": day_at(first, week.x_days),
        "ceiling_bpm": week.ceiling,
        "at_least_bpm": week.at_least_bpm,
        "at_most_bpm": week.at_most_bpm,
        "repetitions": week.repetitions,
    }


def _wish(wish: WishedTempo, first: date) -> Json:
    not_before = wish.not_before_days
    return {
        "tempo_bpm": wish.tempo_bpm,
        "reach": wish.reach,
        "day": _day(wish.x_days, first),
        "not_before": None if not_before is None else day_at(first, not_before),
        "nothing_said_after": day_at(first, wish.horizon_days),
        "chance_reached": wish.chance_reached,
    }


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
            "recorded": shown.recorded and _load_course(shown.recorded),
            "assigned": shown.assigned and _load_course(shown.assigned),
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


def _load_course(course: WeeklyLoad) -> Json:
    return {
        "weeks": [_load_week(week) for week in course.weeks],
        "jumps": [_jump(each) for each in course.jumps],
    }


def _load_week(week: WeekLoad) -> Json:
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
