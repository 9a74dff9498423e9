"""Laws of stroke plans that hold for every exercise."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.acts.exercises.strokes import StrokeOptions, height_chart, plan_exercise, strokes_json
from evenhand.acts.takes.request import TakeRequest
from evenhand.music.exercise import Exercise, Hand, Tempo
from evenhand.music.strokes.heights import STROKE_CLASSES, Motion, StrokeClass
from evenhand.music.strokes.plan import plan_strokes
from evenhand.music.strokes.rebound import (
    bounce_height_cm,
    free_height_cm,
    free_interval_s,
    kept_height_cm,
    rise_height_cm,
    steps_of,
)
from evenhand.music.text import mirrored, print_exercise
from tests.depth import share
from tests.falling import kept_interval_s
from tests.strategies import exercises

HIGH_BEFORE: dict[Motion, bool] = {"full": True, "down": True, "tap": False, "up": False}
HIGH_AFTER: dict[Motion, bool] = {"full": True, "down": False, "tap": False, "up": True}

classes = st.none() | st.sampled_from(STROKE_CLASSES)
tempi = st.builds(
    Tempo, st.sampled_from((Fraction(1, 4), Fraction(1, 8), Fraction(3, 8))), st.floats(20, 300)
)
intervals_s = st.floats(0.03, 2.0)
restitutions = st.floats(0.2, 1.0)


def blows(exercise: Exercise) -> list[tuple[int, Hand]]:
    """List what is struck, graces before their notes."""
    return [
        (position, hand)
        for position, note in enumerate(exercise.notes)
        if note.hand is not None
        for hand in (*note.graces, note.hand)
    ]


@given(exercises(), classes)
@share(0.8)
def test_every_blow_is_planned_once_in_the_order_it_sounds(
    exercise: Exercise, stroke: StrokeClass | None
) -> None:
    made = plan_strokes(exercise, stroke=stroke)
    assert [(each.position, each.hand) for each in made.strokes] == blows(exercise)


@given(exercises(), classes)
@share(0.8)
def test_each_hand_s_stroke_ends_where_its_next_one_starts(
    exercise: Exercise, stroke: StrokeClass | None
) -> None:
    made = plan_strokes(exercise, stroke=stroke)
    for hand in ("R", "L"):
        own = [each for each in made.strokes if each.hand == hand]
        for before, after in zip(own, own[1:] + own[:1], strict=True):
            assert before.after_cm == after.before_cm
            assert HIGH_AFTER[before.motion] == HIGH_BEFORE[after.motion]


@given(exercises())
@share(0.6)
def test_a_hand_s_ways_make_one_time_through(exercise: Exercise) -> None:
    for hand in ("R", "L"):
        ways = [step.own_interval for step in steps_of(exercise) if step.blow.hand == hand]
        assert sum(ways) == (exercise.length if ways else 0)


@given(exercises(), classes, tempi)
@share(0.5)
def test_the_other_hand_s_plan_is_the_mirror_image(
    exercise: Exercise, stroke: StrokeClass | None, tempo: Tempo
) -> None:
    plan, mirror = (plan_strokes(each, stroke=stroke, tempo=tempo) for each in (exercise, mirrored(exercise)))
    assert plan.letters() == mirror.letters()
    assert [s.before_cm for s in plan.strokes] == [s.before_cm for s in mirror.strokes]
    assert [(r.kind, r.positions) for r in plan.remarks] == [(r.kind, r.positions) for r in mirror.remarks]


@given(exercises(), classes, tempi)
@share(0.5)
def test_ups_and_downs_of_a_hand_are_as_many(
    exercise: Exercise, stroke: StrokeClass | None, tempo: Tempo
) -> None:
    for hand in ("R", "L"):
        own = [s.motion for s in plan_strokes(exercise, stroke=stroke, tempo=tempo).strokes if s.hand == hand]
        assert own.count("up") == own.count("down")


@given(exercises(), classes, tempi, restitutions)
@share(0.5)
def test_a_bounce_is_no_higher_than_its_throw_and_no_hand_bounces_twice_running(
    exercise: Exercise, stroke: StrokeClass | None, tempo: Tempo, restitution: float
) -> None:
    strokes = plan_strokes(exercise, stroke=stroke, tempo=tempo, restitution=restitution).strokes
    for hand in ("R", "L"):
        own = [each for each in strokes if each.hand == hand]
        for throw, second in zip(own[-1:] + own[:-1], own, strict=True):
            if second.bounce:
                assert not throw.bounce
                assert second.before_cm <= bounce_height_cm(throw.before_cm, restitution) + 1e-9


@given(exercises(), classes, tempi)
@share(0.25)
def test_every_plan_can_be_written_and_drawn(
    exercise: Exercise, stroke: StrokeClass | None, tempo: Tempo
) -> None:
    planned = plan_exercise(TakeRequest(exercise, print_exercise(exercise), tempo), StrokeOptions(stroke))
    assert strokes_json(planned)
    chart = height_chart(planned)
    assert chart.from_bpm < chart.tempo_bpm < chart.to_bpm
    for curve in chart.curves:
        for part in curve.free:
            assert list(part) == sorted(part, key=lambda point: (point[0], -point[1]))


@given(intervals_s, restitutions)
def test_dropped_is_lowest_and_a_free_rise_highest(interval_s: float, restitution: float) -> None:
    dropped, thrown = free_height_cm(interval_s), kept_height_cm(interval_s, restitution)
    assert dropped <= thrown * (1 + 1e-12)
    assert thrown < rise_height_cm(interval_s)


@given(intervals_s, restitutions)
def test_heights_and_intervals_are_each_other_s_inverse(interval_s: float, restitution: float) -> None:
    assert free_interval_s(free_height_cm(interval_s)) == pytest.approx(interval_s)
    assert kept_interval_s(kept_height_cm(interval_s, restitution), restitution) == pytest.approx(interval_s)
