"""Hearing from samples to words, on short invented takes. Truth is the player's own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from evenhand.hearing.listen import NO_CLICK, listen, listen_to_blows
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.report.words.remarks import all_remarks
from evenhand.synthesis.player import SimulatedTake, TrueHit
from evenhand.take import Heard, Hit
from tests.unit.hearing.sounds import (
    EXERCISE,
    RATE_HZ,
    STEADY,
    Floats,
    bursts,
    clicks,
    evenly,
    floor_of_noise,
    heard_in,
    played,
)

FREE = replace(STEADY, follow_click=False)


def as_exercise(samples: Floats) -> Heard:
    """Hear samples as one exercise."""
    return listen(samples, RATE_HZ, exercise=parse_exercise(EXERCISE), tempo=Tempo.parse("1/4=110"))


def places(hits: Sequence[Hit | TrueHit]) -> list[tuple[object, ...]]:
    return [(h.repetition, h.position, h.hand, h.grace) for h in hits]


def agree(heard: Heard, take: SimulatedTake) -> None:
    """Check every blow's note and hand, its time to a millisecond, and that nothing was lost or added."""
    assert places(heard.hits) == places(take.truth.hits)
    assert [h.time_s for h in heard.hits] == pytest.approx([h.time_s for h in take.truth.hits], abs=1e-3)
    assert set(heard.missed) == set(take.truth.missed)
    assert len(heard.extra) == len(take.truth.extras)
    assert heard.unlike is None


TAKES: list[Any] = [
    pytest.param(EXERCISE, "1/4=110", {}, {}, id="no count-in, no click"),
    pytest.param(EXERCISE, "1/4=110", {}, {"count_in": "click", "click_db": -6.0}, id="click through"),
    pytest.param(
        EXERCISE, "1/4=110", {"follow_click": False},
        {"count_in": "click", "click_db": -6.0, "click_through": False}, id="count-in only",
    ),
    pytest.param("1/12: RLR LRL", "1/4=100", {}, {"rate_hz": 44_100}, id="triplets"),
    pytest.param("1/8: R - L 1/16: RL R-", "1/4=100", {}, {}, id="rests and values"),
    pytest.param("1/4: lR rL", "1/4=100", {"grace_db": -12.0}, {}, id="flams"),
    pytest.param(EXERCISE, "1/4=110", {"stops": ((2, 4, 1.2),)}, {}, id="a stop"),
    pytest.param(EXERCISE, "1/4=110", {"tempo_ratio": 1.15, "follow_click": False}, {}, id="15 % faster"),
    pytest.param(EXERCISE, "1/4=110", {"tempo_ratio": 0.85, "follow_click": False}, {}, id="15 % slower"),
    pytest.param("1/16: >RLRR >LRLL", "1/4=80", {}, {"dc": 0.2, "peak_db": -8.0}, id="a constant offset"),
    pytest.param("1/8: BLRL BRLR", "1/4=100", {}, {}, id="both hands at once are one hit"),
    pytest.param("1/8: R(L)R(L) L(R)L(R)", "1/4=100", {}, {}, id="ghost notes"),
    pytest.param("1/8: p RLRL f RLRL", "1/4=100", {}, {}, id="dynamics"),
    pytest.param(EXERCISE, "1/4=110", {}, {"rate_hz": 8000}, id="8 kHz"),
    pytest.param(EXERCISE, "1/4=110", {}, {"rate_hz": 96_000}, id="96 kHz"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "tempo", "player", "scene"), TAKES)
def test_every_blow_gets_its_note_its_hand_and_its_time(
    text: str, tempo: str, player: dict[str, Any], scene: dict[str, Any]
) -> None:
    take = played(text, tempo, 4, replace(STEADY, **player), **scene)
    agree(heard_in(take, text, tempo), take)


