"""A student's weeks: what changed, what chance would do, and when a tempo may be reached.

Histories are made from the figures behind them; the ceiling's truth is the logistic function itself.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenhand.measuring.values import Measure
from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.text import parse_exercise
from evenhand.progress.ceiling.over_weeks import CeilingPosterior, ceiling_posterior, tries_of
from evenhand.progress.history import History, PastTake
from evenhand.progress.trends.trajectory import (
    FollowedMeasure,
    MeasureTrajectory,
    StudentProgress,
    TrajectoryPoint,
    by_day,
    measure_trajectory,
)
from evenhand.progress.trends.weeks import follow
from tests.histories import LAPSE, WIDTH, a_take, day, figure

SPREAD = FollowedMeasure("hands.{hand}.timing_sd_ms", "timing, spread", "ms", "lower", 12.0)
BALANCE = FollowedMeasure("balance.level_db", "level, right minus left", "dB", "nearer nought", 5.0)


def six_weeks(seed: int = 3) -> tuple[PastTake, ...]:
    """Play every other day: the left hand settles, the right one is steady, the balance comes right."""
    rng = np.random.default_rng(seed)
    return tuple(
        a_take(
            day(x),
            rng,
            spread_ms=(5.0, 6.0 + 9.0 * np.exp(-x / 9)),
            louder_db=3.5 - 0.07 * x,
            tempo="1/8=90",
            ceiling_bpm=200.0,
        )
        for x in range(0, 43, 2)
    )


@pytest.fixture(scope="module")
def weeks() -> StudentProgress:
    return follow(History(six_weeks(), (), (), "Ines"))


def course(progress: StudentProgress, words: str, hand: str | None = None) -> MeasureTrajectory:
    (exercise,) = progress.exercises
    return next(each for each in exercise.trajectories if each.followed.words == words and each.hand == hand)


def test_a_hand_that_settles_is_followed_to_where_it_levels_off(weeks: StudentProgress) -> None:
    left = course(weeks, "timing, spread", "L")
    assert left.change is not None
    assert left.change.direction == "better"
    assert left.curve is not None
    assert left.curve.end.ci95 is not None
    assert left.curve.end.ci95[0] <= 6.0 <= left.curve.end.ci95[1]
    assert left.curve.half_life_days.ci95 is not None
    assert left.curve.half_life_days.ci95[0] <= 9 * np.log(2) <= left.curve.half_life_days.ci95[1]


def test_a_hand_that_stays_the_same_is_not_said_to_change(weeks: StudentProgress) -> None:
    right = course(weeks, "timing, spread", "R")
    assert right.change is not None
    assert (right.change.direction, right.curve, right.plateau) == ("can't tell", None, None)


def test_a_balance_that_comes_right_is_better_and_its_rate_is_told(weeks: StudentProgress) -> None:
    balance = course(weeks, "level, right minus left")
    assert balance.change is not None
    assert balance.change.direction == "better"
    assert balance.change.per_week.ci95 is not None
    assert balance.change.per_week.ci95[0] <= -0.49 <= balance.change.per_week.ci95[1]
    assert balance.audible_from == 1.0


def test_a_balance_that_comes_right_and_stays_so_has_a_plateau() -> None:
    rng = np.random.default_rng(4)
    takes = [a_take(day(x), rng, louder_db=4.0 - 0.2 * min(x, 20)) for x in range(0, 43, 2)]
    plateau = course(follow(History(tuple(takes))), "level, right minus left").plateau
    assert plateau is not None
    assert plateau.since_days.ci95 is not None
    assert plateau.since_days.ci95[0] <= 20 <= plateau.since_days.ci95[1]
    assert plateau.level.value == pytest.approx(0.0, abs=0.3)


def test_a_balance_that_got_worse_and_stays_so_has_no_plateau() -> None:
    rng = np.random.default_rng(4)
    takes = [a_take(day(x), rng, louder_db=0.2 * min(x, 20)) for x in range(0, 43, 2)]
    balance = course(follow(History(tuple(takes))), "level, right minus left")
    assert balance.plateau is None
    assert balance.change is not None
    assert balance.change.direction == "worse"


def test_a_balance_that_crosses_over_and_goes_on_is_worse() -> None:
    points = [
        TrajectoryPoint(take, float(x), figure(-0.2 - 0.1 * x, 0.3, "dB"))
        for x, take in zip(range(0, 30, 3), six_weeks(), strict=False)
    ]
    change = measure_trajectory(BALANCE, None, points).change
    assert change is not None
    assert change.direction == "worse"


def test_takes_of_other_notes_or_strokes_are_followed_apart() -> None:
    kinds: tuple[tuple[StrokeClass, str], ...] = (
        ("half", "1/8: RL"),
        ("tap", "1/8: RL"),
        ("half", "1/8: RRLL"),
    )
    takes = [a_take(day(x), stroke=stroke, text=text) for x in (0, 7) for stroke, text in kinds]
    found = follow(History(tuple(takes)))
    assert [(each.stroke, len(each.takes)) for each in found.exercises] == [
        ("half", 2),
        ("tap", 2),
        ("half", 2),
    ]


def test_one_day_alone_is_not_followed_but_counted() -> None:
    found = follow(History((a_take(day(0)), a_take(day(0)))))
    assert (found.exercises, found.single) == ((), 1)


def test_takes_that_do_not_tell_the_hands_are_left_out() -> None:
    assert follow(History(tuple(a_take(day(x), clear=False) for x in (0, 7)))).exercises == ()


def test_one_exercise_can_be_asked_for() -> None:
    takes = tuple(a_take(day(x), text=text) for x in (0, 7) for text in ("1/8: RL", "1/8: RRLL"))
    found = follow(History(takes), exercise=parse_exercise("1/8: RRLL"))
    assert len(found.exercises) == 1


def test_three_days_are_shown_but_no_change_is_judged() -> None:
    found = follow(History(tuple(a_take(day(x)) for x in (0, 3, 6))))
    balance = course(found, "level, right minus left")
    assert (len(balance.points), balance.change) == (3, None)


def test_two_takes_of_one_day_count_as_one_day_the_surer_for_more() -> None:
    """By hand: errors 1 and 2, so weights 1 and 1/4: (0 + 5/4) / (5/4) = 1, error 1 / sqrt(5/4) = 0.8944."""
    take = a_take(day(0))
    points = [
        TrajectoryPoint(take, 0.0, figure(0.0, 1.959964, "dB")),
        TrajectoryPoint(take, 0.0, figure(5.0, 2 * 1.959964, "dB")),
        TrajectoryPoint(take, 1.0, Measure(9.0, 1, "dB")),  # no interval: left out
    ]
    days = by_day(points, on_log=False)
    assert (days.x.tolist(), days.takes) == ([0.0], 2)
    assert days.y == pytest.approx([1.0])
    assert days.errors == pytest.approx([0.8944], abs=1e-4)


def test_the_order_of_takes_within_a_day_makes_no_difference() -> None:
    a_day, b_day = six_weeks(1), six_weeks(2)
    one = follow(History(tuple(sorted((*a_day, *b_day), key=lambda take: take.day))))
    other = follow(History(tuple(sorted((*b_day, *a_day), key=lambda take: take.day))))
    for a, b in zip(one.exercises[0].trajectories, other.exercises[0].trajectories, strict=True):
        assert a.change is not None
        assert b.change is not None
        assert a.change.per_week.value == pytest.approx(b.change.per_week.value)


def rows(
    rng: np.random.Generator, a_week: float, *, days: int = 14, span: int = 40
) -> list[tuple[float, float, bool]]:
    """Play near a ceiling that starts at 100 and rises by a share a week, form on the day 3 %."""
    out = []
    for x in np.linspace(0, span, days).round():
        true = 100 * (1 + a_week) ** (x / 7)
        on_the_day = true * np.exp(rng.normal(0, 0.03))
        for tempo in true * np.repeat([0.9, 1.0, 1.1], 7):
            chance = (1 - LAPSE) / (1 + np.exp(np.log(tempo / on_the_day) / WIDTH - np.log(3)))
            out.append((float(x), float(tempo), bool(rng.random() < chance)))
    return out


def posterior(rng: np.random.Generator, a_week: float) -> CeilingPosterior:
    found = ceiling_posterior(tries_of(rows(rng, a_week)))
    assert found is not None
    return found


def test_a_rising_ceiling_is_followed_and_its_intervals_hold_it() -> None:
    """By construction, 5 % a week: 100 at first, 132.2 on day 40; of 12 ends two may miss."""
    rng = np.random.default_rng(11)
    held = []
    for _ in range(6):
        found = posterior(rng, 0.05)
        for x, true in ((0.0, 100.0), (40.0, 100 * 1.05 ** (40 / 7))):
            value, (low, high) = found.at(x)
            assert value == pytest.approx(true, rel=0.08)
            held.append(low <= true <= high)
        assert found.gain()[1][0] > 0
    assert sum(held) >= 10, f"{sum(held)} of 12"


def test_what_is_said_of_the_day_it_is_reached_holds() -> None:
    """5 % a week reaches 125 on day 7 ln 1.25 / ln 1.05 = 32.0; none of 4 leaves that out."""
    rng = np.random.default_rng(12)
    for _ in range(4):
        low, _, high = posterior(rng, 0.05).days_to(125.0)
        assert low <= 32.0 <= high


def test_a_ceiling_that_falls_reaches_nothing_it_has_left_behind() -> None:
    """-5 % a week: 100 at first, 75 on day 40; 95 was passed on the way down."""
    found = posterior(np.random.default_rng(15), -0.05)
    assert found.days_to(95.0) == (np.inf, np.inf, np.inf)
    assert found.days_to(40.0) == (0.0, 0.0, 0.0)


def test_a_ceiling_that_does_not_rise_promises_nothing() -> None:
    low, _, high = posterior(np.random.default_rng(13), 0.0).days_to(130.0)
    assert high == np.inf
    assert low > 40


def test_a_tempo_far_under_the_ceiling_is_reached_and_one_far_over_is_not_promised() -> None:
    rng = np.random.default_rng(14)
    takes = tuple(
        a_take(
            day(x),
            rng,
            tempo=f"1/8={round(100 * share * 1.05 ** (x / 7))}",
            ceiling_bpm=100 * 1.05 ** (x / 7),
        )
        for x in range(0, 36, 3)
        for share in (0.92, 1.04)
    )
    reached = follow(History(takes), wish=Tempo.parse("1/8=90")).exercises[0].ceiling
    far = follow(History(takes), wish=Tempo.parse("1/8=300")).exercises[0].ceiling
    assert reached is not None
    assert reached.wish is not None
    assert reached.wish.reach == "reached"
    assert reached.direction == "better"
    assert far is not None
    assert far.wish is not None
    assert (far.wish.reach, far.wish.not_before_days) == ("can't tell", far.wish.horizon_days)


def test_a_wish_in_another_beat_is_the_same_tempo() -> None:
    takes = six_weeks()[:8]
    eighths = follow(History(takes), wish=Tempo.parse("1/8=90")).exercises[0].ceiling
    quarters = follow(History(takes), wish=Tempo.parse("1/4=45")).exercises[0].ceiling
    assert eighths is not None
    assert quarters is not None
    assert eighths.wish is not None
    assert quarters.wish is not None
    assert quarters.wish.chance_reached == pytest.approx(eighths.wish.chance_reached, abs=1e-6)


def test_tempos_that_do_not_bound_the_ceiling_give_none(weeks: StudentProgress) -> None:
    (exercise,) = weeks.exercises
    assert exercise.ceiling is not None
    assert (exercise.ceiling.end.value, exercise.ceiling.direction, exercise.ceiling.band) == (
        None,
        "can't tell",
        (),
    )


def test_too_few_days_or_repetitions_give_no_course() -> None:
    some = rows(np.random.default_rng(1), 0.05)
    assert ceiling_posterior(tries_of([row for row in some if row[0] < 8])) is None
    assert ceiling_posterior(tries_of(some[:20])) is None


def test_nothing_is_followed_of_an_empty_history() -> None:
    assert follow(History()) == StudentProgress("", (), (), 0)


def test_a_take_without_an_interval_is_shown_but_not_fitted() -> None:
    takes = [
        replace(
            take,
            measures={"balance.level_db": replace(take.measures["balance.level_db"], ci95=None)},
            tried=(),
        )
        for take in six_weeks()
    ]
    balance = course(follow(History(tuple(takes))), "level, right minus left")
    assert len(balance.points) == len(takes)
    assert balance.change is None
