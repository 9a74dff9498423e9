"""Follow a student over the weeks: figures as JSON, words, and a picture (docs/progress.md)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date

from evenhand.acts.documents import Json, json_of, plain
from evenhand.errors import WrongOptions
from evenhand.measuring.values import Measure
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.progress.history import History
from evenhand.progress.trends.values import (
    CeilingTrajectory,
    ExerciseProgress,
    MeasureTrajectory,
    StudentProgress,
    WeekCeiling,
    WishedTempo,
)
from evenhand.progress.trends.weeks import follow
from evenhand.report.words.progress import ceiling_words, course_words, day_at

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
        "text": ceiling_words(course, first),
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
