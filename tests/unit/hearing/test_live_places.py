"""Blows are laid on notes as they come. Expected notes are worked by hand from the written sticking."""

from __future__ import annotations

import pytest

from evenhand.hearing.alignment.score import Score
from evenhand.hearing.live.places import LivePlaces
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise

TEMPO = Tempo.parse("1/4=120")  # an eighth lasts 0.25 s


def places(text: str = "1/8: RLRR LRLL", first_note_s: float | None = 1.0) -> LivePlaces:
    return LivePlaces(Score.of(parse_exercise(text), TEMPO), first_note_s)


def laid(of: LivePlaces, *times_s: float) -> list[tuple[int, int] | None]:
    """Give repetition and position of each blow, None for one laid on no note."""
    found = [of.place(time_s) for time_s in times_s]
    return [None if place is None else (place.repetition, place.position) for place in found]


def test_each_blow_goes_to_the_nearest_note() -> None:
    assert laid(places(), 1.01, 1.24, 1.51, 1.77) == [(1, 0), (1, 1), (1, 2), (1, 3)]


def test_after_the_last_note_comes_the_next_repetition() -> None:
    assert laid(places("1/4: RL"), 1.0, 1.5, 2.0, 2.5) == [(1, 0), (1, 1), (2, 0), (2, 1)]


def test_a_note_that_was_not_played_keeps_its_place() -> None:
    assert laid(places(), 1.0, 1.25, 1.75) == [(1, 0), (1, 1), (1, 3)]


def test_a_rest_is_no_note() -> None:
    assert laid(places("1/8: R-LL"), 1.0, 1.5, 1.75) == [(1, 0), (1, 2), (1, 3)]


def test_a_blow_on_a_note_that_is_taken_is_no_note() -> None:
    assert laid(places(), 1.0, 1.06, 1.25) == [(1, 0), None, (1, 1)]


def test_before_the_playing_is_due_there_is_no_note() -> None:
    assert laid(places(), 0.5, 1.0) == [None, (1, 0)]


def test_a_player_who_is_seven_per_cent_slow_is_followed() -> None:
    slow = [1.0 + 0.25 * 1.07 * i for i in range(24)]
    assert laid(places(), *slow) == [(1 + i // 8, i % 8) for i in range(24)]


def test_without_a_grid_the_first_blow_is_the_first_note() -> None:
    assert laid(places(first_note_s=None), 3.3, 3.55) == [(1, 0), (1, 1)]


def test_without_a_grid_playing_begins_anew_after_a_stop() -> None:
    stopped = laid(places(first_note_s=None), 3.0, 3.25, 3.5, 6.1, 6.35)
    assert stopped == [(1, 0), (1, 1), (1, 2), (2, 0), (2, 1)]


def test_a_single_blow_long_before_is_not_the_first_repetition() -> None:
    assert laid(places(first_note_s=None), 0.2, 6.1, 6.35) == [(1, 0), (1, 0), (1, 1)]


def test_a_rustle_before_the_first_note_is_not_it() -> None:
    of = places(first_note_s=None)
    found = [of.place(time_s, level_db) for time_s, level_db in ((2.7, -62.0), (3.0, -20.0), (3.25, -21.0))]
    assert [p and (p.repetition, p.position) for p in found] == [(1, 0), (1, 0), (1, 1)]


@pytest.mark.parametrize("first_note_s", [1.0, None])
def test_a_grace_note_is_ahead_of_its_note_and_by_the_other_hand(first_note_s: float | None) -> None:
    of = places("1/4: lR rL", first_note_s)
    found = [of.place(time_s) for time_s in (0.97, 1.0, 1.472, 1.501)]
    said = [(p.hand, p.position, p.grace) for p in found if p is not None]
    assert said == [("L", 0, True), ("R", 0, False), ("R", 1, True), ("L", 1, False)]


def test_a_drag_has_two() -> None:
    of = places("1/4: llR rrL")
    found = [of.place(time_s) for time_s in (0.94, 0.97, 1.0)]
    assert [(p.hand, p.grace) for p in found if p is not None] == [("L", True), ("L", True), ("R", False)]


def test_a_grace_taken_for_its_note_is_mended_by_the_note_that_follows() -> None:
    """A player 30 ms late: the grace is where the note was due. The next ones are right again."""
    of = places("1/4: lR rL lR rL")
    late_s = [t + 0.5 * beat for beat in range(6) for t in (1.0, 1.03)]
    found = [of.place(time_s) for time_s in late_s]
    assert found[0] is not None
    assert (found[0].grace, found[1]) == (False, None)
    assert [p and (p.position, p.grace) for p in found[-2:]] == [(1, True), (1, False)]


def test_a_place_knows_when_the_grid_has_it() -> None:
    of = places()
    of.place(1.0)
    second = of.place(1.27)
    assert second is not None
    assert second.due_s == pytest.approx(1.25)


def test_how_far_off_a_note_is_due() -> None:
    of = places()
    of.place(1.0)
    assert of.off_due_s(1.26) == pytest.approx(0.01)
    assert of.off_due_s(1.05) == float("inf")  # that note is taken
