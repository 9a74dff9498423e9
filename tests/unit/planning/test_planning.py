"""A week: each day to the minute, the page covered, short turns, slow to fast."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest

from evenhand.errors import WrongOptions
from evenhand.music.exercise import Tempo, note_value
from evenhand.music.text import parse_exercise
from evenhand.music.writing.difficulty import hand_changes
from evenhand.planning.practice import (
    PracticeChoice,
    PracticePlan,
    beat_for,
    repetitions_for,
    tempo_for,
    turn_seconds,
)
from evenhand.planning.week import PAGE, WeekProblem, choose_page, plan_days
from evenhand.progress.stages.path import Stage
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.report.words.remarks import why_words

STICKINGS = ["RLRR LRLL", "RLLR LRRL", "RRLR LLRL", "RLRL LRLR", "RRLL RRLL", "RRRL LLLR", "RLRL RLRL"]


def choice(text: str, rank: int = 0, **more: object) -> PracticeChoice:
    exercise = parse_exercise(text)
    asked = {
        "worth": 1.0,
        "weak_share": 0.5,
        "changes": frozenset(hand_changes(exercise, 3)),
        "why": "for the hands",
        "ceiling_notes": None,
        **more,
    }
    return PracticeChoice(exercise, text, rank, **asked)  # type: ignore[arg-type]


CHOICES = tuple(choice(f"1/8: {sticking}", rank) for rank, sticking in enumerate(STICKINGS))


def stage(name: str) -> Stage:
    found = COMMON_PATH.stage(name)
    assert found is not None
    return found


def plan(name: str = "half", *, minutes: float = 15, days: int = 5, seed: int = 0) -> PracticePlan:
    beside = tuple((stage(stroke), int(60 * each)) for stroke, each in stage(name).beside)
    return plan_days(WeekProblem(int(60 * minutes), days, stage(name), CHOICES, beside, seed))[0]


@pytest.mark.parametrize("name", ["half", "full", "tap", "building speed", "rebound doubles", "rebound"])
@pytest.mark.parametrize("minutes", [5, 20, 45])
def test_each_day_adds_up_to_its_minutes(name: str, minutes: int) -> None:
    for day in plan(name, minutes=minutes, days=3).days:
        assert day.seconds == 60 * minutes


def test_a_turn_takes_its_count_in_and_its_repetitions() -> None:
    # 8 eighths four times at 1/8 = 70: 32 * 60 / 70 = 27.43 s; four beats of count-in 3.43 s: 30.86, so 31.
    exercise = parse_exercise("1/8: RLRR LRLL")
    assert turn_seconds(exercise, Tempo(Fraction(1, 8), 70.0), 4) == 31


def test_half_strokes_are_played_four_to_twelve_times_from_60_on() -> None:
    """Common practice, as the stage has it."""
    for day in plan("half").days:
        for item in day.items:
            assert item.stroke == "half"
            assert 4 <= item.repetitions <= 12
            assert 60 <= item.tempo.bpm <= 228
            assert item.tempo.beat == Fraction(1, 8)


def test_taps_come_with_half_and_full_strokes_beside() -> None:
    for day in plan("tap", minutes=20).days:
        seconds = dict.fromkeys(("half", "full", "tap"), 0.0)
        for item in day.items:
            assert item.stroke is not None
            seconds[item.stroke] += item.seconds + item.rest_s
        assert (
            300 <= seconds["half"] + seconds["full"] <= 600
        )  # five to ten minutes of twenty: common practice


def test_the_week_covers_every_hand_change_of_its_page() -> None:
    wanted = frozenset().union(*(each.changes for each in CHOICES))
    had = set[str]()
    for day in plan("half", minutes=5, days=5).days:
        for item in day.items:
            had |= set(hand_changes(item.exercise, 3))
    assert had == wanted


def test_no_exercise_is_played_in_one_long_block() -> None:
    for day in plan("half", minutes=20).days:
        names = [item.title for item in day.items]
        assert all(one != other for one, other in itertools.pairwise(names))
        assert max(item.seconds for item in day.items) <= 185


def test_each_choice_is_explained() -> None:
    for day in plan("tap", minutes=20).days:
        assert all(item.why for item in day.items)


def test_where_no_stroke_is_thrown_yet_it_says_to_drop_the_stick() -> None:
    whys = {why_words(item.why) for day in plan("rebound").days for item in day.items}
    assert whys == {"Only drop the stick, and let it bounce by itself; new, so start slowly."}


def test_the_same_seed_gives_the_same_week_and_another_may_not() -> None:
    assert plan("tap", seed=1) == plan("tap", seed=1)


def test_a_page_holds_no_more_than_a_student_remembers() -> None:
    many = tuple(choice("1/8: " + "RL" * n, rank=n) for n in range(1, 40))
    page = choose_page(many, seed=0)
    assert len(page) == PAGE
    assert [each.rank for each in page] == sorted(each.rank for each in page)


def test_the_weak_hand_is_practised_more() -> None:
    left = choice("1/8: LLLR LLRL", weak_share=0.75)
    right = choice("1/8: RRRL RRLR", weak_share=0.25)
    made, _ = plan_days(WeekProblem(600, 5, stage("half"), (left, right)))
    counts = [
        sum(item.exercise is each.exercise for day in made.days for item in day.items)
        for each in (left, right)
    ]
    assert counts[0] > counts[1]


def test_with_a_ceiling_the_tempo_rises_to_95_percent_of_it() -> None:
    known = choice("1/8: RLRR LRLL", ceiling_notes=100.0)
    assert [tempo_for(stage("tap"), known, through).bpm for through in (0.0, 1.0)] == [
        96,
        96,
    ]  # the stage begins there


def test_no_tempo_goes_beyond_the_ceiling_even_where_the_stage_begins_faster() -> None:
    slow = choice("1/8: RLRR LRLL", ceiling_notes=60.0)
    assert tempo_for(stage("tap"), slow, 1.0).bpm <= 0.95 * 60 + 0.5


def test_what_went_well_as_fast_as_it_was_tried_goes_on_from_there() -> None:
    going = choice("1/8: RLRR LRLL", goes_notes=(100.0, 108.0))
    assert [tempo_for(stage("tap"), going, through).bpm for through in (0.0, 1.0)] == [100, 108]
    faster = choice("1/8: RLRR LRLL", goes_notes=(200.0, 260.0))
    assert tempo_for(stage("half"), faster, 1.0).bpm == 228  # no faster than the stage goes


def test_without_a_ceiling_it_begins_at_the_slow_end_and_rises_little() -> None:
    unknown = choice("1/8: RLRR LRLL")
    first, last = (tempo_for(stage("tap"), unknown, through).bpm for through in (0.0, 1.0))
    assert first == 96
    assert 96 < last <= 96 * 1.16


@pytest.mark.parametrize(
    ("text", "beat", "bpm"),
    [
        ("1/16: RLRR", Fraction(1, 16), 60),
        ("1/12: RLR LRL", Fraction(1, 4), 20),
        ("1/24: RLRLRL", Fraction(1, 8), 20),
    ],
)
def test_other_notes_are_as_many_a_minute(text: str, beat: Fraction, bpm: float) -> None:
    # Half strokes at 1/8 = 60 are sixty notes a minute: of triplets, three to a beat, that is 20 beats.
    assert tempo_for(stage("half"), choice(text), 0.0) == Tempo(beat, bpm)
    assert beat_for(note_value(parse_exercise(text))) == beat


def test_short_exercises_are_repeated_within_the_stage() -> None:
    exercise = parse_exercise("1/8: RL")
    assert 4 <= repetitions_for(stage("tap"), exercise, Tempo(Fraction(1, 8), 80.0), 0.0) <= 20


def test_a_day_too_short_for_any_turn_is_refused_with_the_reason() -> None:
    with pytest.raises(WrongOptions, match="the shortest turn takes"):
        plan_days(WeekProblem(20, 1, stage("half"), CHOICES))
