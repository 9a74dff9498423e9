"""What was heard, put into the words of the domain. Figures by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenhand.hearing.alignment.recovery import Matched
from evenhand.hearing.build_result import build_blind_result, build_result, confidence
from evenhand.hearing.clicks.sound import HeardClick
from evenhand.hearing.onsets.attack import TimedHits
from evenhand.take import ExtraHit, MissedNote
from tests.unit.hearing.sounds import Array, candidates_at, evenly, score_of

SCORE = score_of("1/8: R - L R", "1/4=120")  # 0.25 s an eighth, 1 s a repetition, three notes in it
FLAMS = score_of("1/4: llR L", "1/4=120")


def timed(times_s: Array, levels_db: Array | float = -12.0) -> TimedHits:
    n = len(times_s)
    levels = np.array(np.broadcast_to(levels_db, n), dtype=np.float64)
    return TimedHits(times_s, levels, np.full(n, 9.0), np.full(n, np.nan))


def matched(times_s: Array, numbers: list[int], stretches: list[int] | None = None) -> Matched:
    none = np.zeros(len(numbers), dtype=np.intp)
    stretch = none if stretches is None else np.array(stretches, dtype=np.intp)
    return Matched(times_s, np.array(numbers, dtype=np.intp), stretch, none, np.full(len(numbers), 8.0))


def even(numbers: list[int]) -> Array:
    """Return when notes are due, from 1 s on."""
    return np.asarray(1.0 + SCORE.written(np.array(numbers)) * 2.0)


def a_click(*, through: bool) -> HeardClick:
    return HeardClick(
        times_s=evenly(0.0, 0.5, 12),
        gains=np.ones(12),
        kinds=np.zeros(12, dtype=np.intp),
        sounds=np.zeros((1, 50), dtype=np.float32),
        begins_s=0.0,
        first_s=0.0,
        beat_s=0.5,
        level_db=-20.0,
        through=through,
    )


def test_notes_get_their_hand_repetition_and_position() -> None:
    """A rest has a position and no hit."""
    numbers = list(range(6))
    heard = build_result(SCORE, matched(even(numbers), numbers), timed(even(numbers)), (), None)
    assert [(h.repetition, h.position, h.hand) for h in heard.hits] == [
        (1, 0, "R"), (1, 2, "L"), (1, 3, "R"), (2, 0, "R"), (2, 2, "L"), (2, 3, "R"),
    ]  # fmt: skip
    assert [h.written for h in heard.hits] == [0, 0.25, 0.375, 0.5, 0.75, 0.875]
    assert heard.missed == ()
    assert heard.clock == "smooth"
    assert heard.tempo_bpm == pytest.approx(120)


def test_an_even_take_does_not_deviate_and_has_no_asynchrony_without_a_click() -> None:
    numbers = list(range(12))
    heard = build_result(SCORE, matched(even(numbers), numbers), timed(even(numbers)), (), None)
    assert [h.deviation_ms for h in heard.hits] == pytest.approx([0.0] * 12, abs=1e-6)
    assert {h.asynchrony_ms for h in heard.hits} == {None}


def test_asynchrony_is_against_the_click_of_the_notes_own_beat() -> None:
    """8 ms early throughout, by hand: the click stands at every half second."""
    numbers = list(range(9))
    late = even(numbers) - 0.008
    heard = build_result(SCORE, matched(late, numbers), timed(late), (), a_click(through=True))
    assert heard.clock == "click"
    assert [h.asynchrony_ms for h in heard.hits] == pytest.approx([-8.0] * 9)
    assert heard.clicks_s == tuple(evenly(0.0, 0.5, 12).tolist())


def test_each_stretch_finds_its_own_beat() -> None:
    """After a stop the second stretch begins on another beat of the click, 5 ms late."""
    numbers = [0, 1, 2, 3, 6, 7, 8]
    times = np.concatenate([even([0, 1, 2, 3]), even([6, 7, 8]) + 1.505])
    notes = matched(times, numbers, [0, 0, 0, 0, 1, 1, 1])
    heard = build_result(SCORE, notes, timed(times), (), a_click(through=True))
    assert [h.asynchrony_ms for h in heard.hits] == pytest.approx([0.0] * 4 + [5.0] * 3)
    assert [h.stretch for h in heard.hits] == [0] * 4 + [1] * 3
    assert heard.missed == ()


def test_a_count_in_alone_is_no_clock() -> None:
    heard = build_result(
        SCORE, matched(even([0, 1]), [0, 1]), timed(even([0, 1])), (), a_click(through=False)
    )
    assert heard.clock == "smooth"
    assert len(heard.clicks_s) == 12
    assert heard.hits[0].asynchrony_ms is None


def test_what_was_not_heard_between_first_and_last_is_missed() -> None:
    numbers = [0, 2, 3, 7, 8]
    heard = build_result(SCORE, matched(even(numbers), numbers), timed(even(numbers)), (), None)
    assert heard.missed == (MissedNote(1, 2), MissedNote(2, 2), MissedNote(2, 3), MissedNote(3, 0))


def test_a_grace_goes_with_its_note_and_one_not_heard_is_missed() -> None:
    """Of the first drag both graces, of the second one."""
    times = np.array([0.94, 0.97, 1.0, 1.5, 1.97, 2.0])
    notes = Matched(times, np.array([0, 0, 0, 1, 2, 2]), np.zeros(6, dtype=np.intp),
                    np.array([2, 1, 0, 0, 1, 0]), np.full(6, 8.0))  # fmt: skip
    heard = build_result(FLAMS, notes, timed(times), (), None)
    assert [(h.repetition, h.position, h.hand, h.grace) for h in heard.hits] == [
        (1, 0, "L", True), (1, 0, "L", True), (1, 0, "R", False), (1, 1, "L", False),
        (2, 0, "L", True), (2, 0, "R", False),
    ]  # fmt: skip
    assert [h.deviation_ms is None for h in heard.hits] == [h.grace for h in heard.hits]
    assert heard.missed == (MissedNote(2, 0, grace=True),)


@pytest.mark.parametrize(("beat", "bpm"), [("1/4=120", 132.0), ("1/8=240", 264.0)])
def test_tempo_is_in_the_beat_asked_for(beat: str, bpm: float) -> None:
    """Played a tenth faster than written."""
    numbers = list(range(9))
    times = 1.0 + (even(numbers) - 1.0) / 1.1
    heard = build_result(score_of("1/8: R - L R", beat), matched(times, numbers), timed(times), (), None)
    assert heard.tempo_bpm == pytest.approx(bpm)


def test_one_note_has_no_tempo() -> None:
    assert build_result(SCORE, matched(even([0]), [0]), timed(even([0])), (), None).tempo_bpm is None


def test_extras_are_handed_on() -> None:
    extra = (ExtraHit(1.1, -30.0),)
    heard = build_result(SCORE, matched(even([0, 1]), [0, 1]), timed(even([0, 1])), extra, None)
    assert heard.extra == extra


def test_confidence_grows_with_strength_and_falls_away_from_where_it_was_due() -> None:
    strong = confidence(evenly(0.0, 0.5, 20), np.zeros(20), 0.005)
    off = confidence(np.full(20, 6.0), evenly(0.0, 0.005, 20), 0.005)
    for values, sign in ((strong, 1), (off, -1)):
        assert (sign * np.diff(values) >= 0).all()
        assert (values > 0).all()
        assert (values < 1).all()
    assert strong[-1] > 0.99
    assert off[-1] < 0.25


def test_blind_hits_have_times_levels_and_no_hands() -> None:
    """In order of time, whatever the order they were timed in."""
    found = candidates_at([1.0, 1.2, 1.4])
    heard = build_blind_result(found, timed(np.array([1.0, 1.41, 1.2]), np.array([-10.0, -11.0, -12.0])))
    assert [(h.time_s, h.level_db, h.hand) for h in heard.hits] == [
        (1.0, -10.0, None), (1.2, -12.0, None), (1.41, -11.0, None),
    ]  # fmt: skip
    assert (heard.clock, heard.tempo_bpm) == (None, None)


def test_nothing_is_told_of_nothing() -> None:
    nothing = candidates_at([])
    assert build_blind_result(nothing, timed(np.zeros(0))).hits == ()


def test_figures_are_plain_numbers() -> None:
    """So that they can be written down as JSON."""
    numbers = list(range(5))
    heard = build_result(
        SCORE, matched(even(numbers), numbers), timed(even(numbers)), (), a_click(through=True)
    )
    for hit in heard.hits:
        for value in (hit.time_s, hit.level_db, hit.confidence, hit.asynchrony_ms, hit.written):
            assert type(value) is float
        assert type(hit.repetition) is type(hit.position) is type(hit.stretch) is int
    assert replace(heard) == heard
