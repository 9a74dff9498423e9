"""Each note has its stroke; what is awkward is said."""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.music.exercise import GRACE_GAP_S, Tempo
from evenhand.music.strokes.heights import COMMON_HEIGHTS, StrokeClass
from evenhand.music.strokes.plan import StrokePlan, plan_strokes
from evenhand.music.strokes.rebound import ASSUMED_RESTITUTION, steps_of
from evenhand.music.strokes.remarks import doubles_of, need_of
from evenhand.music.text import parse_exercise
from evenhand.report.words.strokes import stroke_remark_words

HIGH, HALF, LOW = (getattr(COMMON_HEIGHTS, each).aim_cm for each in ("full", "half", "tap"))


def plan(text: str, tempo: str | None = None, *, stroke: StrokeClass | None = None) -> StrokePlan:
    at = None if tempo is None else Tempo.parse(tempo)
    return plan_strokes(parse_exercise(text), stroke=stroke, tempo=at)


def letters(text: str, stroke: StrokeClass | None = None) -> str:
    return "".join(plan(text, stroke=stroke).letters().values())


def kinds(made: StrokePlan) -> list[str]:
    return [remark.kind for remark in made.remarks]


@pytest.mark.parametrize(
    ("text", "strokes"),
    [  # by hand, each hand for itself: where its blow starts, and where its next one does
        ("1/16: >RLRR >LRLL", "DUTTDUTT"),
        ("1/16: >R>L>R>L", "FFFF"),
        ("1/8: >R L R L", "DTUT"),
        ("1/8: R L R >L", "TUTD"),
        ("1/16: R R L L", "FFFF"),
        ("1/12: >R L L", "FTT"),
        ("1/8: >R R", "DU"),
        ("1/8: R - >R", "UD"),
        ("1/8: lR lR", "FF"),  # flams by one hand: it stays high, the other low
        ("1/8: lR rL", "DD"),  # flams in turn: each hand comes down to its grace
        ("1/12: >lR L R >rL R L", "DUTDUT"),  # flam accents: up before the next
    ],
)
def test_the_four_strokes(text: str, strokes: str) -> None:
    assert letters(text) == strokes


def test_flams_in_turn_have_up_strokes_on_their_graces() -> None:
    graces = [stroke for stroke in plan("1/8: lR rL").strokes if stroke.grace is not None]
    assert [(stroke.hand, stroke.motion) for stroke in graces] == [("L", "up"), ("R", "up")]


@pytest.mark.parametrize(
    ("stroke", "letter", "height"), [("full", "F", HIGH), ("half", "F", HALF), ("tap", "T", LOW)]
)
def test_without_accents_all_notes_are_of_the_class_asked_for(
    stroke: StrokeClass, letter: str, height: float
) -> None:
    made = plan("1/8: R L L R", stroke=stroke)
    assert set(made.letters().values()) == {letter}
    assert {(each.before_cm, each.after_cm) for each in made.strokes} == {(height, height)}


@pytest.mark.parametrize(("stroke", "height"), [(None, HIGH), ("full", HIGH), ("half", HALF), ("tap", HIGH)])
def test_with_accents_the_class_is_the_accents(stroke: StrokeClass | None, height: float) -> None:
    made = plan("1/8: >R L", stroke=stroke)
    assert [each.before_cm for each in made.strokes] == [height, LOW]


def test_a_stroke_ends_where_the_hand_s_next_one_starts_even_around_the_repeat() -> None:
    first, second = plan("1/8: >R R").strokes
    assert (first.before_cm, first.after_cm) == (HIGH, LOW)
    assert (second.before_cm, second.after_cm) == (LOW, HIGH)
    assert (first.own_interval, second.own_interval) == (1 / 8, 1 / 8)


def test_a_grace_starts_lower_than_a_tap() -> None:
    grace, note = plan("1/8: lR", stroke="tap").strokes
    assert grace.before_cm < note.before_cm == LOW


def test_a_grace_is_ahead_of_its_note_by_its_lead() -> None:
    """At 1/8 = 120 eighths are 0.5 s apart: from grace to note, the left hand has the lead more."""
    made = plan("1/8: lR L", "1/8=120")
    assert made.own_intervals_s == pytest.approx((0.5 + GRACE_GAP_S, 1.0, 0.5 - GRACE_GAP_S))


def test_without_a_tempo_nothing_is_said_of_speed() -> None:
    made = plan("1/16: R R L L")
    assert made.remarks == ()
    assert made.own_intervals_s is None
    assert not any(stroke.bounce for stroke in made.strokes)


@pytest.mark.parametrize(
    ("interval_s", "need"),
    [(0.50, None), (0.49, "throw"), (0.26, "throw"), (0.24, "lift")],
)
def test_a_foot_needs_half_a_second_to_be_free_and_a_quarter_to_rise(
    interval_s: float, need: str | None
) -> None:
    """12 in falls in 249.3 ms (worked out apart from this code): twice that up and down."""
    assert need_of(12 * 2.54, interval_s) == need


