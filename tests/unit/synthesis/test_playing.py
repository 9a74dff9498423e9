"""How the invented player plays, before anything sounds."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from evenhand.errors import WrongUse
from evenhand.music.exercise import Exercise, Note, Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.playing import Blow, Performance, Player, perform

EXACT = Player(
    timekeeper_sd_ms=0,
    hand_sd_ms={"R": 0, "L": 0},
    level_sd_db=0,
    grace_gap_sd_ms=0,
    follow_click=False,
)


def played(
    text: str,
    player: Player = EXACT,
    repetitions: int = 1,
    tempo: str = "1/8=120",
    *,
    follows: bool = False,
    seed: int = 0,
) -> Performance:
    rng = np.random.default_rng(seed)
    exercise = parse_exercise(text)
    return perform(exercise, Tempo.parse(tempo), repetitions, player, first_s=1.0, follows=follows, rng=rng)


def times(blows: tuple[Blow, ...]) -> list[float]:
    return [round(blow.time_s, 6) for blow in blows]


def places(blows: tuple[Blow, ...]) -> list[tuple[int, int]]:
    return [(blow.repetition, blow.position) for blow in blows]


def test_an_exact_player_plays_what_is_written() -> None:
    """By hand: 1/8 = 120 is half a second an eighth; the rest is a position of its own."""
    blows = played("1/8: RL-R 1/16: LL", repetitions=2).blows
    assert times(blows[:5]) == [1.0, 1.5, 2.5, 3.0, 3.25]
    assert times(blows[5:6]) == [3.5]
    assert places(blows)[:6] == [(1, 0), (1, 1), (1, 3), (1, 4), (1, 5), (2, 0)]
    assert "".join(blow.hand for blow in blows[:5]) == "RLRLL"


def test_late_hands_and_second_notes_move_by_their_milliseconds() -> None:
    player = replace(EXACT, late_ms={"R": -2, "L": 8}, second_late_ms=5)
    assert times(played("1/8: RRLL", player).blows) == [0.998, 1.503, 2.008, 2.513]


def test_every_second_note_of_a_pair_is_weaker() -> None:
    """A run of four by one hand holds two pairs; a rest parts a pair."""
    player = replace(EXACT, second_db=-4)
    levels = [blow.level_db for blow in played("1/8: RRRR L-L R", player, repetitions=2).blows]
    assert levels == [0, -4, 0, -4, 0, 0, 0, -4, 0, -4, 0, 0, 0, 0]


def test_taps_lie_below_accents_by_the_accent() -> None:
    levels = [blow.level_db for blow in played("1/8: >RL", replace(EXACT, accent_db=12)).blows]
    assert levels == [0, -12]


def test_a_weak_hand_is_weaker() -> None:
    levels = [blow.level_db for blow in played("1/8: RL", replace(EXACT, level_db={"R": 0, "L": -3})).blows]
    assert levels == [0, -3]


def test_tempo_ratio_is_how_much_faster() -> None:
    assert times(played("1/8: RL", replace(EXACT, tempo_ratio=1.25)).blows) == [1.0, 1.4]


def test_drift_is_in_beats_a_minute_each_minute() -> None:
    """By hand: 120 bpm and 6 a minute is 126 after a minute, give or take one beat's drift."""
    curve = played("1/8: RL", replace(EXACT, drift_bpm_per_min=6), repetitions=70).tempo_curve
    after = next(bpm for time_s, bpm in curve if time_s >= 61.0)
    assert after == pytest.approx(126, abs=0.06)


def test_drift_ends_somewhere() -> None:
    curve = played("1/8: RL", replace(EXACT, drift_bpm_per_min=-2000), repetitions=10).tempo_curve
    assert min(bpm for _, bpm in curve) == pytest.approx(0.3 * 120)


def test_fatigue_takes_level_and_adds_spread() -> None:
    tired = replace(EXACT, hand_sd_ms={"R": 4, "L": 4}, fatigue_spread=3, fatigue_db=6)
    blows = played("1/8: RL", tired, repetitions=500).blows
    assert blows[-1].level_db == pytest.approx(-6, abs=0.01)
    off = np.array([blow.time_s for blow in blows]) - 1 - 0.5 * np.arange(1000)
    first, last = np.std(off[:200]), np.std(off[-200:])
    assert last / first == pytest.approx(2.8 / 1.2, rel=0.25)  # growth 1 to 1.4 against 2.6 to 3


def test_graces_come_ahead_in_the_other_hand_and_weaker() -> None:
    blows = played("1/8: R llR", replace(EXACT, grace_gap_ms=25, grace_db=-14)).blows
    assert times(blows) == [1.0, 1.45, 1.475, 1.5]
    assert [blow.hand for blow in blows] == ["R", "L", "L", "R"]
    assert [blow.kind for blow in blows] == ["note", "grace", "grace", "note"]
    assert [blow.level_db for blow in blows] == [0, -14, -14, 0]
    assert places(blows) == [(1, 0), (1, 1), (1, 1), (1, 1)]


def test_a_buzz_bounces_on_weaker_and_weaker_within_its_length() -> None:
    bounces = [blow for blow in played("1/8: R~L").blows if blow.kind == "bounce"]
    assert 4 <= len(bounces) <= 7
    assert all(1.02 < blow.time_s < 1.4 for blow in bounces)
    assert [blow.level_db for blow in bounces] == sorted((b.level_db for b in bounces), reverse=True)
    gaps = np.diff([1.0, *(blow.time_s for blow in bounces)])
    assert np.all((gaps > 0.020) & (gaps < 0.035))


