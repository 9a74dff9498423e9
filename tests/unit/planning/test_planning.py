"""A week of lessons: blocks in their order, sums to the second, tempos inside the stage, faults treated.

What a day is made of is common practice; the figures are conventions of Evenhand.
"""

from __future__ import annotations

import pytest

from evenhand.acts.weeks.plan import WeekRequest, plan_week
from evenhand.errors import WrongOptions
from evenhand.measuring.values import Evidence, Finding, Measure
from evenhand.music.exercise import Tempo, bpm_of
from evenhand.music.text import parse_exercise
from evenhand.music.writing.rates import rate_per_s
from evenhand.planning.lesson import Piece, fill_day
from evenhand.planning.practice import PracticeItem, PracticePlan
from evenhand.planning.standing import exercise_standing, practice_limit_s, speeds_for
from evenhand.planning.treatments import TREATMENTS, HeardFault, heard_faults
from evenhand.progress.history import History
from evenhand.progress.stages.path import Stage
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.report.words.ceiling import ceiling_words
from tests.unit.planning.weeks import past_take, well

STAGES = [stage.name for stage in COMMON_PATH.stages]
ORDER = ("warm-up", "focus", "review", "speed", "music", "record")
ROUNDED = 1.03  # a click is set in steps of about 2 %


def stage(name: str) -> Stage:
    found = COMMON_PATH.stage(name)
    assert found is not None
    return found


def a_week(name: str = "tap", minutes: float = 15, days: int = 5, **more: object) -> PracticePlan:
    history = more.pop("history", History())
    asked = WeekRequest(minutes, days, name, **more)  # type: ignore[arg-type]
    return plan_week(asked, COMMON_PATH, history=history)  # type: ignore[arg-type]


def items(plan: PracticePlan) -> list[PracticeItem]:
    return [item for day in plan.days for item in day.items]


@pytest.mark.parametrize("name", STAGES)
@pytest.mark.parametrize("minutes", [3, 5, 8, 10, 12.5, 15, 20, 30, 45])
def test_each_day_adds_up_to_the_second_with_seven_pieces_at_most(name: str, minutes: float) -> None:
    for day in a_week(name, minutes).days:
        assert day.seconds == 60 * minutes
        assert len(day.items) <= 7
        assert len(day.items) >= (4 if minutes >= 8 else 1)
        for item in day.items:
            assert item.seconds == int(item.seconds)
            assert item.rest_s == int(item.rest_s)


@pytest.mark.parametrize("name", STAGES)
def test_a_day_begins_easily_and_ends_with_the_take_to_record(name: str) -> None:
    for day in a_week(name).days:
        blocks = [item.block for item in day.items]
        assert blocks[0] == "warm-up"
        assert blocks[-1] == "record"
        assert blocks.count("record") == 1
        assert 1 <= blocks.count("focus") <= 3
        assert set(blocks) <= set(ORDER)


@pytest.mark.parametrize("name", STAGES)
def test_the_take_to_record_has_the_same_form_each_day_and_each_week(name: str) -> None:
    first = a_week(name, seed=1)
    forms = {
        item.exercise
        for plan in (first, a_week(name, seed=2, before=first))
        for item in items(plan)
        if item.block == "record"
    }
    assert len(forms) == 1


@pytest.mark.parametrize("name", STAGES)
def test_tempos_lie_inside_the_stage_and_from_40_to_208(name: str) -> None:
    slow, fast = stage(name).rate_per_s
    for item in items(a_week(name)):
        assert 40 <= item.tempo.bpm <= 208
        if item.block not in ("warm-up", "review"):  # those are of an earlier stage
            assert slow / ROUNDED <= rate_per_s(item.exercise, item.tempo) <= fast * ROUNDED


def test_days_differ_and_the_last_is_faster() -> None:
    plan = a_week()
    assert len({tuple((item.exercise, item.tempo) for item in day.items) for day in plan.days}) == 5
    first, *_, last = plan.days
    goes = {item.exercise: item.tempo.whole_note_s for item in first.items if item.block == "focus"}
    again = [item for item in last.items if item.exercise in goes]
    assert again
    assert all(item.tempo.whole_note_s < goes[item.exercise] for item in again)


def test_a_take_that_was_never_heard_is_recorded_at_one_tempo() -> None:
    assert len({item.tempo for item in items(a_week()) if item.block == "record"}) == 1


def test_every_piece_says_what_it_is_for_and_why() -> None:
    for item in items(a_week()):
        assert len(item.purpose) == 1
        assert item.why


def test_drops_are_assigned_where_the_stick_is_only_dropped() -> None:
    plan = a_week("rebound")
    assert all(item.stroke is None for item in items(plan))
    assert all(any(note.is_rest for note in item.exercise.notes) for item in items(plan))


def test_the_same_seed_gives_the_same_week() -> None:
    assert a_week(seed=3) == a_week(seed=3)


