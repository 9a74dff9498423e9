"""Plan a student's next week: from a stage, the library, a teacher's book, and what was heard so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import chain

from evenhand.acts.exercises.books import stock
from evenhand.acts.weeks.story import told_week
from evenhand.errors import WrongOptions
from evenhand.music.book import Book
from evenhand.music.equivalence import canonical
from evenhand.music.exercise import Exercise
from evenhand.music.library.tracks import TRACKS, track
from evenhand.music.strokes.heights import StrokeClass
from evenhand.planning.blocks import Extra, WeekChoice
from evenhand.planning.choosing import Need, NeedKind, load
from evenhand.planning.practice import PracticePlan
from evenhand.planning.standing import Standing, can_be_felt, exercise_standing, is_learnt
from evenhand.planning.treatments import FaultGroup, HeardFault, heard_faults
from evenhand.planning.week import WeekProblem, plan_days
from evenhand.progress.history import History
from evenhand.progress.stages.gate import for_stage, record_of, within
from evenhand.progress.stages.path import PracticePath, Stage

LEAST_MINUTES, MOST_MINUTES = 1.0, 240.0
MOST_DAYS = 7
NO_HISTORY = History()
EASY = 3  # of a stage's exercises are for warming up
REVIEWED = 4  # exercises that were learnt before come back in a week, each on its own days
LONG_REPETITIONS = 16  # a stage that goes so often through an exercise in one go allows endurance
EXTRA_OF_TRACK: dict[str, Extra] = {
    "bursts": "speed",
    "rolls": "endurance",
    "hand to hand": "endurance",
    "accents and taps": "music",
    "odd groups": "music",
    "dynamics": "music",
    "the forty": "music",
}
Titles = dict[tuple[str, ...], str]
NEED_OF: dict[FaultGroup, NeedKind] = {"doubles": "second_notes", "heights": "heights", "graces": "graces"}


@dataclass(frozen=True, slots=True)
class WeekRequest:
    """What the teacher asks of a week. ``before`` is the plan of the week before, where there is one."""

    minutes: float
    days: int
    stage: str
    seed: int = 0
    student: str = ""
    starts: date | None = None
    before: PracticePlan | None = None


def plan_week(
    asked: WeekRequest, path: PracticePath, *, book: Book | None = None, history: History = NO_HISTORY
) -> PracticePlan:
    """Plan a week, the same for the same seed.

    Raises
    ------
    WrongOptions
        Where there is no such stage, the days or minutes are out of range, or nothing fits into a day.
    """
    stage = _stage(asked, path)
    problem = week_problem(asked, stage, path, book, history)
    days, focuses = plan_days(problem)
    plan = PracticePlan(days, asked.student or history.student, asked.starts)
    return told_week(plan, focuses, problem, asked.before, len(history.takes))


def _stage(asked: WeekRequest, path: PracticePath) -> Stage:
    """Find the stage, and check what is asked."""
    stage = path.stage(asked.stage)
    if stage is None:
        must_be = f"one of {', '.join(each.name for each in path.stages)}"
        raise WrongOptions(got=f"the stage {asked.stage!r}", must_be=must_be)
    if not LEAST_MINUTES <= asked.minutes <= MOST_MINUTES:
        must_be = f"{LEAST_MINUTES:g} to {MOST_MINUTES:g} minutes a day"
        raise WrongOptions(got=f"{asked.minutes:g} minutes", must_be=must_be)
    if not 1 <= asked.days <= MOST_DAYS:
        raise WrongOptions(got=f"{asked.days} days", must_be=f"1 to {MOST_DAYS} days a week")
    return stage


def week_problem(
    asked: WeekRequest, stage: Stage, path: PracticePath, book: Book | None, history: History
) -> WeekProblem:
    """Gather what a week may be made of."""
    known: dict[tuple[Exercise, StrokeClass | None], Standing] = {}

    def stands(exercise: Exercise, stroke: StrokeClass | None) -> Standing:
        key = (exercise, stroke)
        if key not in known:
            known[key] = exercise_standing(exercise, history.takes, stroke=stroke)
        return known[key]

    own, never = _own(book, stage)
    called = {_key(e.exercise): e.title for e in (() if book is None else book.entries) if e.title}
    stock = [each for each in _library(stage, called) if each.exercise.notes not in never]
    if not stock and not own:
        raise WrongOptions(
            got=f"no exercise for the stage {stage.name}", must_be="a book or a track with one"
        )
    titles = {**{_key(each.exercise): each.title for each in stock}, **called}
    faults, choices = _treated(stage, [*own, *stock], history, titles)
    record = _record(stage, stock or own, titles)
    return WeekProblem(
        seconds_a_day=round(60 * asked.minutes),
        days=asked.days,
        faults=faults,
        fault_choices=choices,
        targets=_targets(own, stock, asked.before, record),
        warm_ups=_warm_ups(stage, path, stock or own, called),
        reviews=tuple(
            each for each in _reviews(stage, path, asked, history, titles) if each.exercise.notes not in never
        ),
        extras=_extras(stage, stock),
        record=record,
        stands=stands,
        seed=asked.seed,
    )


def _library(stage: Stage, called: Titles) -> list[WeekChoice]:
    """List what the stage draws from, each called as in the teacher's book where it is there."""
    return [
        WeekChoice(each.exercise, called.get(_key(each.exercise), each.title), stage, each.track)
        for each in for_stage(stage)
        if can_be_felt(stage, each.exercise)
    ]