@pytest.mark.parametrize("change", [-0.06, 0.06])
def test_a_player_who_drifts_by_six_percent_is_followed(change: float) -> None:
    """Over 12 s; and the tempo told is the mean of what was played."""
    player = replace(FREE, drift_bpm_per_min=change * 110 * 60 / 12)
    take = played("1/16: RLRR LRLL", repetitions=11, player=player)
    heard = heard_in(take, "1/16: RLRR LRLL")
    agree(heard, take)
    assert heard.tempo_bpm == pytest.approx(take.truth.tempo_bpm, rel=0.01)


def test_after_a_stop_a_new_repetition_opens_at_position_0() -> None:
    """The unplayed rest of the broken one is not missed."""
    take = played(player=replace(STEADY, stops=((2, 3, 1.5),)))
    heard = heard_in(take)
    opened = next(h for h in heard.hits if h.stretch == 1)
    assert (opened.repetition, opened.position) == (3, 0)
    assert heard.missed == ()


def test_a_missed_note_is_named() -> None:
    """One note is taken out of the sound by hand: the third L of the second time through."""
    take = played(repetitions=4, player=replace(STEADY, timekeeper_sd_ms=2))
    lost = next(h for h in take.truth.hits if (h.repetition, h.position) == (2, 6))
    after = next(h for h in take.truth.hits if h.time_s > lost.time_s)
    samples = take.samples.copy()
    first, last = (round((h.time_s - 0.01) * take.rate_hz) for h in (lost, after))
    samples[first:last] = 1e-4 * np.random.default_rng(1).standard_normal(last - first)
    heard = heard_in(replace(take, samples=samples))
    assert [(m.repetition, m.position) for m in heard.missed] == [(2, 6)]
    assert len(heard.hits) == len(take.truth.hits) - 1


def test_extra_blows_are_told_as_extra_only() -> None:
    take = played(repetitions=4, player=replace(STEADY, extra_rate=0.1), seed=3)
    assert take.truth.extras
    heard = heard_in(take)
    assert places(heard.hits) == places(take.truth.hits)
    assert [x.time_s for x in heard.extra] == pytest.approx([x.time_s for x in take.truth.extras], abs=1e-3)


def test_a_click_through_the_playing_is_the_clock() -> None:
    """The hand that is 12 ms late is 12 ms later against the click."""
    late = replace(STEADY, timekeeper_sd_ms=1, late_ms={"R": 0.0, "L": 12.0})
    heard = heard_in(played(repetitions=6, player=late, count_in="click", click_db=-6.0))
    by_hand = {
        hand: np.mean([h.asynchrony_ms for h in heard.hits if h.hand == hand and h.asynchrony_ms is not None])
        for hand in "RL"
    }
    assert heard.clock == "click"
    assert by_hand["L"] - by_hand["R"] == pytest.approx(12, abs=3)


def test_a_count_in_is_told_but_is_no_clock() -> None:
    take = played(player=FREE, count_in="click", click_db=-6.0, click_through=False)
    heard = heard_in(take)
    assert heard.clock == "smooth"
    assert heard.clicks_s == pytest.approx(take.truth.clicks_s, abs=1e-3)
    assert min(h.time_s for h in heard.hits) > take.truth.clicks_s[-1] + 0.1


def test_a_click_is_not_looked_for_where_there_is_none_to_look_for() -> None:
    take = played(count_in="click", click_db=-6.0)
    heard = heard_in(take, click="none")
    assert heard.clicks_s == ()
    assert heard.clock == "smooth"


@pytest.mark.parametrize("asked", ["1/4=55", "1/4=220"])
def test_a_tempo_wrong_by_half_or_double_is_said_and_the_take_heard(asked: str) -> None:
    take = played("1/16: >RLRR >LRLL", "1/4=110", 6)
    heard = heard_in(take, "1/16: >RLRR >LRLL", asked)
    assert any(f"The tempo given was 1/4 = {asked[4:]}" in said for said in all_remarks(heard.warnings))
    assert places(heard.hits) == places(take.truth.hits)
    assert heard.tempo_bpm == pytest.approx(110, rel=0.02)


