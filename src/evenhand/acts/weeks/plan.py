"""Plan a student's next week: from a stage, a book, and what was heard so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from evenhand.acts.exercises.books import stock
from evenhand.errors import WrongOptions
from evenhand.music.book import Book, Entry
from evenhand.music.exercise import Hand, Tempo, note_value
from evenhand.music.writing.difficulty import difficulties, easy_to_hard, hand_changes
from evenhand.planning.choosing import TakeFindings, Weakness, choose, weaknesses
from evenhand.planning.load import JUMP, strokes_of
from evenhand.planning.practice import PracticeChoice, PracticePlan, beat_for
from evenhand.planning.week import PAGE, WeekProblem, plan_days
from evenhand.progress.ceiling.estimate import ceiling_of_both
from evenhand.progress.history import History, PastTake
from evenhand.progress.stages.path import PracticePath, Stage
from evenhand.take import Remark

CHANGES = 3  # notes of a hand change
LAST_TAKES = 8  # so many of the newest takes say what is weak now
LEAST_MINUTES, MOST_MINUTES = 1.0, 240.0
MOST_DAYS = 7
NO_HISTORY = History()


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
    entries = _entries(book)
    choices, weak = _choices(entries, stage, history)
    beside = tuple((found, int(60 * minutes)) for found, minutes in _beside(stage, path))
    wanted = WeekProblem(round(60 * asked.minutes), asked.days, stage, choices, beside, asked.seed)
    plan, page = plan_days(wanted)
    notes = _notes(asked, plan, page, weak, history)
    return replace(plan, student=asked.student or history.student, starts=asked.starts, notes=notes)


def _stage(asked: WeekRequest, path: PracticePath) -> Stage:
    """Find the stage, and check what is asked."""
    wanted = asked.stage.replace("-", " ").replace("_", " ").strip().lower()
    stage = path.stage(wanted)
    if stage is None:
        must_be = f"one of {', '.join(each.name for each in path.stages)}"
        raise WrongOptions(got=f"the stage {asked.stage!r}", must_be=must_be)
    if not LEAST_MINUTES <= asked.minutes <= MOST_MINUTES:
        must_be = f"{LEAST_MINUTES:g} to {MOST_MINUTES:g} minutes a day"
        raise WrongOptions(got=f"{asked.minutes:g} minutes", must_be=must_be)
    if not 1 <= asked.days <= MOST_DAYS:
        raise WrongOptions(got=f"{asked.days} days", must_be=f"1 to {MOST_DAYS} days a week")
    return stage


def _entries(book: Book | None) -> Sequence[Entry]:
    entries = (stock() if book is None else book).entries
    playable = [entry for entry in entries if entry.exercise.struck]
    if not playable:
        raise WrongOptions(got="a book without exercises", must_be="a book with at least one")
    return playable


def _beside(stage: Stage, path: PracticePath) -> list[tuple[Stage, float]]:
    """Find the stages whose strokes are kept up beside this one's."""
    out = []
    for stroke, minutes in stage.beside:
        found = next((each for each in path.stages if each.stroke == stroke), None)
        if found is not None and found is not stage:
            out.append((found, minutes))
    return out


def _choices(
    entries: Sequence[Entry], stage: Stage, history: History
) -> tuple[tuple[PracticeChoice, ...], tuple[Weakness, ...]]:
    """Turn a book into what a week can hold: how hard, how fast, what for."""
    weak = weaknesses([_findings(take) for take in history.takes[-LAST_TAKES:]]).found
    weak_hand = _weak_hand(weak)
    exercises = [entry.exercise for entry in entries]
    asks = difficulties(exercises, Tempo(stage.beat, stage.tempo_bpm[0]), weak_hand or "L")
    ranks = {place: rank for rank, place in enumerate(easy_to_hard(asks))}
    chosen = {each.place: (i, each.reasons) for i, each in enumerate(choose(exercises, weak, PAGE))}
    reaches = [_reach(entry, history) for entry in entries]
    return tuple(
        PracticeChoice(
            exercise=entry.exercise,
            title=entry.title,
            rank=ranks[place],
            worth=1.0 + (1.0 - chosen[place][0] / PAGE if place in chosen else 0.0),
            weak_share=_share(entry, weak_hand),
            changes=frozenset(hand_changes(entry.exercise, CHANGES)),
            why=chosen[place][1] if place in chosen else _coverage(entry),
            ceiling_notes=reaches[place][0],
            goes_notes=reaches[place][1],
        )
        for place, entry in enumerate(entries)
    ), weak


