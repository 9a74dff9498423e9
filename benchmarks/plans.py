"""A panel of rules over the weeks of invented students: ``python -m benchmarks.plans``.

    python -m benchmarks.plans [--students N] [--weeks N] [--seed N] [--times N]

Each student is planned for week by week, plays, is heard, practises and goes on along the path. Every rule is
what a teacher would not hand a week out without; what breaks one is counted and named. Then: how long a
thousand plans take.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta

from benchmarks.students import FIRST, InventedStudent, invented
from evenhand.acts.weeks.plan import WeekRequest, plan_week
from evenhand.acts.weeks.stages import advise_student
from evenhand.music.writing.rates import rate_per_s
from evenhand.planning.practice import PracticeItem, PracticePlan
from evenhand.planning.standing import exercise_standing
from evenhand.planning.treatments import heard_faults
from evenhand.progress.stages.usual import COMMON_PATH

STUDENTS, WEEKS, PLANS = 500, 6, 1000
MOST_PIECES, FEWEST_PIECES, FEW_FROM_MIN = 7, 4, 8
LEAST_REST = 0.08  # of a day: rests and pauses
LONGEST_GO_S = 180.0
AT_THE_END = 0.97  # of the stage's fast end: there is nothing faster to lead on to
ROUNDED = 1.03  # a click is set in steps of about 2 %
OUTSIDE = ("slower than the stage", "no slower on the click")
RULES = (
    "a day adds up to the second",
    "four to seven pieces a day, fewer in short ones",
    "tempos from 40 to 208, inside the stage or said why",
    "no exercise with a fault goes faster; none beyond its ceiling",
    "every fault heard in more than one take is worked on, or named as waiting",
    "rest enough, and no go too long",
    "one take to record a day, its form the same all week",
    "days differ",
    "six weeks lead on",
)


@dataclass
class Panel:
    """What was judged and what broke a rule: by rule, how many weeks, and the first of them."""

    weeks: int = 0
    broken: Counter[str] = field(default_factory=Counter)
    first: dict[str, str] = field(default_factory=dict)
    faults: Counter[str] = field(default_factory=Counter)

    def note(self, rule: str, where: str) -> None:
        """Count what broke a rule."""
        self.broken[rule] += 1
        self.first.setdefault(rule, where)


def judge(students: int, weeks: int = WEEKS, seed: int = 0) -> Panel:
    """Plan, play and judge the weeks of many students, with a word on a terminal about how far it is."""
    panel = Panel()
    stages = [(stage.name, stage.rate_per_s) for stage in COMMON_PATH.stages]
    for number in range(seed, seed + students):
        if sys.stderr.isatty():
            done = number - seed + 1
            print(f"\r{done} of {students} students", end="\n" if done == students else "", file=sys.stderr)
        judge_one(invented(number, stages), weeks, panel, f"student {number}")
    return panel


def judge_one(student: InventedStudent, weeks: int, panel: Panel, name: str) -> None:
    """Plan, play and judge one student's weeks."""
    before: PracticePlan | None = None
    began = (student.stage, sum(fault.size for fault in student.faults))
    rates = list[float]()
    for week in range(weeks):
        starts = FIRST + timedelta(weeks=week)
        if week:
            advice = advise_student(student.history, COMMON_PATH, student.stage, until=starts).advice
            student.stage = advice.to
        asked = WeekRequest(student.minutes, student.days, student.stage, week, starts=starts, before=before)
        plan = plan_week(asked, COMMON_PATH, history=student.history)
        panel.weeks += 1
        for rule in broken_rules(plan, student, panel):
            panel.note(rule, f"{name}, {student.stage}, week {week + 1}, {student.minutes:g} min")
        rates.append(max((rate_per_s(i.exercise, i.tempo) for i in _of(plan, "record")), default=0.0))
        student.play(plan, week)
        student.practise(plan)
        before = plan
    mended = sum(fault.size for fault in student.faults) < 0.95 * began[1]
    first = rates[min(1, len(rates) - 1)]  # the first week that rests on takes
    stage = COMMON_PATH.stage(student.stage)
    there = stage is not None and rates[-1] >= AT_THE_END * stage.rate_per_s[1]
    if not (mended or there or rates[-1] > first * 1.02 or student.stage != began[0]):
        panel.note(RULES[8], f"{name}, {student.stage}, {first:.2f} to {rates[-1]:.2f} strokes/s")


def broken_rules(plan: PracticePlan, student: InventedStudent, panel: Panel) -> Iterator[str]:
    """Give the rules that a week breaks."""
    if any(day.seconds != round(60 * student.minutes) for day in plan.days):
        yield RULES[0]
    fewest = FEWEST_PIECES if student.minutes >= FEW_FROM_MIN else 1
    if not all(fewest <= len(day.items) <= MOST_PIECES for day in plan.days):
        yield RULES[1]
    items = [item for day in plan.days for item in day.items]
    if not all(_is_inside(item, student.stage) for item in items):
        yield RULES[2]
    if not all(_agrees(item, student) for item in _fastest(items)):
        yield RULES[3]
    if not _all_treated(plan, student, panel):
        yield RULES[4]
    if not all(_rests(day.items, day.seconds) for day in plan.days):
        yield RULES[5]
    forms = defaultdict[str, set[object]](set)
    for item in _of(plan, "record"):
        forms[student.stage].add(item.exercise)
    if any(len(form) != 1 for form in forms.values()) or any(
        sum(item.block == "record" for item in day.items) > 1 for day in plan.days
    ):
        yield RULES[6]
    if len({tuple((i.exercise, i.tempo, i.goes) for i in day.items) for day in plan.days}) < len(plan.days):
        yield RULES[7]


