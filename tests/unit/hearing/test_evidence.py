"""What candidates say apart from their times: which way each thing tells, never by how much."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from evenhand.hearing.alignment.costs import beat_costs, extra_costs, match_costs, start_costs
from evenhand.hearing.clicks.sound import HeardClick
from evenhand.hearing.onsets.bands import band_energies, novelty, peak_frames
from evenhand.hearing.onsets.candidates import (
    Candidates,
    before_another,
    echoes,
    gather,
    strangeness,
    within_reach,
)
from tests.unit.hearing.sounds import RATE_HZ, bursts, candidates_at, evenly, score_of

SCORE = score_of("1/8: R L R L", "1/4=120")
FLAMS = score_of("1/4: lR rL", "1/4=120")


def a_click(*, through: bool) -> HeardClick:
    """Give four clicks, half a second apart, the last at 2 s."""
    return HeardClick(
        times_s=np.array([0.5, 1.0, 1.5, 2.0]),
        gains=np.ones(4),
        kinds=np.zeros(4, dtype=np.intp),
        sounds=np.zeros((1, 100), dtype=np.float32),
        begins_s=0.0,
        first_s=0.5,
        beat_s=0.5,
        level_db=-20.0,
        through=through,
    )


def test_bursts_are_gathered_with_their_times_and_levels() -> None:
    """12 dB between them by construction; times to 2 ms, rough as they are."""
    at_s = evenly(0.5, 0.2, 16)
    energies = band_energies(bursts(at_s, np.where(np.arange(16) % 2, -24.0, -12.0)), RATE_HZ)
    heard = novelty(energies)
    found = gather(energies, heard, peak_frames(heard))
    clear = found.only(found.strength > 4.2)
    assert (np.diff(found.times_s) >= 0).all()
    near = np.abs(clear.times_s[:, None] - at_s).argmin(axis=0)
    np.testing.assert_allclose(clear.times_s[near], at_s, atol=0.002)
    apart = clear.level_db[near[::2]].mean() - clear.level_db[near[1::2]].mean()
    assert 10 < apart < 14
    np.testing.assert_allclose(found.colour.mean(axis=1), 0, atol=1e-9)


def test_what_lies_forty_decibels_under_the_loud_ones_is_out_of_reach() -> None:
    found = candidates_at(np.arange(10.0), level_db=np.array([-10.0] * 8 + [-45.0, -55.0]))
    assert within_reach(found).tolist() == [True] * 9 + [False]


def test_where_little_is_clear_all_is_within_reach() -> None:
    found = candidates_at([1.0, 2.0, 3.0], strength=3.0, level_db=np.array([-10.0, -40.0, -90.0]))
    assert within_reach(found).all()


def test_a_drums_own_body_right_after_a_louder_blow_is_an_echo() -> None:
    found = candidates_at(
        [1.0, 1.015, 1.2, 1.5, 1.515],
        strength=np.array([9.0, 4.0, 9.0, 4.0, 9.0]),
        level_db=np.array([-10.0, -20.0, -10.0, -20.0, -10.0]),
    )
    assert echoes(found).tolist() == [False, True, False, False, False]


def test_a_grace_note_stands_just_ahead_of_a_louder_blow() -> None:
    found = candidates_at([1.0, 1.03, 1.5, 1.8], level_db=np.array([-30.0, -12.0, -30.0, -12.0]))
    assert before_another(found).tolist() == [True, False, False, False]


def counted_then_played() -> Candidates:
    """Give four sounds of another colour, then forty of one colour."""
    colour = np.tile([3.0, 1.0, 0.0, -1.0, -3.0], (44, 1))
    colour[:4] = [-9.0, -3.0, 0.0, 3.0, 9.0]
    return candidates_at(evenly(0.0, 0.25, 44), colour=colour)


def test_what_never_sounds_again_is_unlike_the_rest() -> None:
    strange = strangeness(counted_then_played())
    assert (strange[:4] > 0.9).all()
    assert (strange[4:] < 0.1).all()


def test_with_few_clear_sounds_nothing_is_unlike() -> None:
    assert not strangeness(candidates_at([1.0, 2.0, 3.0])).any()


def test_leaving_out_a_clear_blow_costs_more_than_a_faint_one_an_echo_or_a_stranger() -> None:
    found = candidates_at(
        [1.0, 2.0, 3.0, 3.015],
        strength=np.array([8.0, 2.5, 8.0, 6.0]),
        level_db=np.array([-12.0, -12.0, -12.0, -20.0]),
    )
    clear, faint, _, echo = extra_costs(found, SCORE, np.zeros(4)).tolist()
    stranger = extra_costs(found, SCORE, np.ones(4))[0]
    assert clear > max(faint, echo, stranger)
    assert min(faint, echo, stranger) > 0


def test_a_blow_ahead_of_another_is_free_to_be_a_grace_only_where_graces_are_written() -> None:
    found = candidates_at([1.0, 1.03], level_db=np.array([-30.0, -12.0]))
    plain, flams = (extra_costs(found, score, np.zeros(2)) for score in (SCORE, FLAMS))
    assert flams[0] < plain[0]
    assert flams[1] == plain[1]
    plain, flams = (match_costs(found, score, np.zeros(2)) for score in (SCORE, FLAMS))
    assert (flams[0] > plain[0].max()).all()


def test_a_faint_candidate_or_a_strange_one_is_dear_to_take_for_a_note() -> None:
    found = candidates_at([1.0, 2.0, 3.0], strength=np.array([8.0, 2.4, 8.0]))
    cost = match_costs(found, SCORE, np.array([0.0, 0.0, 1.0]))
    assert (cost[0] == 0).all()
    assert (cost[1:] > 0).all()


def test_loud_blows_lean_to_the_accents() -> None:
    score = score_of("1/8: >R L R L")
    found = candidates_at(np.arange(16.0), level_db=np.where(np.arange(16) % 4 == 0, -10.0, -22.0))
    cost = match_costs(found, score, np.zeros(16))
    assert cost[0, 0] < cost[0, 1]
    assert cost[1, 1] < cost[1, 0]
    even = match_costs(replace(found, level_db=np.full(16, -10.0)), score, np.zeros(16))
    assert not even.any()


def test_after_a_count_in_the_top_is_due_on_the_next_beat() -> None:
    """By hand: four clicks to 2 s, a beat of 0.5 s: note 0 at 2.5 s, note 1 (an eighth on) at 2.75."""
    found = candidates_at([1.25, 2.5, 2.75, 4.0])
    cost = start_costs(found, SCORE, a_click(through=False))
    assert cost[1, 0] == cost[2, 1] == 0
    assert min(cost[1, 2], cost[3, 0], cost[2, 3]) > 0
    assert cost[0].min() > cost[3].min() > 0


def test_a_click_that_goes_on_puts_the_top_a_usual_count_after_its_first() -> None:
    """By hand: the first click at .5 s, four beats of .5 s on is 2.5 s; three are no usual count."""
    cost = start_costs(candidates_at([2.0, 2.5, 2.75]), SCORE, a_click(through=True))
    assert cost[1, 0] == cost[2, 1] == 0
    assert 0 < cost[0, 0] < cost[2, 0]


def test_a_click_through_the_playing_says_where_in_the_beat_a_note_stands() -> None:
    found = candidates_at([2.5, 2.75])
    cost = beat_costs(found, SCORE, a_click(through=True))
    np.testing.assert_allclose(cost[0, [0, 2]], 0, atol=1e-9)
    np.testing.assert_allclose(cost[1, [1, 3]], 0, atol=1e-9)
    assert min(cost[0, 1], cost[1, 0]) > 0.1
    assert not beat_costs(found, SCORE, a_click(through=False)).any()


def test_candidates_are_moved_joined_and_picked() -> None:
    found = candidates_at([1.0, 2.0])
    both = Candidates.joined([found, found.moved(3.0)])
    assert both.times_s.tolist() == [1.0, 2.0, 4.0, 5.0]
    assert both.only(np.array([3, 0])).times_s.tolist() == [5.0, 1.0]
    assert len(both) == 4
