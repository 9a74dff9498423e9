"""How a student's figures and load went over the weeks, in words; days as dates.

Conventions: every figure with its unit, its 95 % range and its count. What chance and form on the day
would do as well is said to be so.

Of a load: what was counted, where it jumps, and what it does not say.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import groupby

from evenhand.music.exercise import HAND_NAMES
from evenhand.planning.load import Jump, LoadKind, SoundExposure, WeekLoad, WeeklyLoad
from evenhand.progress.trends.trajectory import (
    ExerciseProgress,
    MeasureTrajectory,
    StudentProgress,
    TrendChange,
)
from evenhand.report.words.ceiling import TOLD_WORDS, day_at, days_between
from evenhand.report.words.figures import (
    DAY_NAMES,
    count,
    day_words,
    decimals_for,
    duration,
    hand_words,
    interval_words,
    plain,
    short_day,
    side_of_audible,
    signed,
    with_range,
)

FEWEST_DAYS = 4
SAME_TEMPO = 0.02
TEMPO_CHANGED = 0.1  # of the tempo: more than that is said, for spreads go with it


def course_name(course: MeasureTrajectory) -> str:
    """Name a course.

    >>> from evenhand.progress.trends.trajectory import FollowedMeasure
    >>> course_name(MeasureTrajectory(FollowedMeasure("x", "timing, spread", "ms", "lower", 9.0), "L", (), 0))
    'timing, spread, left hand'
    """
    hand = hand_words(course.hand)
    return f"{course.followed.words}, {hand}" if hand else course.followed.words


def course_words(course: MeasureTrajectory, first: date) -> str:
    """Say how one measure went."""
    if course.change is None:
        days = f"heard on {count(course.days, 'day')}"
        return f"{days}; a change can show from {FEWEST_DAYS} on."
    parts = [_change_words(course, course.change)]
    if course.curve is not None:
        end, half = course.curve.end, course.curve.half_life_days
        parts.append(
            f"It levels off near {with_range(end)}, half of the way every {with_range(half, 0, 'days')}."
        )
    if course.plateau is not None:
        since, level = course.plateau.since_days, course.plateau.level
        parts.append(
            f"A plateau at {with_range(level)} since about {day_words(day_at(first, since.value or 0.0))} "
            f"({days_between(first, since.ci95)}), over {count(course.plateau.days, 'day')} of practice."
        )
    return " ".join(parts)


def now_words(course: MeasureTrajectory) -> str:
    """Say in short where a measure is now that has not changed by more than chance."""
    if course.change is None:
        return f"heard on {count(course.days, 'day')}, {FEWEST_DAYS} are needed"
    return with_range(course.change.end, sign=course.followed.better in {"nearer nought", "neither"})


def _change_words(course: MeasureTrajectory, change: TrendChange) -> str:
    decimals = decimals_for(change.end.unit)
    sign = signed if course.followed.better in {"nearer nought", "neither"} else plain
    start, end = (sign(each.value or 0.0, decimals) for each in (change.start, change.end))
    rate = change.per_week
    fine = 1 if rate.unit == "%" else decimals + 1
    unit = "% a week" if rate.unit == "%" else f"{rate.unit} a week"
    said = (
        f"{start} at first, {end} {change.end.unit} now ({interval_words(change.end.ci95, decimals)}): "
        f"{signed(rate.value or 0.0, fine)} {unit} ({interval_words(rate.ci95, fine)}; "
        f"{count(rate.n, 'take')} on {count(course.days, 'day')}), {TOLD_WORDS[change.direction]}"
    )
    if course.audible_from is None:
        return f"{said}."
    side = side_of_audible(change.end, course.audible_from)
    heard = {
        "can be heard": "it can be heard",
        "can't be heard": "it can't be heard now",
        "can't tell yet": "can't tell yet whether it can be heard",
    }
    return f"{said}; {heard[side]}." if side is not None else f"{said}."


def exercise_facts(progress: ExerciseProgress) -> str:
    """Say what an exercise's progress rests on: takes, days, stroke, tempos."""
    takes = progress.takes
    beat = f"{takes[-1].tempo.beat.numerator}/{takes[-1].tempo.beat.denominator}"
    first, last = (progress.tempos_bpm[key] for key in ("first", "last"))
    days = len({take.day for take in takes})
    steady = abs(last / first - 1) < SAME_TEMPO
    at = f"{beat} = {plain(first, 0)}"
    tempo = f"at {at}" if steady else f"from {at} to {plain(last, 0)}"
    parts = [
        f"{progress.stroke} strokes" if progress.stroke else "",
        f"{count(len(takes), 'take')} on {count(days, 'day')}",
        f"{day_words(takes[0].day, year=True)} to {day_words(takes[-1].day, year=True)}",
        tempo,
    ]
    return ", ".join(part for part in parts if part)


def tempo_note(progress: ExerciseProgress) -> str:
    """Say where the tempo changed so much that spreads go with it; else nothing."""
    first, last = (progress.tempos_bpm[key] for key in ("first", "last"))
    if abs(last / first - 1) <= TEMPO_CHANGED:
        return ""
    return "The tempo changed over these takes, and spreads go with it."


def chance_note(progress: StudentProgress) -> str:
    """Say how many of so many courses chance alone would call changed."""
    n = sum(course.change is not None for each in progress.exercises for course in each.trajectories)
    if n < 5:
        return ""
    return f"{n} measures are judged here. By chance alone about one in twenty looks changed."