def test_a_day_too_short_for_a_piece_is_refused() -> None:
    exercise = parse_exercise("1/8: RLRL")
    piece = Piece("focus", exercise, Tempo.parse("1/8=60"), 1.0, stage("half"), exercise)
    with pytest.raises(WrongOptions, match="for these exercises at this tempo"):
        fill_day([piece], 5)


LATE = Finding("late_hand", Evidence("balance.timing_ms", -30.0, "ms", 64, (-34.0, -26.0), 20.0))
WEAK = Finding("weak_hand", Evidence("balance.level_db", 3.6, "dB", 64, (3.1, 4.1), 1.0))
SECOND = Finding(
    "weak_second", Evidence("doubles.R.second_minus_first_db", -4.0, "dB", 64, (-5.0, -3.0), -1.0)
)


def test_what_was_heard_is_worked_on_with_its_own_treatment_and_goes_no_faster() -> None:
    takes = tuple(past_take("1/8: RLRL RLRL", "1/8=100", day, findings=(WEAK,)) for day in range(4))
    plan = a_week(history=History(takes))
    treated = [item for item in items(plan) if any(r.facts.get("told") == "weak_hand" for r in item.why)]
    steps = {item.purpose[0].kind for item in treated if item.block == "focus"}
    assert {"purpose alone", "purpose leading", "purpose again"} <= steps
    of_it = [item for item in items(plan) if item.exercise == takes[0].exercise and item.stroke == "tap"]
    played = max(rate_per_s(item.exercise, item.tempo) for item in of_it)
    assert played <= rate_per_s(takes[0].exercise, takes[0].tempo) * ROUNDED
    assert plan.story[0].kind == "story fault"


def test_a_hand_late_in_every_take_is_a_reason_though_no_take_alone_is_heard_so() -> None:
    takes = [
        past_take(
            "1/8: RLRL RLRL", "1/8=70", day, measures={"balance.timing_ms": Measure(16.0, 64, "ms", (12, 20))}
        )
        for day in range(4)
    ]
    (fault,) = heard_faults(takes)
    assert (fault.kind, fault.hand, fault.takes, fault.audible) == ("late_hand", "R", 4, False)


def test_faster_only_when_even() -> None:
    even = [past_take("1/8: RRLL", "1/8=120", day, tried=well(120)) for day in range(3)]
    assert exercise_standing(even[0].exercise, even).move == "faster"
    weak = [*even, past_take("1/8: RRLL", "1/8=132", 4, findings=(SECOND,), tried=well(132))]
    standing = exercise_standing(even[0].exercise, weak)
    assert (standing.move, standing.faults[0].kind) == ("stay", "weak_second")
    now_s, next_s, _ = speeds_for(stage("tap"), standing)
    assert next_s >= Tempo.parse("1/8=132").whole_note_s * 0.999
    assert now_s >= next_s


def test_where_control_was_lost_it_begins_slower_and_comes_back() -> None:
    lost = Finding("missed_note", Evidence("positions.missed", 3.0, "notes", 20, None, None, (2,)))
    takes = [past_take("1/8: RLRR LRLL", "1/8=120", day, findings=(lost,)) for day in range(2)]
    standing = exercise_standing(takes[0].exercise, takes)
    assert standing.move == "slower"
    assert standing.now_s is not None
    assert standing.next_s is not None
    assert standing.now_s > standing.next_s >= Tempo.parse("1/8=120").whole_note_s * 0.999


def test_another_treatment_after_three_weeks_that_changed_nothing() -> None:
    def weeks(n: int) -> History:
        return History(
            tuple(
                past_take("1/8: RLRL RLRL", "1/8=100", 7 * w + d, findings=(WEAK,))
                for w in range(n)
                for d in (0, 2)
            )
        )

    by_weeks = [heard_faults(weeks(n).takes)[0] for n in (1, 3, 4, 7)]
    assert [fault.unchanged_weeks for fault in by_weeks] == [1, 3, 4, 7]
    known = TREATMENTS["weak_hand"]
    assert [fault.treatment for fault in by_weeks] == [known[0], known[0], known[1], known[2]]
    notes = {note.kind for note in a_week(history=weeks(4)).notes}
    assert "another treatment" in notes
    assert "another treatment" not in {note.kind for note in a_week(history=weeks(2)).notes}


def test_a_fault_that_gets_smaller_keeps_its_treatment() -> None:
    sizes = (6.0, 4.4, 3.2, 2.3)
    takes = [
        past_take(
            "1/8: RLRL RLRL",
            "1/8=100",
            7 * week,
            findings=(Finding("weak_hand", Evidence("balance.level_db", size, "dB", 64, None, 1.0)),),
        )
        for week, size in enumerate(sizes)
    ]
    (fault,) = heard_faults(takes)
    assert fault.changes_of_treatment == 0