def test_a_short_buzz_has_few_bounces() -> None:
    bounces = [b for b in played("1/16: R~L", tempo="1/4=150").blows if b.kind == "bounce"]
    assert len(bounces) <= 3


def test_a_stop_breaks_off_waits_and_opens_a_new_repetition() -> None:
    """By hand: 3 of 4 notes at half a second, then a pause of 2 s from where the fourth was due."""
    performance = played("1/8: RLRR", replace(EXACT, stops=((1, 3, 2.0),)))
    assert places(performance.blows) == [(1, 0), (1, 1), (1, 2), (2, 0), (2, 1), (2, 2), (2, 3)]
    assert times(performance.blows)[3] == 4.5
    assert performance.missed == ()
    assert performance.stretches == 2


def test_after_a_stop_a_player_with_a_click_is_in_on_a_beat() -> None:
    """By hand: quarters at 60, sixteenths; broken off at 1.75 s; 0.9 s later is 2.65, next beat at 3."""
    player = replace(EXACT, stops=((1, 3, 0.9),))
    blows = played("1/16: RLRL", player, tempo="1/4=60", follows=True).blows
    assert times(blows)[2:4] == [1.5, 3.0]


def test_a_player_may_begin_anywhere() -> None:
    blows = played("1/8: RLRR", replace(EXACT, start_position=2), repetitions=2).blows
    assert places(blows) == [(1, 2), (1, 3), (2, 0), (2, 1), (2, 2), (2, 3)]
    assert times(blows)[0] == 1.0


def test_notes_are_left_out_at_the_rate_and_told() -> None:
    performance = played("1/8: RL lR L", replace(EXACT, miss_rate=0.1), repetitions=500)
    missed = [blow for blow in performance.missed if blow.kind == "note"]
    assert len(missed) == pytest.approx(200, abs=4 * np.sqrt(2000 * 0.1 * 0.9))
    assert set(places(performance.missed)).isdisjoint(places(performance.blows))
    graces = {(b.repetition, b.position) for b in performance.missed if b.kind == "grace"}
    assert graces == {place for place in places(tuple(missed)) if place[1] == 2}


def test_the_first_and_the_last_note_of_a_stretch_are_never_left_out() -> None:
    player = replace(EXACT, miss_rate=1.0, stops=((1, 3, 1.0),))
    assert places(played("1/8: RLRL", player).blows) == [(1, 0), (1, 2), (2, 0), (2, 3)]


def test_extras_fall_between_notes_and_are_told_apart() -> None:
    performance = played("1/8: RL", replace(EXACT, extra_rate=0.2), repetitions=500)
    extras = [blow for blow in performance.blows if blow.kind == "extra"]
    assert len(extras) == pytest.approx(200, abs=4 * np.sqrt(1000 * 0.2 * 0.8))
    inside = [(blow.time_s % 0.5) / 0.5 for blow in extras]
    assert min(inside) >= 0.35 - 1e-6
    assert max(inside) <= 0.65 + 1e-6


def test_an_exercise_of_rests_cannot_be_played() -> None:
    rests = Exercise((Note(None, Fraction(1, 8)),))
    rng = np.random.default_rng(0)
    with pytest.raises(WrongUse, match="exercise: got no notes"):
        perform(rests, Tempo(Fraction(1, 8), 120), 1, EXACT, first_s=0, follows=False, rng=rng)


def test_following_a_click_keeps_near_it_and_a_free_clock_walks_off() -> None:
    loose = replace(EXACT, timekeeper_sd_ms=10)
    due = 1 + 0.5 * np.arange(2000)
    followed = np.array(times(played("1/8: RL", loose, repetitions=1000, follows=True).blows)) - due
    free = np.array(times(played("1/8: RL", loose, repetitions=1000).blows)) - due
    # First-order correction a: spread sd / sqrt(1 - (1 - a)^2) (Vorberg & Wing 1996, from memory; an AR(1)).
    assert np.std(followed) == pytest.approx(0.010 / np.sqrt(1 - 0.75**2), rel=0.1)
    assert np.std(free) > 5 * np.std(followed)


@pytest.mark.parametrize(
    ("text", "repetitions", "player", "says"),
    [
        ("1/8: RL", 0, EXACT, "repetitions: got 0"),
        ("1/8: RL", 1, replace(EXACT, stops=((0, 1, 1.0),)), "stops: got repetition 0"),
        ("1/8: RL", 1, replace(EXACT, start_position=2), "start_position: got 2; must be 0 to 1"),
        ("1/8: RL", 1, replace(EXACT, stops=((1, 0, 1.0),)), "stops: got repetition 1, position 0"),
        ("1/8: RLR", 1, replace(EXACT, start_position=1, stops=((1, 1, 1.0),)), "from 2 to 2"),
        ("1/8: RL", 1, replace(EXACT, stops=((1, 1, -1.0),)), "no negative pause"),
    ],
)
def test_what_cannot_be_played_is_refused(text: str, repetitions: int, player: Player, says: str) -> None:
    with pytest.raises(WrongUse, match=says):
        played(text, player, repetitions)
