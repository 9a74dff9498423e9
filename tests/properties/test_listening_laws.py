"""Laws of hearing that hold whatever was played: silence before, gain, and which hand is called right."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.hearing.listen import listen, listen_to_blows
from evenhand.hearing.onsets.bands import FRAME_HZ
from evenhand.music.exercise import Exercise, Tempo, other_hand
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import CountIn, Scene
from evenhand.synthesis.player import SimulatedTake, simulate
from evenhand.synthesis.playing import Player
from evenhand.take import Heard
from tests.depth import share

TEMPO = Tempo.parse("1/4=110")
TEXTS = ("1/16: >RLRR >LRLL", "1/8: lR L rL R", "1/12: R - L RRL")
FEW = share(0.06)

texts = st.sampled_from(TEXTS)
seeds = st.integers(1, 3)


@lru_cache
def played(text: str, seed: int) -> SimulatedTake:
    """Give a take of 4 s or so with a faint noise, and digital silence before it."""
    scene = Scene(noise_snr_db=45, count_in="none", lead_in_s=0.5, tail_s=0.4)
    player = Player(timekeeper_sd_ms=4, accent_db=10)
    repetitions = 4 if text.startswith("1/16") else 3
    return simulate(parse_exercise(text), TEMPO, repetitions, player=player, scene=scene, seed=seed)


@lru_cache
def heard(text: str, seed: int) -> Heard:
    take = played(text, seed)
    return listen(take.samples, take.rate_hz, exercise=parse_exercise(text), tempo=TEMPO)


def places(of: Heard) -> list[tuple[object, ...]]:
    return [(h.hand, h.repetition, h.position, h.grace) for h in of.hits]


def mirrored(exercise: Exercise) -> Exercise:
    """Return the exercise with every hand changed for the other."""
    notes = tuple(
        replace(
            note,
            hand=None if note.hand is None else other_hand(note.hand),
            graces=tuple(other_hand(hand) for hand in note.graces),
        )
        for note in exercise.notes
    )
    return replace(exercise, notes=notes)


@FEW
@given(texts, seeds, st.integers(1, 4000))
def test_silence_before_the_take_moves_every_hit_by_its_length(text: str, seed: int, frames: int) -> None:
    """By whole frames, to a thousandth of a millisecond."""
    take, before = played(text, seed), heard(text, seed)
    ahead = np.zeros(frames * take.rate_hz // FRAME_HZ, dtype=np.float32)
    after = listen(
        np.concatenate([ahead, take.samples]), take.rate_hz, exercise=parse_exercise(text), tempo=TEMPO
    )
    assert places(after) == places(before)
    moved = [h.time_s + frames / FRAME_HZ for h in before.hits]
    assert [h.time_s for h in after.hits] == pytest.approx(moved, abs=1e-4)
    assert [h.level_db for h in after.hits] == pytest.approx([h.level_db for h in before.hits], abs=0.1)


@FEW
@given(texts, seeds, st.floats(-34, 20))
def test_gain_moves_levels_and_nothing_else(text: str, seed: int, gain_db: float) -> None:
    take, before = played(text, seed), heard(text, seed)
    samples = take.samples * np.float32(10 ** (gain_db / 20))
    after = listen(samples, take.rate_hz, exercise=parse_exercise(text), tempo=TEMPO)
    assert places(after) == places(before)
    assert [h.time_s for h in after.hits] == pytest.approx([h.time_s for h in before.hits], abs=1e-4)
    raised = [h.level_db + gain_db for h in before.hits]
    assert [h.level_db for h in after.hits] == pytest.approx(raised, abs=0.01)


@FEW
@given(texts, seeds)
def test_a_mirrored_exercise_swaps_the_hands_and_nothing_else(text: str, seed: int) -> None:
    take, before = played(text, seed), heard(text, seed)
    after = listen(take.samples, take.rate_hz, exercise=mirrored(parse_exercise(text)), tempo=TEMPO)
    assert [replace(h, hand=None) for h in after.hits] == [replace(h, hand=None) for h in before.hits]
    assert [h.hand for h in after.hits] == [other_hand(h.hand) for h in before.hits if h.hand]
    assert (after.missed, after.extra) == (before.missed, before.extra)


@share(0.25)
@given(
    st.lists(st.tuples(st.floats(0.02, 3), st.floats(-40, 0)), max_size=40),
    st.none() | st.sampled_from(TEXTS),
)
def test_every_known_blow_is_told_once(blows: list[tuple[float, float]], text: str | None) -> None:
    """Hits found = hits on notes + extra, whatever was struck: none invented, doubled, moved or dropped."""
    times, levels = np.cumsum([apart for apart, _ in blows]), np.array([level for _, level in blows])
    asked = None if text is None else parse_exercise(text)
    told = listen_to_blows(times, levels, exercise=asked, tempo=None if asked is None else TEMPO)
    pairs = [(h.time_s, h.level_db) for h in told.hits] + [(x.time_s, x.level_db) for x in told.extra]
    assert sorted(pairs) == sorted(zip(times.tolist(), levels.tolist(), strict=True))


@FEW
@given(texts, seeds, st.sampled_from([0.0, -8.0]), st.sampled_from(["none", "sticks"]))
def test_hits_found_are_those_on_notes_and_the_extra_ones(
    text: str, seed: int, first_db: float, counted: CountIn
) -> None:
    """What is found without the exercise is found with it: on a note, or extra with its reason."""
    scene = Scene(noise_snr_db=40, count_in=counted, lead_in_s=0.5, tail_s=0.4)
    player = Player(timekeeper_sd_ms=4, accent_db=10, first_db=first_db)
    take = simulate(parse_exercise(text), TEMPO, 3, player=player, scene=scene, seed=seed)
    found = listen(take.samples, take.rate_hz)
    heard = listen(take.samples, take.rate_hz, exercise=parse_exercise(text), tempo=TEMPO)
    kept = np.array([h.time_s for h in heard.hits] + [x.time_s for x in heard.extra])
    for hit in found.hits:
        assert np.abs(kept - hit.time_s).min() < 0.012, hit
    struck = [h.time_s for h in take.truth.hits if not h.grace] + list(take.truth.count_in_s)
    for time_s in struck:
        assert np.abs(kept - time_s).min() < 0.012, time_s
