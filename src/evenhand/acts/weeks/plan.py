"""Plan a student's next week: from a stage, the library, a teacher's book, and what was heard so far."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import chain, zip_longest

from evenhand.acts.exercises.books import stock
from evenhand.acts.weeks.story import told_week
from evenhand.errors import WrongOptions
from evenhand.music.book import Book
from evenhand.music.equivalence import canonical
from evenhand.music.exercise import Exercise
from evenhand.music.library.tracks import TRACKS, track
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.writing.parts import has_both_hands
from evenhand.planning.blocks import Extra, WeekChoice
from evenhand.planning.choosing import Need, NeedKind, load
from evenhand.planning.practice import PracticePlan
from evenhand.planning.standing import Standing, can_be_felt, exercise_standing, is_learnt
from evenhand.planning.treatments import FaultGroup, HeardFault, heard_faults
from evenhand.planning.week import A_WEEK, REVIEW_FROM_S, WeekProblem, as_played, plan_days
from evenhand.progress.history import History
from evenhand.progress.stages.gate import for_stage, record_of, within
from evenhand.progress.stages.path import PracticePath, Stage

LEAST_MINUTES, MOST_MINUTES = 1.0, 240.0
MOST_DAYS = 7
NO_HISTORY = History()
STROKES_IN_TURN = 2  # are kept up beside a stage's own, the one and then the other
EASY = 3  # of a stage's exercises are for warming up
REVIEWED = 4  # exercises that were learnt before come back in a week, each on its own days
LONG_REPETITIONS = 16  # a stage that goes so often through an exercise in one go allows endurance
FAST_PER_S = 4.0  # strokes a second of a hand, to which a stage goes that allows something fast
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
    record = _record(stage, stock or own, titles)
    targets = _targets(own, stock, asked.before, history, record)
    faults, choices = _treated(stage, targets, _worked_on(asked.before), history, titles)
    return WeekProblem(
        seconds_a_day=round(60 * asked.minutes),
        days=asked.days,
        faults=faults,
        fault_choices=choices,
        targets=targets,
        warm_ups=_warm_ups(stage, path, stock or own, called, asked),
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


def _kept_up(stage: Stage, called: Titles) -> list[WeekChoice]:
    """List what another stage draws from."""
    return [replace(each, kept_up=stage.stroke is not None) for each in _library(stage, called)]


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
    own: Sequence[WeekChoice],
    stock: Sequence[WeekChoice],
    before: PracticePlan | None,
    history: History,
    record: WeekChoice,
) -> tuple[WeekChoice, ...]:
    """Put what comes next in order: the teacher's own, then of each track by turns what was practised least.

    Tracks that last week worked on come after the others; what is recorded each day anyway is no target
    beside others. Drops do not go on: both hands' come first each week.
    """
    worked = _worked_on(before)
    heard = Counter(take.exercise.notes for take in history.takes if take.stroke in (None, record.stroke))
    done = Counter[object]() if record.stroke is None else heard + Counter(worked)
    tracks: dict[str, list[WeekChoice]] = {}
    for choice in sorted(stock, key=lambda each: done[each.exercise.notes]):
        tracks.setdefault(choice.track, []).append(choice)
    order = list(dict.fromkeys(each.track for each in stock))
    rested = sorted(order, key=lambda name: any(each.exercise.notes in worked for each in tracks[name]))
    by_turns = zip_longest(*(tracks[name] for name in rested))
    ordered = [*own, *(choice for row in by_turns for choice in row if choice is not None)]
    free = [each for each in ordered if each.leads or each.exercise.notes != record.exercise.notes]
    return tuple(free or ordered)


def _worked_on(before: PracticePlan | None) -> set[object]:
    if before is None:
        return set()
    return {item.exercise.notes for day in before.days for item in day.items if item.block == "focus"}


def _warm_ups(
    stage: Stage, path: PracticePath, stock: Sequence[WeekChoice], called: Titles, asked: WeekRequest
) -> tuple[WeekChoice, ...]:
    """Choose what is easy: of the strokes that are kept up beside the stage's, by turns, else of its own.

    Two strokes share their exercises, and where days have reviews a week has fewer: a page holds it.
    """
    found = (
        next((each for each in path.stages if each.stroke == stroke), stage) for stroke, _ in stage.beside
    )
    lists = [_kept_up(each, called) for each in found if each is not stage]
    reviewed = stage.stroke is not None and 60 * asked.minutes >= REVIEW_FROM_S
    if len(lists) < STROKES_IN_TURN:
        return tuple((lists[0] if lists else stock)[: A_WEEK if reviewed else EASY])
    shared = set.intersection(*({each.exercise for each in row} for row in lists))
    rows = [[each for each in row if each.exercise in shared][:EASY] or row[:EASY] for row in lists]
    n = 1 if reviewed else A_WEEK
    return tuple(row[(asked.seed + i) % len(row)] for i in range(n) for row in rows)


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
        item.exercise.notes: WeekChoice(item.exercise, titles[_key(item.exercise)], stage)
        for item in items
        if item.block == "focus" and _key(item.exercise) in titles and item.stroke == stage.stroke
    }
    others = () if earlier is None else _kept_up(earlier, titles)
    rows: dict[object, WeekChoice] = {}
    for each in (*last.values(), *learnt, *others):  # in other note values it is still the same
        rows.setdefault(as_played(each.exercise), each)
    record = record_of(stage)
    kept = [each for key, each in rows.items() if record is None or key != as_played(record)]
    return tuple(kept[:REVIEWED])


def _extras(stage: Stage, stock: Sequence[WeekChoice]) -> tuple[tuple[Extra, WeekChoice], ...]:
    """Choose something fast, long or musical from the stage's own tracks, by turns."""
    tracks = [track for track in stage.tracks if track in EXTRA_OF_TRACK]
    long, fast = stage.repetitions[1] >= LONG_REPETITIONS, stage.rate_per_s[1] >= FAST_PER_S
    allowed: dict[Extra, bool] = {"endurance": long, "speed": fast, "music": True}
    kinds = [(track, kind) for track in tracks if allowed[kind := EXTRA_OF_TRACK[track]]]
    lists = [
        [
            (kind, each)
            for each in stock
            if each.track == track and (kind != "music" or each.exercise.has_accents)
        ]
        for track, kind in kinds
    ]
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
    stage: Stage,
    targets: Sequence[WeekChoice],
    worked: set[object],
    history: History,
    titles: Titles,
) -> tuple[tuple[HeardFault, ...], tuple[WeekChoice, ...]]:
    """Return the faults that a stage can work on, and on which exercise each: no two kinds on one.

    ``worked`` are the notes of what last week worked on.
    """
    if stage.stroke is None:
        return (), ()
    rows = list[tuple[HeardFault, WeekChoice]]()
    taken: dict[object, Exercise] = {}
    for fault in heard_faults(history.takes):
        free = [each for each in targets if each.exercise not in taken.values()]
        exercise = taken.setdefault((fault.group, fault.hand), _to_work_on(stage, fault, free, worked, taken))
        kept = fault if exercise == fault.exercise else replace(fault, exercise=exercise, positions=())
        rows.append((kept, WeekChoice(exercise, _title(exercise, titles), stage)))
    return tuple(fault for fault, _ in rows), tuple(choice for _, choice in rows)


def _to_work_on(
    stage: Stage,
    fault: HeardFault,
    free: Sequence[WeekChoice],
    worked: set[object],
    taken: Mapping[object, Exercise],
) -> Exercise:
    """Return the exercise a fault was heard in; one that asks the same where it was last week's, or outside.

    What was lost in one place of an exercise is worked on there.
    """
    inside = within(stage, fault.exercise) is None
    fresh = fault.exercise.notes not in worked and fault.exercise not in taken.values()
    if inside and (fresh or fault.group == "place"):
        return fault.exercise
    need = NEED_OF.get(fault.group)
    asks = (
        each.exercise
        for each in free
        if (
            load(each.exercise, Need(need, fault.hand or "L")) > 0
            if need
            else _has_plain_hands(each.exercise)
        )
    )
    return next(asks, fault.exercise)


def _has_plain_hands(exercise: Exercise) -> bool:
    """Tell whether both hands have notes, and each note is one hit: of a buzz no time or level is its own."""
    return has_both_hands(exercise) and not any(note.buzz for note in exercise.notes)
