"""A few invented students, week by week: no week breaks a rule that a teacher would not hand it out without.

All of them, five hundred: ``python -m benchmarks.plans``.
"""

from __future__ import annotations

import pytest

from benchmarks.plans import RULES, Panel, broken_rules, judge_one
from benchmarks.students import invented
from evenhand.acts.weeks.plan import WeekRequest, plan_week
from evenhand.planning.practice import PracticePlan
from evenhand.progress.history import History
from evenhand.progress.stages.usual import COMMON_PATH

STAGES = [(stage.name, stage.rate_per_s) for stage in COMMON_PATH.stages]


@pytest.mark.parametrize("seed", [1, 4, 9, 15, 20])
def test_the_weeks_of_an_invented_student_break_no_rule(seed: int) -> None:
    panel = Panel()
    judge_one(invented(seed, STAGES), 4, panel, f"student {seed}")
    assert not panel.broken, panel.first


def test_the_panel_finds_what_is_wrong() -> None:
    """A week of taps judged as one of drops, for another number of minutes, breaks rules."""
    student = invented(1, STAGES)
    student.stage, student.minutes = "rebound", 99.0
    plan = plan_week(WeekRequest(15, 3, "tap"), COMMON_PATH, history=History())
    twice = PracticePlan((plan.days[0], plan.days[0]))
    broken = set(broken_rules(twice, student, Panel()))
    assert {RULES[0], RULES[2], RULES[7]} <= broken
