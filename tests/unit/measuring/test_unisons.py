"""Both hands at once, a foot and ghost notes in a take's figures."""

from __future__ import annotations

from evenhand.measuring.hits import main_hits
from evenhand.music.text import parse_exercise
from evenhand.planning.load import strokes_of
from evenhand.take import Heard, Hit


def test_what_both_hands_strike_counts_for_the_whole_and_for_no_hand() -> None:
    exercise = parse_exercise("1/8: B L Rk (R)")
    notes = enumerate(exercise.notes)
    hits = tuple(
        Hit(0.5 * at, -12.0, 0.9, note.hand, 1, at, deviation_ms=0.0, written=at / 8) for at, note in notes
    )
    found = main_hits(Heard(hits=hits, clock="smooth"), exercise)
    assert found.n == 4
    assert found.by("R").tolist() == [False, False, False, True]
    assert found.by("L").tolist() == [False, True, False, False]
    assert found.plain.tolist() == [True, True, True, False]


def test_a_unison_is_a_blow_of_each_hand_and_a_foot_is_none() -> None:
    assert dict(strokes_of(parse_exercise("1/8: B L Rk lB"))) == {"R": 2, "L": 4}
