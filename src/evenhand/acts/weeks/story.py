"""What a week says of itself: its story in two sentences, what it rests on, and how its load goes.

Conventions: days are named by their weekday where the week's first day is known, else counted from 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import get_args

from evenhand.planning.blocks import Focus, treatment_facts
from evenhand.planning.load import JUMP, strokes_of
from evenhand.planning.practice import PracticeItem, PracticePlan
from evenhand.planning.treatments import HeardFault, Step
from evenhand.planning.week import WeekProblem
from evenhand.report.words.figures import DAY_NAMES
from evenhand.report.words.lesson import part_title
from evenhand.take import Fact, Remark, RemarkKind

STEPS: tuple[str, ...] = get_args(Step)
DAYS_A_WEEK = 7
ONE_SITTING_S = 45 * 60


def told_week(
    plan: PracticePlan,
    focuses: Sequence[Focus],
    problem: WeekProblem,
    before: PracticePlan | None,
    takes: int,
) -> PracticePlan:
    """Give a plan its titles, its story and its notes."""
    days = tuple(replace(day, items=tuple(_titled(item) for item in day.items)) for day in plan.days)
    told = replace(plan, days=days)
    return replace(told, story=_story(told, focuses), notes=_notes(told, focuses, problem, before, takes))


def _titled(item: PracticeItem) -> PracticeItem:
    """Name a part of an exercise as a part."""
    return replace(item, title=part_title(item.title, item.purpose))


def _story(plan: PracticePlan, focuses: Sequence[Focus]) -> tuple[Remark, ...]:
    """Tell the week in two sentences: what it is about, and on which days what is done."""
    first = focuses[0]
    title = first.choice.title
    if first.choice.stroke is None:
        opening = Remark("story drops")
    elif first.faults:
        fault = first.faults[0]
        opening = Remark("story fault", {"told": fault.kind, "hand": fault.hand or ""})
    else:
        opening = Remark("story new", {"title": title, "leads": int(first.choice.leads)})
    return opening, _steps(plan, first)


def _steps(plan: PracticePlan, focus: Focus) -> Remark:
    """Say on which day each step comes first, and how fast the exercise is in the end."""
    seen: dict[str, str] = {}
    for index, day in enumerate(plan.days):
        for item in day.items:
            step = _step_of(item, focus.faults[0] if focus.faults else None)
            if step:
                seen.setdefault(step, day_name(index, len(plan.days), plan.starts))
    whole = [
        (index, item)
        for index, day in enumerate(plan.days)
        for item in day.items
        if item.exercise == focus.choice.exercise and item.block == "focus"
    ]
    last, again = whole[-1] if whole else (len(plan.days) - 1, None)
    facts: dict[str, Fact] = {
        "steps": "|".join(f"{step}@{on}" for step, on in seen.items()),
        "hand": focus.faults[0].hand or "L" if focus.faults else "L",
        "told": focus.faults[0].kind if focus.faults else "",
        "last": day_name(last, len(plan.days), plan.starts),
        "bpm": f"{again.tempo.bpm:g}" if again is not None and again.stroke is not None else "",
        "days": len(plan.days),
    }
    return Remark("story steps", facts)


def _step_of(item: PracticeItem, fault: HeardFault | None) -> str:
    """Name the step that a piece is of what a fault asks for, or of what none does; "" where it is none."""
    purpose = item.purpose[0] if item.purpose and item.block == "focus" else None
    step = "" if purpose is None else purpose.kind.removeprefix("purpose ")
    asks = ("", "") if fault is None else (fault.kind, fault.hand or "")
    told = ("", "") if purpose is None else (purpose.facts.get("told"), purpose.facts.get("hand"))
    return step if step in STEPS and (told == asks or (fault is None and not told[0])) else ""


def _steps_taken(plan: PracticePlan, fault: HeardFault) -> list[str]:
    """List the steps that a week takes for a fault: of its treatment those that its exercise allows."""
    items = [item for day in plan.days for item in day.items]
    return list(dict.fromkeys(step for item in items if (step := _step_of(item, fault))))


def day_name(index: int, days: int, starts: date | None) -> str:
    """Name a day of a week.

    >>> day_name(3, 5, date(2026, 11, 30)), day_name(3, 5, None)
    ('Friday', 'day 4')
    """
    if starts is None or days > DAYS_A_WEEK:
        return f"day {index + 1}"
    return DAY_NAMES[(starts + timedelta(days=index * DAYS_A_WEEK // days)).weekday()]


def _notes(
    plan: PracticePlan,
    focuses: Sequence[Focus],
    problem: WeekProblem,
    before: PracticePlan | None,
    takes: int,
) -> tuple[Remark, ...]:
    """Say what the week rests on, what treatment changes, what has to wait, and how the load goes."""
    faults = [fault for focus in focuses for fault in focus.faults]
    basis = Remark("week from takes" if faults else "week from even takes", {"n": takes})
    notes = [basis if takes else Remark("week without takes")]
    notes += [
        Remark("another treatment", treatment_facts(fault, _steps_taken(plan, fault)))
        for fault in faults
        if fault.changes_of_treatment
    ]
    notes += _waiting(plan, focuses)
    if problem.seconds_a_day > ONE_SITTING_S:
        notes.append(Remark("in sittings", {"minutes": round(problem.seconds_a_day / 60)}))
    return (*notes, *_load(plan, before))


def _waiting(plan: PracticePlan, focuses: Sequence[Focus]) -> list[Remark]:
    """Name the faults that the week has no room for."""
    worked = {
        fact
        for day in plan.days
        for item in day.items
        for remark in item.why
        if remark.kind in ("heard in takes", "behind in every take")
        for fact in [(remark.facts["told"], remark.facts["hand"])]
    }
    return [
        Remark("fault waits", {"told": fault.kind, "hand": fault.hand or ""})
        for focus in focuses
        for fault in focus.faults
        if (fault.kind, fault.hand or "") not in worked
    ]


def _load(plan: PracticePlan, before: PracticePlan | None) -> list[Remark]:
    """Say how the strokes rise over the week, and against the week before."""
    by_day = [_strokes(PracticePlan((day,))) for day in plan.days]
    said = []
    if len(by_day) > 1:
        said.append(Remark("strokes by day", {"days": ", ".join(f"{each:,}" for each in by_day)}))
    if before is not None and (earlier := _strokes(before)):
        now = sum(by_day)
        kind: RemarkKind = "strokes jump" if now > JUMP * earlier else "strokes by week"
        said.append(Remark(kind, {"now": now, "before": earlier}))
    return said


def _strokes(plan: PracticePlan) -> int:
    items = [item for day in plan.days for item in day.items]
    return sum(item.goes * item.repetitions * strokes_of(item.exercise).total() for item in items)
