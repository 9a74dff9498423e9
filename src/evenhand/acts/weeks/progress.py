"""Follow a student over the weeks: figures as JSON, words, and a picture (docs/progress.md)."""

from __future__ import annotations

from datetime import date

from evenhand.acts.takes.document import Json, figure, json_of, rounded
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
    return {
        "student": progress.student,
        "exercises": [_exercise(each) for each in progress.exercises],
        "heard_on_one_day": progress.single,
        "left_out": list(progress.left_out),
    }


def progress_drawing(progress: StudentProgress) -> str:
    """Draw a student's progress as an SVG document."""
    from evenhand.report.plots.progress import progress_picture

    return progress_picture(progress, [print_exercise(each.exercise) for each in progress.exercises])


def _exercise(each: ExerciseProgress) -> Json:
    first = each.takes[0].day
    return {
        "exercise": print_exercise(each.exercise),
        "stroke": each.stroke,
        "takes": len(each.takes),
        "days": len({take.day for take in each.takes}),
        "from": first.isoformat(),
        "to": each.takes[-1].day.isoformat(),
        "tempo_bpm": {key: rounded(bpm, 2) for key, bpm in each.tempos_bpm.items()},
        "courses": [_course(course, first) for course in each.trajectories],
        "ceiling": None if each.ceiling is None else _ceiling(each.ceiling, first),
    }


def _course(course: MeasureTrajectory, first: date) -> Json:
    followed, change, curve, plateau = course.followed, course.change, course.curve, course.plateau
    return {
        "measure": followed.place.format(hand=course.hand),
        "hand": course.hand,
        "unit": followed.unit,
        "better": followed.better,
        "audible_from": None if course.audible_from is None else rounded(course.audible_from, 3),
        "days": course.days,
        "points": [
            {"day": p.take.day.isoformat(), "take": p.take.name, **figure(p.measure)} for p in course.points
        ],
        "change": None
        if change is None
        else {
            "told": change.direction,
            "per_week": figure(change.per_week),
            "start": figure(change.start),
            "end": figure(change.end),
            "between_days": rounded(change.between, 4),
        },
        "curve": None
        if curve is None
        else {"end": figure(curve.end), "half_life_days": figure(curve.half_life_days)},
        "plateau": None
        if plateau is None
        else {
            "since": _day(plateau.since_days, first),
            "level": figure(plateau.level),
            "days_of_practice": plateau.days,
        },
        "text": course_words(course, first),
    }


def _day(measure: Measure, first: date) -> Json:
    """Write days from the first take as dates."""
    ends = None if measure.ci95 is None else [day_at(first, edge).isoformat() for edge in measure.ci95]
    value = None if measure.value is None else day_at(first, measure.value).isoformat()
    return {"value": value, "ci95": ends}


def _ceiling(course: CeilingTrajectory, first: date) -> Json:
    return {
        "beat": f"{course.beat.numerator}/{course.beat.denominator}",
        "start_bpm": figure(course.start),
        "end_bpm": figure(course.end),
        "per_week": figure(course.per_week),
        "told": course.direction,
        "repetitions": course.repetitions,
        "days": course.days,
        "weeks": [_week(week, first) for week in course.weeks],
        "wish": None if course.wish is None else _wish(course.wish, first),
        "text": ceiling_words(course, first),
    }


def _week(week: WeekCeiling, first: date) -> Json:
    return {
        "day": day_at(first, week.x_days).isoformat(),
        "ceiling_bpm": figure(week.ceiling),
        "at_least_bpm": None if week.at_least_bpm is None else rounded(week.at_least_bpm, 2),
        "at_most_bpm": None if week.at_most_bpm is None else rounded(week.at_most_bpm, 2),
        "repetitions": week.repetitions,
    }


def _wish(wish: WishedTempo, first: date) -> Json:
    not_before = wish.not_before_days
    return {
        "tempo_bpm": rounded(wish.tempo_bpm, 3),
        "reach": wish.reach,
        "day": _day(wish.x_days, first),
        "not_before": None if not_before is None else day_at(first, not_before).isoformat(),
        "nothing_said_after": day_at(first, wish.horizon_days).isoformat(),
        "chance_reached": rounded(wish.chance_reached, 4),
    }
