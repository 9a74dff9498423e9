"""Laws of hearing: what must be so whatever the figures are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.click import RATE_HZ, SITUATIONS, cases, take_of
from evenhand.hearing.listen import listen
from evenhand.music.exercise import Exercise, Tempo, other_hand
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Room, Scene
from evenhand.synthesis.player import SimulatedTake, simulate
from evenhand.synthesis.playing import Player
from evenhand.take import Heard

Take = tuple[Exercise, SimulatedTake, Heard]

TEMPO = Tempo.parse("1/4=110")
EXERCISES = ("1/16: >RLRR >LRLL", "1/8: lR rL lR L R L", "1/12: RLR LRL RRL")


@pytest.fixture(scope="module", params=EXERCISES)
def take(request: pytest.FixtureRequest) -> Take:
    """Give a take in a room, with noise and a click through the playing, and what is heard of it."""
    exercise = parse_exercise(request.param)
    scene = Scene(noise_snr_db=35, room=Room(0.3, -14), click_db=-8, lead_in_s=1.0)
    played = simulate(exercise, TEMPO, 8, player=Player(timekeeper_sd_ms=4), scene=scene, seed=11)
    return exercise, played, hear(exercise, played.samples, played.rate_hz)


def hear(exercise: Exercise, samples: np.ndarray[tuple[int], np.dtype[np.float32]], rate_hz: int) -> Heard:
    return listen(samples, rate_hz, exercise=exercise, tempo=TEMPO)


def places(heard: Heard) -> list[tuple[int | None, int | None, bool]]:
    return [(h.repetition, h.position, h.grace) for h in heard.hits]


def test_the_same_sound_is_heard_the_same(take: Take) -> None:
    exercise, played, before = take
    assert hear(exercise, played.samples.copy(), played.rate_hz) == before


@pytest.mark.parametrize(("cut", "usual_ms", "worst_ms"), [(4800, 0.005, 0.03), (12_347, 0.1, 1.0)])
def test_when_the_recording_begins_later_every_hit_comes_earlier(
    take: Take, cut: int, usual_ms: float, worst_ms: float
) -> None:
    """By whole frames: the same, but where an onset is just plain. Else: within the timing's scatter."""
    exercise, played, before = take
    after = hear(exercise, played.samples[cut:], played.rate_hz)
    assert places(after) == places(before)
    both = list(zip(before.hits, after.hits, strict=True))
    off_ms = [1000 * abs(b.time_s - cut / played.rate_hz - a.time_s) for b, a in both]
    assert np.median(off_ms) < usual_ms
    assert np.max(off_ms) < worst_ms
    assert max(abs(b.level_db - a.level_db) for b, a in both) < 1.0


@pytest.mark.parametrize("gain", [0.05, 2.0])
def test_louder_is_louder_and_nothing_else(take: Take, gain: float) -> None:
    exercise, played, before = take
    after = hear(exercise, np.float32(gain) * played.samples, played.rate_hz)
    assert places(after) == places(before)
    assert [h.time_s for h in after.hits] == pytest.approx([h.time_s for h in before.hits], abs=1e-6)
    raised = [h.level_db + 20 * np.log10(gain) for h in before.hits]
    assert [h.level_db for h in after.hits] == pytest.approx(raised, abs=0.01)


def test_polarity_is_not_heard(take: Take) -> None:
    exercise, played, before = take
    after = hear(exercise, -played.samples, played.rate_hz)
    assert places(after) == places(before)
    assert [h.time_s for h in after.hits] == pytest.approx([h.time_s for h in before.hits], abs=1e-6)


def test_mirrored_sticking_swaps_the_hands_and_moves_nothing(take: Take) -> None:
    exercise, played, before = take
    mirrored = replace(
        exercise,
        notes=tuple(
            replace(
                note,
                hand=None if note.hand is None else other_hand(note.hand),
                graces=tuple(other_hand(hand) for hand in note.graces),
            )
            for note in exercise.notes
        ),
    )
    after = hear(mirrored, played.samples, played.rate_hz)
    assert [replace(h, hand=None) for h in after.hits] == [replace(h, hand=None) for h in before.hits]
    assert [h.hand for h in after.hits] == [other_hand(h.hand or "R") for h in before.hits]
    assert {h.hand for h in before.hits} == {"R", "L"}


def test_no_hit_is_heard_twice() -> None:
    """A note that is found at the second look is not heard besides it, too (a late player over a click)."""
    case = next(
        case
        for case in cases("ours", -6.0, SITUATIONS, 1)
        if (case.player, case.instrument, case.situation.pattern) == ("late", "snare", "") and not case.room
        if ">" in case.situation.exercise
    )
    samples, truth, _ = take_of(case)
    exercise, tempo = parse_exercise(case.situation.exercise), Tempo.parse(case.situation.tempo)
    heard = listen(samples.astype(np.float32), RATE_HZ, exercise=exercise, tempo=tempo)
    assert len(heard.hits) + len(heard.extra) == len(truth.hits)
