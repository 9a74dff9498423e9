"""A repetition is in control where its unevenness is not audible and nothing is lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.progress.ceiling.control import TriedRepetition, tried_repetitions
from evenhand.take import ExtraHit, Heard, Hit, MissedNote, Remark

PARADIDDLE = parse_exercise("1/16: RLRR LRLL")
TEMPO = Tempo.parse("1/4=100")  # sixteenths 150 ms apart: an ear tells 6 ms


def heard(
    strays_ms: Sequence[Sequence[float]],
    *,
    bpm: Sequence[float] | None = None,
    missed: tuple[MissedNote, ...] = (),
    extra: tuple[ExtraHit, ...] = (),
) -> Heard:
    """Play the paradiddle, a row of displacements a repetition, each at its own tempo."""
    hits, at = [], 1.0
    gone = {(note.repetition, note.position) for note in missed}
    for repetition, row in enumerate(strays_ms, start=1):
        step = 15.0 / (bpm[repetition - 1] if bpm else 100.0)
        for position, stray in enumerate(row):
            if (repetition, position) not in gone:
                hand = PARADIDDLE.notes[position].hand
                written = (repetition - 1) / 2 + position / 16
                hits.append(
                    Hit(
                        at + stray / 1e3,
                        -20.0,
                        1.0,
                        hand,
                        repetition,
                        position,
                        deviation_ms=0.0,
                        written=written,
                    )
                )
            at += step
    return Heard(tuple(hits), missed=missed, extra=extra)


def judged(take: Heard) -> list[TriedRepetition]:
    return tried_repetitions(take, PARADIDDLE, TEMPO, take="a take")


def test_even_strokes_are_in_control_at_the_tempo_they_were_played() -> None:
    one, two = judged(heard([[0] * 8] * 2, bpm=[100, 120]))
    assert (one.controlled, two.controlled) == (True, True)
    assert one.tempo_bpm == pytest.approx(100, abs=0.01)
    assert two.tempo_bpm == pytest.approx(120, abs=0.01)
    assert one.spread_ms == pytest.approx(0, abs=1e-6)
    assert one.audible_ms == pytest.approx(6.0)


def test_strays_by_hand_are_worked_out_as_on_paper() -> None:
    # Every second note 8 ms late. The least-squares line of (0, 8, 0, 8, ...) over 8 notes has a mean of 4
    # and a slope of 8 * 2 / 42 = 0.381 a note; what is left is 8 * 16 - 42 * 0.381^2 = 121.9, over 6: 4.508.
    (one,) = judged(heard([[0, 8] * 4]))
    assert one.spread_ms == pytest.approx(np.sqrt((8 * 16 - 42 * (16 / 42) ** 2) / 6), abs=1e-6)
    assert one.controlled
    (one,) = judged(heard([[0, 12] * 4]))
    assert not one.controlled


def test_one_hand_may_be_out_of_control_alone() -> None:
    left_wanders = [0, 9, 0, 0, -9, 0, 10, -9]  # R L R R L R L L
    (one,) = judged(heard([left_wanders]))
    assert one.hands == {"L": False, "R": True}
    assert not one.controlled


def test_a_lost_note_is_out_of_control_and_so_is_its_hand() -> None:
    (one,) = judged(heard([[0] * 8], missed=(MissedNote(1, 4),)))
    assert (one.lost, one.controlled, one.hands) == (1, False, {"L": False, "R": True})


def test_a_hit_too_many_is_out_of_control() -> None:
    (one,) = judged(heard([[0] * 8], extra=(ExtraHit(1.2, -20.0),)))
    assert (one.lost, one.controlled) == (1, False)


def test_what_was_not_played_to_its_end_is_left_out() -> None:
    assert [each.repetition for each in judged(heard([[0] * 8, [0] * 5]))] == [1]


@pytest.mark.parametrize("doubt", ["ambiguity", "unlike"])
def test_a_take_in_doubt_tells_nothing(doubt: str) -> None:
    even = heard([[0] * 8])
    said = Remark("no note found")
    doubted = replace(even, ambiguity=said) if doubt == "ambiguity" else replace(even, unlike=said)
    assert judged(doubted) == []


def test_short_exercises_are_judged_a_few_times_together() -> None:
    two = parse_exercise("1/8: RL")
    hits = tuple(
        Hit(1.0 + 0.3 * i, -20.0, 1.0, "RL"[i % 2], i // 2 + 1, i % 2, written=i / 8)  # type: ignore[arg-type]
        for i in range(16)
    )
    tried = tried_repetitions(Heard(hits), two, TEMPO, take="a take")
    assert [each.repetition for each in tried] == [1, 4]  # three at a time make six notes; two are left over