@pytest.mark.parametrize(
    ("text", "tempo"),
    [
        ("1/4: R L 1/12: RLR LRL - - R", "1/4=85"),
        ("1/8: R L - R L - R -", "1/4=100"),
        ("1/12: RLL", "1/4=97"),
    ],
)
def test_a_take_of_another_exercise_is_said_to_be_unlike_and_names_no_hands(text: str, tempo: str) -> None:
    """Its strokes are told all the same, and no more than there were.

    Even triplets might be the exercise at another tempo: then that is asked.
    """
    take = played(text, tempo, 4)
    heard = heard_in(take, "1/16: RLRR LRLL", "1/4=110")
    if heard.unlike is None:
        assert any("is it the right exercise" in said for said in all_remarks(heard.warnings))
    else:
        assert {h.hand for h in heard.hits} == {None}
    assert [h.time_s for h in heard.hits] == pytest.approx([h.time_s for h in take.truth.hits], abs=1e-3)


@pytest.mark.parametrize("start", [2, 5])
def test_a_take_begun_anywhere_is_placed_by_its_accents(start: int) -> None:
    text = "1/8: >R L R >L R L L R"
    take = played(text, repetitions=4, player=replace(STEADY, start_position=start, accent_db=12))
    heard = heard_in(take, text)
    assert places(heard.hits) == places(take.truth.hits)
    assert heard.ambiguity is None


def test_where_nothing_in_the_sound_tells_the_hands_apart_that_is_said() -> None:
    """A plain roll of single strokes begun with the left hand: nobody could tell R from L."""
    take = played("1/8: R L", "1/4=100", 12, player=replace(STEADY, start_position=1))
    heard = heard_in(take, "1/8: R L", "1/4=100")
    known = [h.hand for h in heard.hits] == [h.hand for h in take.truth.hits]
    assert (
        known
        or heard.ambiguity is not None
        or any("hands apart" in said for said in all_remarks(heard.warnings))
    )


def test_blind_hits_have_times_and_levels_and_no_hands() -> None:
    take = played()
    heard = listen(take.samples, take.rate_hz)
    assert [h.time_s for h in heard.hits] == pytest.approx([h.time_s for h in take.truth.hits], abs=1e-3)
    assert [h.level_db for h in heard.hits] == pytest.approx([h.level_db for h in take.truth.hits], abs=1.0)
    assert {h.hand for h in heard.hits} == {None}


NOTHING = {
    "silence": np.zeros(3 * RATE_HZ),
    "a constant": np.full(3 * RATE_HZ, 0.3),
    "faint noise": floor_of_noise(4.0, -60),
    "loud noise": floor_of_noise(4.0, -10),
    "clicks alone": clicks(evenly(0.31, 60 / 110, 8), 5.0) + floor_of_noise(5.0, -80),
}


@pytest.mark.parametrize("name", NOTHING)
def test_where_there_is_nothing_nothing_is_heard(name: str) -> None:
    samples = NOTHING[name].astype(np.float32)
    assert listen(samples, RATE_HZ).hits == ()
    heard = as_exercise(samples)
    assert heard.hits == ()
    assert heard.unlike is not None


def test_talk_alone_is_not_taken_for_the_exercise() -> None:
    """The player talks for 2.4 s and does not play."""
    take = played(talking=True)
    samples = take.samples[: round((take.truth.hits[0].time_s - 0.05) * take.rate_hz)]
    heard = heard_in(replace(take, samples=samples))
    assert heard.unlike is not None
    assert {h.hand for h in heard.hits} <= {None}