@pytest.mark.parametrize(
    ("weeks", "unchanged"),
    [
        ((), 1),
        ((6.2, 6.3, 9.4, 7.1), 4),  # back from a bad week is no change
        ((9.4, 9.0, 7.1), 1),
        ((6.0, 5.9, 4.4, 4.3), 2),
    ],
)
def test_how_long_a_fault_has_not_changed(weeks: tuple[float, ...], unchanged: int) -> None:
    fault = HeardFault("hurrying", None, parse_exercise("1/8: RLRL"), "tap", 4, 8, None, weeks=weeks)
    assert fault.unchanged_weeks == unchanged


def test_every_fault_has_a_treatment_and_a_measure_that_shows_its_success() -> None:
    for treatments in TREATMENTS.values():
        assert len(treatments) >= 2
        assert all(treatment.steps and treatment.measure for treatment in treatments)


def test_the_ceiling_is_not_passed_and_the_reason_says_so() -> None:
    tried = (*well(100, 10), *well(110, 10), *well(125, 10, controlled=False))
    take = past_take("1/8: RLRL RLRL", "1/8=110", 0, tried=tried)
    plan = a_week(history=History((take,)))
    of_it = [item for item in items(plan) if item.exercise == take.exercise and item.stroke == "tap"]
    assert of_it
    assert max(item.tempo.bpm * float(item.tempo.beat) * 8 for item in of_it) < 120


def test_what_was_worked_on_is_reviewed_the_week_after() -> None:
    first = a_week()
    worked = {item.exercise for item in items(first) if item.block == "focus" and item.stroke == "tap"}
    reviewed = {item.exercise for item in items(a_week(before=first)) if item.block == "review"}
    assert reviewed & worked


@pytest.mark.parametrize(("name", "minutes"), [("rebound", 5), ("rebound", 10), ("half", 5), ("tap", 12)])
def test_no_two_days_are_alike_where_the_tempo_stands_still(name: str, minutes: float) -> None:
    weak = Finding("weak_hand", Evidence("balance.level_db", 3.6, "dB", 64, (3.0, 4.2), 1.0))
    takes = tuple(past_take("1/8: RLRL RLRL", "1/8=80", day, findings=(weak,)) for day in (0, 2))
    days = a_week(name, minutes, 6, history=History(takes)).days
    assert all(day not in days[:index] for index, day in enumerate(days))


@pytest.mark.parametrize("days", [2, 3, 5, 6])
def test_a_hand_is_said_to_lead_only_where_it_does(days: int) -> None:
    for name in STAGES:
        for item in items(a_week(name, 20, days)):
            if item.purpose[0].kind == "purpose leading":
                hands = [note.hand for note in item.exercise.notes if note.hand]
                assert hands[0] == item.purpose[0].facts["hand"]


def test_a_short_day_works_on_one_thing_and_faults_come_by_turns() -> None:
    weak = Finding("weak_hand", Evidence("balance.level_db", 3.6, "dB", 64, (3.0, 4.2), 1.0))
    fast = Finding("hurrying", Evidence("drift_bpm_per_min", 9.0, "bpm/min", 64, (7.0, 11.0), 3.0))
    takes = tuple(past_take("1/8: RLRL RLRL", "1/8=120", d, findings=(weak, fast)) for d in (0, 1, 2))
    told = [
        {item.purpose[0].facts["told"] for item in day.items if item.block == "focus"}
        for day in a_week("tap", 8, 4, history=History(takes)).days
    ]
    assert all(len(each) == 1 for each in told)
    assert len(set.union(*told)) == 2


def test_long_days_have_more_pieces_not_longer_ones() -> None:
    for name in STAGES[1:]:
        for day in a_week(name, 30).days:
            assert max(item.seconds for item in day.items) <= 7.5 * 60


def test_a_tempo_rises_less_far_in_a_week_of_few_days() -> None:
    def rise(days: int) -> float:
        plan = a_week("half", days=days)
        speeds = [
            i.tempo.whole_note_s for i in items(plan) if i.purpose[0].kind in {"purpose new", "purpose build"}
        ]
        return max(speeds) / min(speeds)

    assert rise(2) < rise(5)


def test_the_ceiling_said_by_itself_bounds_practice_as_the_plan_does() -> None:
    """The words of a ceiling and the plan keep one limit: 95 % of it."""
    tried = (*well(100, 10), *well(118, 9), *well(118, 3, controlled=False), *well(135, 10, controlled=False))
    take = past_take("1/8: RLRL RLRL", "1/8=118", 0, tried=tried)
    standing = exercise_standing(take.exercise, (take,))
    ceiling = standing.ceiling
    assert ceiling is not None
    assert ceiling.ceiling.value is not None
    limit_s = practice_limit_s(ceiling)
    assert limit_s is not None
    assert bpm_of(limit_s, ceiling.beat) == pytest.approx(0.95 * ceiling.ceiling.value)
    assert standing.next_s is not None
    assert standing.next_s >= limit_s
    assert f"no faster than 1/4 = {int(0.95 * ceiling.ceiling.value)}," in ceiling_words(ceiling)
