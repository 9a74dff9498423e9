"""Laws of hearing a take while it is played: the end is the file's, nothing is told twice or too early."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from evenhand.hearing.listen import listen
from evenhand.hearing.live.ear import LiveEar, LiveHit
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Room, Scene
from evenhand.synthesis.player import SimulatedTake, simulate
from evenhand.synthesis.playing import Player
from evenhand.take import Heard
from tests.depth import share

FEW = share(0.04)
SIZES = (64, 128, 333, 512, 1024, 4096, 50_000)


class Case(NamedTuple):
    """A kind of take: what is asked, and where it is recorded."""

    text: str
    tempo: str
    repetitions: int
    scene: Scene


CASES = (
    Case("1/16: >RLRR >LRLL", "1/4=110", 2, Scene(noise_snr_db=40, count_in="none", tail_s=0.3)),
    Case(
        "1/8: lR rL",
        "1/4=140",
        3,
        Scene(noise_snr_db=35, instrument="snare", room=Room(), click_db=0.0, tail_s=0.3),
    ),
    Case("1/16: RRLL", "1/4=200", 6, Scene(rate_hz=44_100, count_in="none", tail_s=0.3)),
)
cases = st.sampled_from(CASES)
blocks = st.lists(st.sampled_from(SIZES), min_size=1, max_size=12)


@lru_cache
def played(case: Case) -> SimulatedTake:
    exercise, tempo = asked(case)
    return simulate(exercise, tempo, case.repetitions, player=Player(), scene=case.scene, seed=5)


@lru_cache
def from_the_file(case: Case) -> Heard:
    take = played(case)
    exercise, tempo = asked(case)
    return listen(take.samples, take.rate_hz, exercise=exercise, tempo=tempo)


def asked(case: Case) -> tuple[Exercise, Tempo]:
    return parse_exercise(case.text), Tempo.parse(case.tempo)


def live(case: Case, sizes: list[int], gain: float = 1.0) -> tuple[LiveEar, list[tuple[float, LiveHit]]]:
    """Feed a take in blocks of these sizes over and over; give each hit and when it was told."""
    take = played(case)
    exercise, tempo = asked(case)
    ear = LiveEar(take.rate_hz, exercise=exercise, tempo=tempo, click_s=take.truth.clicks_s)
    told: list[tuple[float, LiveHit]] = []
    at = turn = 0
    while at < len(take.samples):
        block = take.samples[at : at + sizes[turn % len(sizes)]] * np.float32(gain)
        hits = ear.feed(block)
        told += [(ear.seconds, hit) for hit in hits]
        at, turn = at + len(block), turn + 1
    return ear, told


@share(0.06)
@given(cases, blocks)
def test_the_end_is_the_files_whatever_the_blocks(case: Case, sizes: list[int]) -> None:
    """All that is heard, bit for bit."""
    ear, _ = live(case, sizes)
    assert ear.finish() == from_the_file(case)


@FEW
@given(cases, blocks)
def test_nothing_is_told_twice_or_before_it_sounds(case: Case, sizes: list[int]) -> None:
    _, told = live(case, sizes)
    times_s = np.sort([hit.time_s for _, hit in told])
    assert np.diff(times_s).min() > 0.006
    assert all(hit.time_s + 0.008 < now_s for now_s, hit in told)
    notes = [(h.repetition, h.position) for _, h in told if h.hand is not None and not h.grace]
    assert len(notes) == len(set(notes))


def test_what_is_told_at_once_is_what_is_told_at_the_end() -> None:
    """Nearly: within 10 ms, and over all of these takes, no more than one blow in twenty is lost or added."""
    lost = added = total = 0
    for case in CASES:
        final_s = np.array([hit.time_s for hit in from_the_file(case).hits])
        live_s = np.array([hit.time_s for _, hit in live(case, [512])[1]])
        near = np.abs(final_s[:, None] - live_s[None, :]) < 0.010
        lost += int((~near.any(axis=1)).sum())
        added += int((~near.any(axis=0)).sum())
        total += len(final_s)
    assert total > 50
    assert max(lost, added) <= 0.05 * total


@FEW
@given(cases, st.sampled_from([0.5, 0.25]))
def test_a_softer_recording_is_told_the_same_but_softer(case: Case, gain: float) -> None:
    loud, soft = (live(case, [512], by)[1] for by in (1.0, gain))
    assert [(h.hand, h.repetition, h.position) for _, h in soft] == [
        (h.hand, h.repetition, h.position) for _, h in loud
    ]
    fall_db = [b.level_db - a.level_db for (_, a), (_, b) in zip(loud, soft, strict=True)]
    np.testing.assert_allclose(fall_db, 20 * np.log10(gain), atol=0.01)