def _findings(take: PastTake) -> TakeFindings:
    return TakeFindings(take.name, take.exercise, take.findings)


def _weak_hand(weak: Sequence[Weakness]) -> Hand | None:
    """Return the hand that is weakest, None where no take showed one."""
    return next((each.need.hand for each in weak if each.need.kind == "hand"), None)


def _share(entry: Entry, hand: Hand | None) -> float:
    """Return a hand's share of the strokes; an even half where no hand is the weak one."""
    if hand is None:
        return 0.5
    struck = entry.exercise.struck
    return sum(entry.exercise.notes[place].hand == hand for place in struck) / len(struck)


def _coverage(entry: Entry) -> tuple[Remark, ...]:
    """Say what an exercise is there for that no take asked for."""
    if not hand_changes(entry.exercise, CHANGES):
        return (Remark("rests between notes"),)
    return (Remark("hand to hand"),)


def _reach(entry: Entry, history: History) -> tuple[float | None, tuple[float, float] | None]:
    """Return the ceiling of an exercise in notes a minute; or how fast it goes, and what to try next."""
    value = note_value(entry.exercise)
    beat = beat_for(value)
    tried = [
        replace(each, tempo_bpm=each.tempo_bpm * float(take.tempo.beat / beat))
        for take in history.takes
        if take.clear and take.exercise.notes == entry.exercise.notes
        for each in take.tried
    ]
    if not tried:
        return None, None
    found = ceiling_of_both(tried, beat)
    notes = float(beat / value)
    if found.ceiling.value is not None:
        return found.ceiling.value * notes, None
    if found.at_least_bpm is None or found.next_tempo_bpm is None:
        lowest = found.at_most_bpm or min(each.tempo_bpm for each in tried)
        return lowest * notes, None
    return None, (found.at_least_bpm * notes, max(found.at_least_bpm, found.next_tempo_bpm) * notes)


def _notes(
    asked: WeekRequest,
    plan: PracticePlan,
    page: Sequence[PracticeChoice],
    weak: Sequence[Weakness],
    history: History,
) -> tuple[Remark, ...]:
    """Say what the week rests on, what it covers, and how its load goes."""
    wanted = frozenset().union(*(choice.changes for choice in page))
    played = {item.exercise for day in plan.days for item in day.items}
    had = frozenset().union(*(choice.changes for choice in page if choice.exercise in played))
    takes = len(history.takes)
    basis = Remark("week from takes" if weak else "week from even takes", {"n": takes})
    covers = Remark("hand changes covered", {"notes": CHANGES, "n": len(had), "of": len(wanted)})
    return (basis if takes else Remark("week without takes"), covers, *_load(asked, plan))


def _load(asked: WeekRequest, plan: PracticePlan) -> list[Remark]:
    """Say how the strokes rise over the week, and against the week before."""
    by_day = [_strokes(PracticePlan((day,))) for day in plan.days]
    said = []
    if len(by_day) > 1:
        said.append(Remark("strokes by day", {"days": ", ".join(f"{each:,}" for each in by_day)}))
    if asked.before is not None and (before := _strokes(asked.before)):
        now = sum(by_day)
        jumps = now > JUMP * before
        said.append(Remark("strokes jump" if jumps else "strokes by week", {"now": now, "before": before}))
    return said


def _strokes(plan: PracticePlan) -> int:
    items = [item for day in plan.days for item in day.items]
    return sum(item.repetitions * strokes_of(item.exercise).total() for item in items)
