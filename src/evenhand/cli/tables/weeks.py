"""A student's weeks in the terminal: the plan, the path, the course of each measure, the load."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from evenhand.acts.weeks.progress import LoadFigures
from evenhand.acts.weeks.sheet import day_names
from evenhand.acts.weeks.stages import StudentAdvice
from evenhand.cli.tables.figures import (
    INKS,
    bold,
    figures_table,
    hand_head,
    plain_lines,
    quiet,
    say_blocks,
    warned,
    where_it_is,
)
from evenhand.errors import WrongOptions
from evenhand.music.exercise import HANDS, Hand
from evenhand.music.strokes.heights import Unit
from evenhand.music.text import print_exercise
from evenhand.planning.load import SoundExposure, SpellExposure, WeekLoad, WeeklyLoad
from evenhand.planning.practice import PracticeDay, PracticePlan
from evenhand.planning.standing import exercise_standing
from evenhand.progress.stages.path import PracticePath, Stage
from evenhand.progress.stages.verdicts import Judged
from evenhand.progress.trends.trajectory import ExerciseProgress, MeasureTrajectory, StudentProgress
from evenhand.report.plots.markup import shortened
from evenhand.report.words.advice import (
    TEACHER_DECIDES,
    VERDICTS,
    bound_words,
    count_weeks,
    headline,
    heard_words,
    rate_words,
    reason_words,
    weeks_words,
)
from evenhand.report.words.ceiling import ceiling_course_words, standing_words
from evenhand.report.words.figures import EXERCISES_CAUTION, count, duration
from evenhand.report.words.practice import (
    BLOCK_NAMES,
    half_minutes_of,
    half_minutes_words,
    often_words,
    stroke_pieces,
)
from evenhand.report.words.progress import (
    HEARING_CAUTION,
    NO_LIMIT,
    chance_note,
    course_name,
    course_words,
    exercise_facts,
    jump_lines,
    load_words,
    note_lines,
    now_words,
    sound_words,
    tempo_note,
    thousands,
    week_words,
)
from evenhand.report.words.remarks import all_remarks, why_words

WIDEST_TITLE = 42  # letters of a title in a day's row; in full it stands with its sticking


def say_plan(plan: PracticePlan, *, written: Sequence[Path] = ()) -> None:
    """Print a plan on stdout: its story, its days with their blocks, and why each exercise is in it."""
    places = ", ".join(str(place) for place in written)
    say_blocks(
        [bold(_head(plan))],
        plain_lines(all_remarks(plan.story)),
        *_days(plan),
        [*_reasons(plan)],
        quiet(*all_remarks(plan.notes)),
        plain_lines([f"Written: {places}"] if written else []),
        quiet(EXERCISES_CAUTION),
    )


def _head(plan: PracticePlan) -> str:
    whose = f" for {plan.student}" if plan.student else ""
    lengths = sorted({day.seconds for day in plan.days})
    said = [duration(each, "seconds") for each in (lengths[0], lengths[-1])]
    each = f"{said[0]} each" if said[0] == said[1] else f"{said[0]} to {said[1]}"
    return f"{count(len(plan.days), 'day')}{whose}, {each}, rests too"


def _days(plan: PracticePlan) -> list[list[RenderableType]]:
    """Give each day's blocks in their order, all days' columns equally wide."""
    days = [_rows(day) for day in plan.days]
    every = [row for rows in days for row in rows]
    widths = [max((len(row[place]) for row in every), default=0) for place in range(6)]
    return [
        [
            Text(name if rows else f"{name}: rest", style="bold"),
            *(Text("   ".join(map(str.ljust, row, widths)).rstrip()) for row in rows),
        ]
        for name, rows in zip(day_names(plan), days, strict=True)
    ]


def _rows(day: PracticeDay) -> list[tuple[str, ...]]:
    halves = half_minutes_of([item.seconds + item.rest_s for item in day.items])
    return [
        (
            BLOCK_NAMES[item.block] if item.block else "",
            half_minutes_words(half),
            shortened(item.title or print_exercise(item.exercise), WIDEST_TITLE),
            str(item.tempo),
            often_words(item.repetitions, item.goes),
            item.stroke or "drop",
        )
        for item, half in zip(day.items, halves, strict=True)
    ]


def _reasons(plan: PracticePlan) -> Iterator[RenderableType]:
    """Give each exercise once: how it is written, and why it is in the week."""
    every = [item for day in plan.days for item in day.items]
    for exercise in dict.fromkeys(item.exercise for item in every):
        items = [item for item in every if item.exercise == exercise]
        title = next((item.title for item in items if item.title), "")
        why = next((words for item in items if (words := why_words(item.why))), "")
        yield Text(f"{title}: {print_exercise(exercise)}" if title else print_exercise(exercise))
        if why:
            yield Padding(Text(why, style="dim"), (0, 0, 0, 2))


def say_path(path: PracticePath, stage: str | None = None, unit: Unit = "in") -> None:
    """Print the stages, or one of them."""
    shown = path.stages
    if stage is not None:
        found = path.stage(stage)
        if found is None:
            must_be = f"one of {', '.join(each.name for each in path.stages)}"
            raise WrongOptions(got=f"the stage {stage!r}", must_be=must_be)
        shown = (found,)
    stages = ([_stage(path.stages.index(each) + 1, each, unit)] for each in shown)
    say_blocks(*stages, quiet(EXERCISES_CAUTION))


def _stage(number: int, stage: Stage, unit: Unit) -> Group:
    """Set out one stage."""
    facts = [
        ", ".join(stroke_pieces(stage.stroke, unit)) if stage.stroke else "",
        rate_words(stage),
        f"{_range(stage.repetitions)} repetitions in one go",
        f"{_range(stage.minutes_a_day)} min a day",
        weeks_words(stage.weeks),
    ]
    parts: list[RenderableType] = [Text(f"{number}  {stage.name}", style="bold"), Text(f"   {stage.words}")]
    parts.append(Text("   " + ", ".join(each for each in facts if each), style="dim"))
    if stage.beside:
        beside = ", ".join(f"{stroke} strokes {minutes:g} min" for stroke, minutes in stage.beside)
        parts.append(Text(f"   beside it, each day: {beside}", style="dim"))
    if stage.conditions:
        parts.append(Text("   to go on:", style="dim"))
        table = Table.grid(padding=(0, 3, 0, 0))
        for each in stage.conditions:
            bound = bound_words(each, each.bound)
            table.add_row(Text(each.words), Text(bound, style="dim"))
        parts.append(Padding(table, (0, 0, 0, 5)))
    return Group(*parts)


def _range(pair: tuple[float, float]) -> str:
    low, high = pair
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def say_advice(found: StudentAdvice, *, picture: Path | None = None) -> None:
    """Print what is proposed, and what it rests on."""
    advice = found.advice
    whose = f"{found.student}: " if found.student else ""
    facts = [f"stage {advice.stage}", count(advice.takes, "take"), f"on {count(advice.days, 'day')}"]
    if advice.weeks_in_stage is not None:
        facts.append(f"{count_weeks(advice.weeks_in_stage)} in the stage")
    before = found.path.before(found.stage)
    slipped: list[RenderableType] = []
    if advice.slipped and before is not None:
        asked = quiet(f"What the stage {before.name} asked:")
        slipped = [*asked, _path_summary_table(advice.slipped)]
    left_out = [f"left out: {each}" for each in found.left_out]
    say_blocks(
        [bold(f"{whose}{headline(advice)}"), *quiet(", ".join(facts))],
        plain_lines([reason_words(advice, found.path)]),
        [_path_summary_table(advice.judged)] if advice.judged else [],
        slipped,
        warned([*all_remarks(advice.notes), *left_out]),
        where_it_is("picture", picture),
        [Text(TEACHER_DECIDES), *quiet(EXERCISES_CAUTION)],
    )


def _path_summary_table(judged: tuple[Judged, ...]) -> Table:
    """Give a line for each condition: what it asks, on which side it is, and what was found."""
    rows = (
        (
            each.condition.words,
            Text(VERDICTS[each.verdict], style="bold" if each.verdict == "not met" else ""),
            heard_words(each),
            Text(bound_words(each.condition, each.bound), style="dim"),
        )
        for each in judged
    )
    return figures_table(("", "", "heard", "asked"), rows)


def say_progress(found: StudentProgress, *, picture: Path | None = None) -> None:
    """Print a student's progress."""
    single = f"{count(found.single, 'exercise')} heard on one day only" if found.single else ""
    nothing = "No exercise was heard on two days yet: there is nothing to follow."
    say_blocks(
        [bold(found.student)] if found.student else [],
        *map(_exercise, found.exercises),
        plain_lines([] if found.exercises else [nothing]),
        [
            *quiet(single, chance_note(found)),
            *warned(f"left out: {each}" for each in found.left_out),
            *where_it_is("picture", picture),
            *quiet(EXERCISES_CAUTION),
        ],
    )