def _own(book: Book | None, stage: Stage) -> tuple[list[WeekChoice], set[object]]:
    """Return a teacher's exercises that the stage may hold, those to be used first; and those it must not."""
    entries = [entry for entry in (() if book is None else book.entries) if entry.exercise.struck]
    uses = [(entry, entry.use_at(stage.name)) for entry in entries]
    leading = [WeekChoice(e.exercise, e.title, stage, leads=True) for e, use in uses if use == "use"]
    beside = [
        WeekChoice(e.exercise, e.title, stage)
        for e, use in uses
        if use == "also" and within(stage, e.exercise) is None and can_be_felt(stage, e.exercise)
    ]
    return [*leading, *beside], {entry.exercise.notes for entry, use in uses if use == "never"}


def _targets(
    own: Sequence[WeekChoice], stock: Sequence[WeekChoice], before: PracticePlan | None, record: WeekChoice
) -> tuple[WeekChoice, ...]:
    """Put what comes next in order: the teacher's own, then the library behind what last week worked on.

    What is recorded each day anyway is not a target beside others.
    """
    worked = _worked_on(before)
    reached = max((i for i, each in enumerate(stock) if each.exercise.notes in worked), default=-1)
    ordered = [*own, *stock[reached + 1 :], *stock[: reached + 1]]
    free = [each for each in ordered if each.leads or each.exercise.notes != record.exercise.notes]
    return tuple(free or ordered)


def _worked_on(before: PracticePlan | None) -> set[object]:
    if before is None:
        return set()
    return {item.exercise.notes for day in before.days for item in day.items if item.block == "focus"}


def _warm_ups(
    stage: Stage, path: PracticePath, stock: Sequence[WeekChoice], called: Titles
) -> tuple[WeekChoice, ...]:
    """Choose what is easy: of the strokes that are kept up beside the stage's, by turns, else of its own."""
    found = (
        next((each for each in path.stages if each.stroke == stroke), stage) for stroke, _ in stage.beside
    )
    lists = [_library(each, called)[:EASY] for each in found if each is not stage]
    rows = [each[i] for i in range(EASY) for each in lists if i < len(each)]
    return tuple(rows or stock[:EASY])


