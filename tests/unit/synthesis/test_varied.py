"""The varied generator: every case there, every exercise readable, the same for a seed."""

from __future__ import annotations

from itertools import islice

import numpy as np

from benchmarks.varied import CASES, VariedTake, varied_takes
from evenhand.music.text import parse_exercise
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import perform

MANY = list(varied_takes(8 * len(CASES), 11))


def of_case(name: str) -> list[VariedTake]:
    return [take for take in MANY if take.name[5:] == name]


def test_every_case_comes_in_turn() -> None:
    assert [take.name[5:] for take in MANY[: len(CASES)]] == list(CASES)


def test_the_same_seed_gives_the_same_takes_however_many() -> None:
    assert list(varied_takes(5, 11)) == MANY[:5]
    assert list(islice(varied_takes(100, 12), 5)) != MANY[:5]


def test_every_take_can_be_read_and_played() -> None:
    for take in MANY:
        exercise = parse_exercise(take.exercise)
        asked = (exercise, take.tempo, take.repetitions, take.player)
        performance = perform(*asked, first_s=1.0, follows=False, rng=np.random.default_rng(0))
        assert len(performance.blows) >= 8, take.name
        assert performance.end_s < 60, take.name


def test_exercises_are_of_many_kinds() -> None:
    notes = [len(parse_exercise(take.exercise).notes) for take in MANY]
    texts = " ".join(take.exercise for take in MANY)
    assert min(notes) == 4
    assert max(notes) == 64
    assert all(mark in texts for mark in (">", "-", "~", "lR", "llR", "1/12:", "1/16:", "1/32:"))


def test_what_the_cases_promise() -> None:
    assert all(
        take.scene.noise_snr_db is not None and take.scene.noise_snr_db < 22 for take in of_case("noisy")
    )
    assert all(len(take.player.stops) == 2 for take in of_case("two-stops"))
    assert all(take.player.start_position > 0 for take in of_case("begun-anywhere"))
    assert all(0.05 <= abs(take.player.tempo_ratio - 1) <= 0.15 for take in of_case("tempo-off"))
    assert all(take.player.accent_db >= 17 for take in of_case("soft-taps"))
    assert all(15 <= take.player.grace_gap_ms <= 60 for take in of_case("flams") + of_case("drags"))
    assert all(take.scene.clip_db for take in of_case("clipped"))


def test_fast_rolls_come_near_twenty_strokes_a_second() -> None:
    for take in of_case("fast-rolls"):
        assert 16 < 32 / take.tempo.whole_note_s < 21


def test_stops_take_effect() -> None:
    for take in of_case("two-stops")[:2]:
        truth = simulate(
            parse_exercise(take.exercise), take.tempo, take.repetitions, player=take.player, scene=take.scene
        ).truth
        assert truth.stretches == 3
