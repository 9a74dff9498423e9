"""What a filmed player does is what its truth says, and what raises a stick shows in how it rises."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from benchmarks.filming import FilmCase, Rises, StrokeTruth
from benchmarks.filming.case import Floats
from benchmarks.filming.playing import Played, play
from benchmarks.filming.shots import ACCENTS, DOUBLES, FAST, changed
from benchmarks.filming.stick import G_CM_S2

CASES = {
    "fulls": FilmCase(seed=1),
    "sixteenths": FilmCase(exercise="1/16: RLRL", tempo="1/4=120", seed=2),
    "accents": FilmCase(exercise="1/16: >RLRR >LRLL", tempo="1/4=60", seed=3, rises=Rises(0.3, 0.2)),
    "all heights": FilmCase(stroke="any", tempo="1/8=100", seconds=20, seed=4, rises=Rises(0.4, 0.3)),
    **{f"usual {seed}": changed(seed, {"seconds": 15.0}, {}) for seed in range(4)},
    **{f"fast {seed}": changed(seed, FAST, {}) for seed in (4, 39)},
    **{f"doubles {seed}": changed(seed, DOUBLES, {}) for seed in (46, 59)},
    **{f"accents {seed}": changed(seed, ACCENTS, {}) for seed in (15, 44)},
}


@pytest.fixture(params=list(CASES.values()), ids=list(CASES), scope="module")
def played(request: pytest.FixtureRequest) -> Played:
    return play(request.param)


def first_fall_from(tip: Floats) -> float:
    """Return the height from which a way that begins at the pad first falls by a millimetre."""
    highest = 0.0
    for height in tip.tolist():
        if height < highest - 0.1:
            break
        highest = max(highest, height)
    return highest


def ways(played: Played) -> Iterator[tuple[StrokeTruth, Floats, Floats, bool]]:
    """Give each stroke, the tip's heights since its hand's last and to its next, and whether that comes."""
    for hand, motion in played.motions.items():
        own = [stroke for stroke in played.strokes if stroke.hand == hand]
        at = np.searchsorted(motion.times_s, np.array([s.time_s for s in own]) - 1e-6).tolist()
        bounds = [0, *at, len(motion.times_s)]
        for i, stroke in enumerate(own):
            before, here, then = bounds[i : i + 3]
            yield stroke, motion.tip_cm[before : here + 1], motion.tip_cm[here : then + 1], i + 1 < len(own)


def test_a_tip_is_at_the_pad_when_it_strikes_and_never_below(played: Played) -> None:
    for _, before, _, _ in ways(played):
        assert before[-1] == pytest.approx(0, abs=0.01)
    assert min(motion.tip_cm.min() for motion in played.motions.values()) > -0.02


def test_a_tip_never_jumps(played: Played) -> None:
    """8 m/s is far above any throw."""
    assert max(np.abs(np.diff(motion.tip_cm)).max() for motion in played.motions.values()) < 0.4


def test_the_first_maximum_after_a_stroke_is_its_rebound(played: Played) -> None:
    for stroke, _, after, goes_on in ways(played):
        if goes_on:
            assert first_fall_from(after) == pytest.approx(stroke.rebound_cm, abs=0.02)


def test_the_last_maximum_before_a_stroke_is_its_preparation(played: Played) -> None:
    for stroke, before, _, _ in ways(played):
        assert first_fall_from(before[::-1]) == pytest.approx(stroke.preparation_cm, abs=0.02)


def test_the_tip_s_speeds_about_a_stroke_are_those_of_its_truth(played: Played) -> None:
    for stroke in played.strokes:
        motion = played.motions[stroke.hand]
        at = int(np.searchsorted(motion.times_s, stroke.time_s - 1e-6))
        speed = np.gradient(motion.tip_cm[at : at + 5], motion.times_s[at : at + 5])[0]
        before = np.gradient(motion.tip_cm[at - 4 : at + 1], motion.times_s[at - 4 : at + 1])[-1]
        assert -before == pytest.approx(stroke.striking_cm_s, rel=0.02)
        assert speed / -before == pytest.approx(stroke.restitution, rel=0.03)


def test_free_strokes_rise_as_high_as_their_speed_takes_them() -> None:
    """By the energy of its turning, I turn^2 / 2 = m g d up, v^2 / (2 g h) is reach over percussion, here 1.

    With fingers that do nothing; the hand's own way and the last strokes, which are cut off, are left out.
    """
    strokes = play(FilmCase(stroke="half", fingers=0.0, seconds=15, seed=1)).strokes[:-2]
    shares = [(s.striking_cm_s * s.restitution) ** 2 / (2 * G_CM_S2 * s.rebound_cm) for s in strokes]
    assert {s.rise for s in strokes} == {"free"}
    assert np.median(shares) == pytest.approx(1, abs=0.04)
    assert 0.9 < min(shares) < max(shares) < 1.1


def test_lifted_strokes_are_raised_by_the_hand() -> None:
    strokes = play(CASES["all heights"]).strokes
    of_speed = {
        rise: [
            (s.striking_cm_s * s.restitution) ** 2 / (2 * G_CM_S2 * s.rebound_cm)
            for s in strokes
            if s.rise == rise
        ]
        for rise in ("lifted", "mixed")
    }
    assert len(of_speed["lifted"]) > 5
    assert max(of_speed["lifted"]) < 0.5
    assert 0.3 < np.median(of_speed["mixed"]) < 0.8


def test_strokes_to_a_far_higher_one_are_up_strokes() -> None:
    strokes = play(CASES["accents"]).strokes
    own = [s for s in strokes if s.hand == "R"]
    ups = [s for s, then in pairwise(own) if then.kind == "full" and s.kind == "tap"]
    assert ups
    assert {s.rise for s in ups} == {"up"}


def test_the_same_seed_gives_the_same_playing_and_another_gives_another() -> None:
    case = CASES["fulls"]
    assert play(case).strokes == play(case).strokes
    assert play(case).strokes != play(replace(case, seed=9)).strokes


def test_the_classes_asked_for_are_played() -> None:
    for kind in ("tap", "half", "full"):
        strokes = play(FilmCase(stroke=kind, height_sd_cm=0.3, seconds=12)).strokes
        assert {s.kind for s in strokes} == {kind}