def _reviews(
    stage: Stage, path: PracticePath, asked: WeekRequest, history: History, titles: Titles
) -> tuple[WeekChoice, ...]:
    """Choose what was learnt before: what takes showed even, last week's work, then the stage before's."""
    earlier, before = path.before(stage), asked.before
    heard = {take.exercise.notes: take.exercise for take in history.takes if take.clear}
    learnt = [
        WeekChoice(exercise, _title(exercise, titles), stage)
        for notes, exercise in heard.items()
        if within(stage, exercise) is None
        and can_be_felt(stage, exercise)
        and is_learnt(exercise, history.takes, stage.stroke)
    ]
    items = [item for day in (() if before is None else before.days) for item in day.items]
    last = {
        item.exercise.notes: WeekChoice(item.exercise, item.title, stage)
        for item in items
        if item.block == "focus" and _key(item.exercise) in titles and item.stroke == stage.stroke
    }
    rows = {each.exercise.notes: each for each in [*learnt, *last.values()]}
    if not rows and earlier is not None:
        rows = {each.exercise.notes: each for each in _library(earlier, titles)[:REVIEWED]}
    record = record_of(stage)
    kept = [each for notes, each in rows.items() if record is None or notes != record.notes]
    return tuple(kept[:REVIEWED])


def _extras(stage: Stage, stock: Sequence[WeekChoice]) -> tuple[tuple[Extra, WeekChoice], ...]:
    """Choose something fast, long or musical from the stage's own tracks, by turns."""
    tracks = [track for track in stage.tracks if track in EXTRA_OF_TRACK]
    long = stage.repetitions[1] >= LONG_REPETITIONS
    kinds = [(track, kind) for track in tracks if (kind := EXTRA_OF_TRACK[track]) != "endurance" or long]
    lists = [[(kind, each) for each in stock if each.track == track][:EASY] for track, kind in kinds]
    return tuple(each[i] for i in range(EASY) for each in lists if i < len(each))


def _title(exercise: Exercise, titles: Titles) -> str:
    """Name an exercise: as the stage or the teacher's book has it, else the stock or the library."""
    key = _key(exercise)
    stocked = (each.title for each in stock().entries if _key(each.exercise) == key)
    tracked = (each.title for name in TRACKS for each in track(name) if _key(each.exercise) == key)
    return titles.get(key) or next(chain(stocked, tracked), "")


def _key(exercise: Exercise) -> tuple[str, ...]:
    """Say which exercises have one name: those of the same sticking, whatever their note value."""
    return canonical(exercise, rotation=False, swap=False)


def _record(stage: Stage, stock: Sequence[WeekChoice], titles: Titles) -> WeekChoice:
    """Return the form of the take to record; where drops are heard, the stage's first drops."""
    record = record_of(stage)
    if record is None:
        return stock[0]
    return WeekChoice(record, _title(record, titles), stage)


def _treated(
    stage: Stage, stock: Sequence[WeekChoice], history: History, titles: Titles
) -> tuple[tuple[HeardFault, ...], tuple[WeekChoice, ...]]:
    """Return the faults that a stage can work on, and on which exercise each."""
    if stage.stroke is None:
        return (), ()
    rows = []
    for fault in heard_faults(history.takes):
        exercise = _to_work_on(stage, fault, stock)
        kept = fault if exercise == fault.exercise else replace(fault, exercise=exercise, positions=())
        rows.append((kept, WeekChoice(exercise, _title(exercise, titles), stage)))
    return tuple(fault for fault, _ in rows), tuple(choice for _, choice in rows)


def _to_work_on(stage: Stage, fault: HeardFault, stock: Sequence[WeekChoice]) -> Exercise:
    """Return the exercise a fault was heard in; outside the stage, one inside it that asks the same."""
    if within(stage, fault.exercise) is None:
        return fault.exercise
    need = NEED_OF.get(fault.group)
    if need is not None:
        held = (each.exercise for each in stock if load(each.exercise, Need(need, fault.hand or "L")) > 0)
        return next(held, fault.exercise)
    return (record_of(stage) or fault.exercise) if fault.group == "hand" else fault.exercise