@pytest.mark.parametrize("seconds", [0.3, 0.5])
def test_a_take_of_a_third_of_a_second_is_heard(seconds: float) -> None:
    """One blow or two."""
    at_s = np.array([0.1, 0.24])
    samples = bursts(at_s)[: round(seconds * RATE_HZ)].astype(np.float32)
    assert [h.time_s for h in listen(samples, RATE_HZ).hits] == pytest.approx(at_s, abs=1e-3)
    heard = listen(samples, RATE_HZ, exercise=parse_exercise("1/16: RL"), tempo=Tempo.parse("1/4=110"))
    assert [(h.position, h.hand) for h in heard.hits] == [(0, "R"), (1, "L")]


@pytest.mark.parametrize("n", [1, 2, 48, 480])
def test_the_shortest_of_takes_raise_nothing(n: int) -> None:
    samples = np.full(n, 0.1, dtype=np.float32)
    assert len(listen(samples, RATE_HZ).hits) <= 1
    assert len(as_exercise(samples).hits) <= 1


def test_the_share_done_is_told_from_0_to_1() -> None:
    told: list[float] = []
    take = played(count_in="click", click_db=-6.0)
    heard_in(take, progress=told.append)
    assert told
    assert told == sorted(told)
    assert 0 <= told[0] <= told[-1] <= 1


def known(take: SimulatedTake, text: str) -> Heard:
    """Hear a take by its true blows, as from an electronic pad."""
    struck = [(h.time_s, h.level_db) for h in take.truth.hits]
    blows = sorted(struck + [(x.time_s, x.level_db) for x in take.truth.extras])
    times, levels = (np.array(column) for column in zip(*blows, strict=True))
    return listen_to_blows(times, levels, exercise=parse_exercise(text), tempo=Tempo.parse("1/4=110"))


@pytest.mark.parametrize(
    ("text", "player"),
    [
        ("1/16: RLRR LRLL", {}),
        ("1/4: lR rL", {}),
        ("1/4: llR rrL", {"grace_gap_ms": 25.0}),
        ("1/16: >RLRR >LRLL", {"miss_rate": 0.05}),
        ("1/8: RLRR LRLL", {"extra_rate": 0.05}),
        ("1/8: RLRR LRLL", {"stops": ((3, 4, 1.3),)}),
        ("1/8: RLRR LRLL", {"tempo_ratio": 0.87, "follow_click": False}),
    ],
)
def test_known_blows_are_told_as_they_were(text: str, player: dict[str, Any]) -> None:
    """Every time and level exactly; every note, hand, miss and extra."""
    take = played(text, repetitions=6, player=replace(STEADY, **player))
    heard = known(take, text)
    assert places(heard.hits) == places(take.truth.hits)
    assert [(h.time_s, h.level_db) for h in heard.hits] == [(h.time_s, h.level_db) for h in take.truth.hits]
    assert set(heard.missed) == set(take.truth.missed)
    assert heard.extra == take.truth.extras


def test_known_blows_without_an_exercise_have_no_hands() -> None:
    heard = listen_to_blows(np.array([1.0, 2.0]), np.array([-6.0, -9.0]))
    assert [(h.time_s, h.level_db, h.hand) for h in heard.hits] == [(1.0, -6.0, None), (2.0, -9.0, None)]


def test_no_known_blows_are_no_hits() -> None:
    nothing = np.zeros(0)
    assert listen_to_blows(nothing, nothing).hits == ()
    exercise, tempo = parse_exercise(EXERCISE), Tempo.parse("1/4=110")
    assert listen_to_blows(nothing, nothing, exercise=exercise, tempo=tempo).unlike is not None


def test_a_click_that_was_said_to_be_heard_and_is_not_found_is_said() -> None:
    take = played("1/8: RLRR LRLL", "1/4=110", 3)
    exercise, tempo = parse_exercise("1/8: RLRR LRLL"), Tempo.parse("1/4=110")
    said = listen(take.samples, take.rate_hz, exercise=exercise, tempo=tempo, click="heard")
    unasked = listen(take.samples, take.rate_hz, exercise=exercise, tempo=tempo)
    assert NO_CLICK in said.warnings
    assert NO_CLICK not in unasked.warnings