def test_full_strokes_too_fast_for_a_relaxed_drop_are_said_with_figures() -> None:
    """Each hand every 0.3 s: g T^2 / 8 is 11.0 cm, 4.3 in; 11 in needs 0.477 s: 400 * 0.3 / 0.477 = 251."""
    (remark,) = plan("1/8: R L", "1/8=400", stroke="full").remarks
    assert remark.kind == "needs_throw"
    assert stroke_remark_words(remark, "in", Fraction(1, 8)) == (
        "Notes 1 and 2 from 11 in: by rebound and weight alone, up and down takes 0.48 s; there is 0.30 s, "
        "enough for 4.3 in. It takes force: the stick is thrown, not dropped. Relaxed up to 1/8 = 251."
    )


def test_at_the_tempo_that_is_named_nothing_more_is_said() -> None:
    assert plan("1/8: R L", "1/8=251", stroke="full").remarks == ()
    assert kinds(plan("1/8: R L", "1/8=252", stroke="full")) == ["needs_throw"]


def test_faster_than_anything_rises_the_hand_must_lift() -> None:
    assert kinds(plan("1/8: R L", "1/8=504", stroke="full")) == ["needs_lift"]


def test_remarks_speak_centimetres_when_asked() -> None:
    (remark,) = plan("1/8: R L", "1/8=400", stroke="full").remarks
    said = stroke_remark_words(remark, "cm", Fraction(1, 8))
    assert "from 27.9 cm" in said
    assert " in," not in said


@pytest.mark.parametrize(
    ("text", "tempo", "kind", "positions"),
    [
        ("1/16: >R R L L", "1/4=90", "stop_low", (0,)),
        ("1/16: R >R L L", "1/4=120", "loud_second", (1,)),
        ("1/8: R", "1/8=500", "fast_hand", (0,)),
        ("1/8: lR rL", "1/8=60", "grace_after_high", (0, 1)),
        ("1/8: R~ L", "1/8=60", "buzz", (0,)),
    ],
)
def test_what_is_awkward_is_said(text: str, tempo: str, kind: str, positions: tuple[int, ...]) -> None:
    found = {remark.kind: remark.positions for remark in plan(text, tempo).remarks}
    assert found.get(kind) == positions  # type: ignore[call-overload] # a plain name of the table


def test_an_up_stroke_in_less_than_a_free_rise_takes_is_said() -> None:
    """11 in rises in 0.239 s; the right hand has 2/16 at 1/4 = 150, 0.2 s."""
    made = plan("1/16: R L >R L L L", "1/4=150")
    assert [r.positions for r in made.remarks if r.kind == "quick_lift"] == [(0,)]


def test_a_relaxed_exercise_has_no_remarks() -> None:
    assert plan("1/8: R L R L", "1/8=120", stroke="tap").remarks == ()


@pytest.mark.parametrize(("tempo", "bounces"), [("1/4=99", []), ("1/4=101", [1, 3])])
def test_doubles_of_sixteenths_bounce_from_a_hundred(tempo: str, bounces: list[int]) -> None:
    """150 ms (the fast end of 5 to 7 a second) is a sixteenth at 1/4 = 100."""
    made = plan("1/16: R R L L", tempo, stroke="tap")
    assert [stroke.position for stroke in made.strokes if stroke.bounce] == bounces


def test_a_bounce_starts_from_where_its_throw_leaves_the_stick() -> None:
    throw, bounce, *_ = plan("1/16: R R L L", "1/4=120", stroke="tap").strokes
    assert throw.after_cm == bounce.before_cm < throw.before_cm
    assert bounce.after_cm == LOW


def test_a_double_around_the_repeat_bounces_onto_the_first_note() -> None:
    made = plan("1/16: R L L R", "1/4=120", stroke="tap")
    assert [stroke.position for stroke in made.strokes if stroke.bounce] == [0, 2]


def test_of_three_in_a_row_the_third_is_thrown_again() -> None:
    made = plan("1/16: R R R L", "1/4=120", stroke="tap")
    assert [stroke.bounce for stroke in made.strokes] == [False, True, False, False]


def test_one_hand_alone_plays_no_doubles() -> None:
    made = plan("1/16: R R R R", "1/4=120", stroke="tap")
    assert not any(stroke.bounce for stroke in made.strokes)
    assert "fast_hand" in kinds(made)


def test_a_drag_s_second_grace_is_a_bounce_at_any_tempo() -> None:
    made = plan("1/4: llR", "1/4=40")
    assert [(stroke.grace, stroke.bounce) for stroke in made.strokes] == [
        (0, False),
        (1, True),
        (None, False),
    ]


def test_where_doubles_turn_is_told_in_the_exercise_s_beat() -> None:
    """By hand: 200 ms is a sixteenth at 1/4 = 75, 150 ms at 1/4 = 100."""
    exercise, tempo = parse_exercise("1/16: R R L L"), Tempo.parse("1/4=80")
    steps = steps_of(exercise)
    strokes = plan_strokes(exercise, stroke="tap", tempo=tempo).strokes
    right, left = doubles_of(steps, strokes, tempo, ASSUMED_RESTITUTION)
    assert (right.hand, left.hand) == ("R", "L")
    assert (right.second_notes, left.second_notes) == ((1,), (3,))
    assert right.turns_from_bpm == pytest.approx(75)
    assert right.turned_at_bpm == pytest.approx(100)
    assert right.played_as == "turning"