def _of(plan: PracticePlan, block: str) -> list[PracticeItem]:
    return [item for day in plan.days for item in day.items if item.block == block]


def _is_inside(item: PracticeItem, name: str) -> bool:
    """Tell whether a tempo can be felt, and lies inside its stage or says why not."""
    if not 40 <= item.tempo.bpm <= 208:
        return False
    if item.block in ("warm-up", "review") or any(remark.kind in OUTSIDE for remark in item.why):
        return True
    stage = COMMON_PATH.stage(name)
    slow, fast = stage.rate_per_s if stage is not None else (0.0, 0.0)
    return slow / ROUNDED <= rate_per_s(item.exercise, item.tempo) <= fast * ROUNDED


def _fastest(items: Iterable[PracticeItem]) -> list[PracticeItem]:
    """Give each exercise and stroke once, as fast as the week has it: what is slower agrees, too."""
    found: dict[object, PracticeItem] = {}
    for item in sorted(items, key=lambda each: -each.tempo.whole_note_s):
        found[item.exercise, item.stroke] = item
    return list(found.values())


def _agrees(item: PracticeItem, student: InventedStudent) -> bool:
    """Tell whether a piece goes as the standing says: the one that every page shows."""
    standing = exercise_standing(item.exercise, student.takes, stroke=item.stroke)
    if not standing.takes or standing.next_s is None or item.tempo.whole_note_s * ROUNDED >= standing.next_s:
        return True
    stage = COMMON_PATH.stage(student.stage)
    slow = stage.rate_per_s[0] if stage is not None else 0.0
    at_slow_end = rate_per_s(item.exercise, item.tempo) <= slow * ROUNDED and not standing.faults
    return at_slow_end or any(remark.kind == "no slower on the click" for remark in item.why)


def _all_treated(plan: PracticePlan, student: InventedStudent, panel: Panel) -> bool:
    """Tell whether what was heard more than once is worked on or named; count which."""
    if student.stage == "rebound":
        return True
    worked = {
        (r.facts["told"], r.facts["hand"])
        for item in _of(plan, "focus")
        for r in item.why
        if r.kind in ("heard in takes", "behind in every take")
    }
    waiting = {(r.facts["told"], r.facts["hand"]) for r in plan.notes if r.kind == "fault waits"}
    old = {(f.kind, f.hand or "") for f in heard_faults(student.takes) if f.takes > 1}
    panel.faults["worked on"] += len(old & worked)
    panel.faults["waiting"] += len(old & waiting - worked)
    return old <= worked | waiting


def _rests(items: tuple[PracticeItem, ...], seconds: float) -> bool:
    rest_s = sum(item.rest_s + (item.goes - 1) * item.pause_s for item in items)
    goes_s = [(item.seconds - (item.goes - 1) * item.pause_s) / item.goes for item in items]
    return max(goes_s) <= LONGEST_GO_S and (len(items) == 1 or rest_s >= LEAST_REST * seconds)


def plan_many(times: int) -> tuple[float, float]:
    """Plan weeks of every stage in turn; return the seconds on the wall and of one core."""
    stages = [stage.name for stage in COMMON_PATH.stages]
    plan_week(WeekRequest(20, 5, "half"), COMMON_PATH)
    began, cpu = time.perf_counter(), time.process_time()
    for seed in range(times):
        plan_week(WeekRequest(20, 5, stages[seed % len(stages)], seed), COMMON_PATH)
    return time.perf_counter() - began, time.process_time() - cpu


def panel_rows(panel: Panel, students: int) -> dict[str, tuple[int, int]]:
    """Give for each rule how many break it, and of how many: of weeks, for the last rule of students."""
    return {rule: (panel.broken[rule], students if rule == RULES[-1] else panel.weeks) for rule in RULES}


def panel_table(panel: Panel, students: int) -> str:
    """Lay the rules out as a table of ``docs/benchmark.md``."""
    lines = [f"| {students} invented students, {panel.weeks} weeks | break it |", "|---|---|"]
    lines += [f"| {rule} | {n} of {of} |" for rule, (n, of) in panel_rows(panel, students).items()]
    worked, waiting = panel.faults["worked on"], panel.faults["waiting"]
    return "\n".join(
        [*lines, f"| faults heard more than once: worked on, waiting | {worked}, {waiting} |", ""]
    )


def print_panel(panel: Panel, students: int) -> None:
    """Print a line for each rule."""
    print(f"{students} students, {panel.weeks} weeks")
    for rule, (n, of) in panel_rows(panel, students).items():
        print(f"  {n:5} of {of} break: {rule}")
        if rule in panel.first:
            print(f"        first: {panel.first[rule]}")
    print(f"  faults heard more than once: {dict(panel.faults)}")


def main() -> None:
    """Judge the weeks of many students, then time a thousand plans."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.plans", description=__doc__.split("\n")[0])
    parser.add_argument("--students", type=int, default=STUDENTS)
    parser.add_argument("--weeks", type=int, default=WEEKS)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--times", type=int, default=PLANS)
    asked = parser.parse_args()
    panel = judge(asked.students, asked.weeks, asked.seed)
    print_panel(panel, asked.students)
    if asked.times:
        wall_s, cpu_s = plan_many(asked.times)
        print(f"{asked.times} plans: {wall_s:.1f} s, {cpu_s:.1f} s of one core")
    sys.exit(1 if panel.broken else 0)


if __name__ == "__main__":
    main()
