"""A tempo ceiling in words: what it is now, how it went over the weeks, and what comes next of it.

Conventions: the ceiling that is said is the one of ``progress.ceiling.over_weeks.ceiling_now``, the same on
every page; every figure with its 95 % range and its count.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date, timedelta

from evenhand.music.exercise import bpm_of
from evenhand.planning.standing import Move, Standing, practice_limit_s
from evenhand.progress.ceiling.control import TempoCeiling
from evenhand.progress.trends.trajectory import CeilingTrajectory, Direction, WishedTempo
from evenhand.report.words.figures import (
    capitalised,
    count,
    day_words,
    interval_words,
    plain,
    signed,
    with_range,
)
from evenhand.report.words.remarks import remark_words

TOLD_WORDS: Mapping[Direction, str] = {
    "better": "better by more than chance",
    "worse": "worse by more than chance",
    "changed": "changed by more than chance",
    "can't tell": "which may be chance or form on the day",
}
MOVES: Mapping[Move, str] = {
    "begin": "slowly, for it is new",
    "faster": "a little faster",
    "stay": "at the same tempo",
    "slower": "slower",
}


def day_at(first: date, x_days: float) -> date:
    """Return the day so many days after the first."""
    return first + timedelta(days=round(x_days))


def ceiling_words(found: TempoCeiling) -> str:
    """Say a ceiling, up to which tempo to practise, and the one to record to know the ceiling better."""
    beat = f"{found.beat.numerator}/{found.beat.denominator}"
    parts = [control_words(found), f"{capitalised(remark_words(found.why))}."]
    limit_s = practice_limit_s(found)
    if limit_s is not None:
        limit = math.floor(bpm_of(limit_s, found.beat))
        parts.append(f"Practise no faster than {beat} = {limit}, and no faster yet where a fault is heard.")
    if found.next_tempo_bpm is not None:
        parts.append(
            f"To know the ceiling better, record one take at {beat} = {found.next_tempo_bpm:g}, "
            "only as fast as the hands stay loose."
        )
    return " ".join(parts)


def control_words(found: TempoCeiling) -> str:
    """Say up to which tempo an exercise is in control."""
    beat = f"{found.beat.numerator}/{found.beat.denominator}"
    if found.ceiling.value is not None and found.ceiling.ci95 is not None:
        low, high = found.ceiling.ci95
        return (
            f"In control up to {beat} = {found.ceiling.value:.0f} "
            f"(between {low:.0f} and {high:.0f}, {found.ceiling.n} repetitions)."
        )
    if found.at_least_bpm is not None and found.at_most_bpm is None:
        return f"In control at every tempo tried: the ceiling is {beat} = {found.at_least_bpm:.0f} or more."
    if found.at_most_bpm is not None and found.at_least_bpm is None:
        return f"Not in control at any tempo tried: the ceiling is {beat} = {found.at_most_bpm:.0f} or less."
    return "The ceiling is not known yet."


def ceiling_course_words(course: CeilingTrajectory, first: date) -> str:
    """Say what a ceiling is now, and how it went over the weeks."""
    beat = f"{course.beat.numerator}/{course.beat.denominator}"
    now = "" if course.now is None else control_words(course.now)
    rate = course.per_week
    n = f"{count(course.repetitions, 'repetition')} on {count(course.days, 'day')}"
    said = f"Heard in {n}."
    if rate.value is not None:
        said = (
            f"Over the weeks from {beat} = {with_range(course.start, 0, '')}: "
            f"{signed(rate.value, 1)} % a week "
            f"({interval_words(rate.ci95, 1)}; {n}), {TOLD_WORDS[course.direction]}."
        )
    return " ".join(part for part in (now, said, wish_words(course.wish, beat, first)) if part)


def standing_words(standing: Standing) -> str:
    """Say how an exercise goes on, and why."""
    return f"Next {MOVES[standing.move]}: {remark_words(standing.why)}."


def wish_words(wish: WishedTempo | None, beat: str, first: date) -> str:
    """Say when a wished tempo may be reached."""
    if wish is None:
        return ""
    wanted = f"{beat} = {wish.tempo_bpm:g}"
    if wish.reach == "reached":
        return f"{wanted} is reached (chance {plain(100 * wish.chance_reached, 0)} %)."
    if wish.reach == "may be reached":
        day = day_words(day_at(first, wish.x_days.value or 0.0))
        between = days_between(first, wish.x_days.ci95)
        return f"If this goes on, {wanted} may be reached about {day} ({between})."
    last = day_words(day_at(first, wish.horizon_days))
    if wish.not_before_days is None:
        return f"Can't tell when {wanted} may be reached."
    if wish.not_before_days >= wish.horizon_days:
        return f"{wanted} is not likely before {last}; further ahead nothing can be said."
    earliest = day_words(day_at(first, wish.not_before_days))
    said = f"Can't tell when {wanted} may be reached: not likely before {earliest}"
    return f"{said}, and nothing is said of days after {last}."


def days_between(first: date, ci95: tuple[float, float] | None) -> str:
    """Say between which days something lies."""
    if ci95 is None:
        return "–"
    low, high = (day_words(day_at(first, each)) for each in ci95)
    return f"between {low} and {high}" if low != high else low