def _exercise(each: ExerciseProgress) -> list[RenderableType]:
    """Set out one exercise."""
    first = each.takes[0].day
    facts = " ".join(part for part in (f"{exercise_facts(each)}.", tempo_note(each)) if part)
    parts: list[RenderableType] = [
        Text(print_exercise(each.exercise), style="bold"),
        Text(facts, style="dim"),
    ]
    changed = [course for course in each.trajectories if _is_told(course)]
    for course in changed:
        parts.append(Text.assemble("  ", (course_name(course), _ink(course))))
        parts.append(Padding(Text(course_words(course, first)), (0, 0, 0, 6)))
    if len(changed) < len(each.trajectories):
        parts += [
            Text("  no change beyond chance and form on the day so far; now:"),
            _rest(each.trajectories),
        ]
    if each.ceiling is not None:
        parts.append(Text("  tempo ceiling, both hands"))
        parts.append(Padding(Text(ceiling_course_words(each.ceiling, first)), (0, 0, 0, 6)))
    standing = exercise_standing(each.exercise, each.takes, stroke=each.stroke)
    parts.append(Padding(Text(standing_words(standing)), (0, 0, 0, 2)))
    return parts


def _is_told(course: MeasureTrajectory) -> bool:
    """Tell whether a measure changed by more than chance, or has levelled off."""
    if course.change is None:
        return False
    return course.change.direction != "can't tell" or course.curve is not None or course.plateau is not None


def _rest(trajectories: Sequence[MeasureTrajectory]) -> Padding:
    """Set out in short what has not changed by more than chance."""
    table = Table.grid(padding=(0, 3, 0, 0))
    for course in trajectories:
        if not _is_told(course):
            table.add_row(Text(course_name(course), style=_ink(course)), now_words(course))
    return Padding(table, (0, 0, 0, 6))


def _ink(course: MeasureTrajectory) -> str:
    return INKS[course.hand] if course.hand is not None else ""


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