COUNTS: dict[LoadKind, str] = {
    "recorded": "Only recorded playing counts: what was played without a recording is not in it.",
    "assigned": "What was assigned, whether or not it was played; rests do not count as minutes.",
}
NO_LIMIT = (
    "More than a quarter over the week before is pointed out because load should rise gradually: "
    "a convention, no limit and no diagnosis. No weekly limit that rests on evidence is known."
)
HEARING_CAUTION = (
    "The level must come from a sound level meter, at the ear: neither a phone nor this tool measures dBA. "
    "Both limits are for adults and are no promise of safety. Wear ear protection where it is loud. "
    "Ringing or dull hearing afterwards: rest the ears, and see a clinician."
)


def load_words(course: WeeklyLoad) -> str:
    """Say in a sentence what was counted, and how often it jumps."""
    if not course.weeks:
        return f"Nothing {course.kind} that could be counted."
    takes = count(sum(week.pieces for week in course.weeks), "take")
    days = count(sum(week.days for week in course.weeks), "day")
    strokes = sum(load.strokes for week in course.weeks for load in week.hands.values())
    strokes += sum(week.unknown_strokes for week in course.weeks)
    jumping = len({jump.week for jump in course.jumps})
    where = f"in {takes} on {days}" if course.kind == "recorded" else f"on {days}"
    said = (
        f"{course.kind.capitalize()}: {thousands(strokes)} strokes {where}, "
        f"{count(len(course.weeks), 'week')}."
    )
    if jumping:
        return f"{said} {count(jumping, 'week jumps', 'weeks jump')} by more than a quarter."
    return f"{said} No week jumps by more than a quarter." if len(course.weeks) > 1 else said


def jump_lines(course: WeeklyLoad) -> list[str]:
    """Say each week's jumps in a line."""
    return [
        f"{week} over {since}: {jump_words(list(jumps))}."
        for (week, since), jumps in groupby(course.jumps, key=lambda jump: (jump.week, jump.since))
    ]


def this_week_words(jumps: Sequence[Jump]) -> str:
    """Say by how much a week jumps over the one before it; "" where it does not."""
    return f"This week over the one before: {jump_words(jumps)}." if jumps else ""


def recorded_week_words(week: WeekLoad) -> str:
    """Say what was recorded in a week."""
    strokes = sum(hand.strokes for hand in week.hands.values()) + week.unknown_strokes
    said = f"{thousands(strokes)} strokes in {duration(60 * week.minutes, 'seconds')}"
    return said if week.monday is None else f"{said}, in the week from {short_day(week.monday)}"


def jump_words(jumps: Sequence[Jump]) -> str:
    """Say by how much each hand plays more in one week than in another."""
    said = {
        f"{HAND_NAMES[hand]} hand": ", ".join(f"{jump.figure} {rise_words(jump)}" for jump in group)
        for hand, group in groupby(jumps, key=lambda jump: jump.hand)
    }
    if len(said) == len(HAND_NAMES) and len(set(said.values())) == 1:
        said = {"both hands": next(iter(said.values()))}
    return "; ".join(f"{hand} {rises}" for hand, rises in said.items())


def note_lines(course: WeeklyLoad) -> list[str]:
    """Say what keeps the weeks from being compared as they stand."""
    notes = [COUNTS[course.kind]]
    unknown = sum(week.unknown_strokes for week in course.weeks)
    if unknown:
        notes.append(
            f"{thousands(unknown)} strokes are counted for no hand: their takes do not tell which it was."
        )
    if course.begins is not None and course.begins.weekday() and _compared_with_first(course):
        day = DAY_NAMES[course.begins.weekday()]
        notes.append(f"The record begins on a {day}: its first week may be a part of one.")
    notes += [_after_a_break(week, course.kind) for week in course.weeks if week.empty_before]
    return notes


def sound_words(sound: SoundExposure) -> str:
    """Say in a sentence what a day's sound uses up."""
    day, week = _percent(sound.dose_percent), _percent(sound.week_percent)
    said = f"Sound: {day} of NIOSH's day, {week} of the WHO's week."
    if sound.over_ceiling:
        said += " Over 115 dBA NIOSH allows no time at all."
    elif sound.dose_percent > 100.0:
        said += " The day's limit is passed: no more loud sound today, and quieter or shorter next time."
    return said


def thousands(number: int) -> str:
    """Write a large count so that it can be read.

    >>> thousands(1234567)
    '1,234,567'
    """
    return f"{number:,}"


def week_words(week: WeekLoad) -> str:
    """Name a week with its Monday, where that is known.

    >>> from datetime import date
    >>> week_words(WeekLoad("2026-W11", date(2026, 3, 9), 1, 1, 1.0, {}))
    '2026-W11, 9 Mar'
    """
    if week.monday is None:
        return week.name
    return f"{week.name}, {short_day(week.monday)}"


def rise_words(jump: Jump) -> str:
    """Write how much more it is; "from none" where there was nothing.

    >>> rise_words(Jump("week 2", "week 1", "R", "strokes", 100, 158))
    '+58 %'
    """
    return "from none" if jump.rise_percent is None else f"+{jump.rise_percent:,.0f} %"


def _compared_with_first(course: WeeklyLoad) -> bool:
    return any(jump.since == course.weeks[0].name for jump in course.jumps)


def _after_a_break(week: WeekLoad, kind: LoadKind) -> str:
    nothing = f"{count(week.empty_before, 'week')} with nothing {kind}"
    return f"{week.name} comes after {nothing}: after a rest, begin below where it stopped (common practice)."


def _percent(share: float) -> str:
    """Write a percentage with as many figures as it deserves.

    >>> _percent(68.75), _percent(3.14), _percent(1600.0)
    ('69 %', '3.1 %', '1,600 %')
    """
    return f"{share:,.1f} %" if share < 10.0 else f"{share:,.0f} %"
