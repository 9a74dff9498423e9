"""What a filmed player does is what its truth says, and what raises a stick shows in how it rises."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from benchmarks.filming import FilmCase, Rises, StrokeTruth
from benchmarks.filming.case import Floats
from benchmarks.filming.playing import Motion, Played, play
from benchmarks.filming.stick import G_CM_S2

CASES = {
    "fulls": FilmCase(seed=1),
    "sixteenths": FilmCase(exercise="1/16: RLRL", tempo="1/4=120", seed=2),
    "accents": FilmCase(exercise="1/16: >RLRR >LRLL", tempo="1/4=60", seed=3, rises=Rises(0.3, 0.2)),
    "all heights": FilmCase(stroke="any", tempo="1/8=100", seconds=20, seed=4, rises=Rises(0.4, 0.3)),
}


@pytest.fixture(params=list(CASES.values()), ids=list(CASES), scope="module")
def played(request: pytest.FixtureRequest) -> Played:
    return play(request.param)


def after(motion: Motion, stroke: StrokeTruth) -> tuple[Floats, Floats]:
    """Return times since a stroke, and the tip's heights from it on to the next turn at the pad."""
    first = int(np.searchsorted(motion.times_s, stroke.time_s - 1e-6))
    tip = motion.tip_cm[first : first + 6000]
    low = np.flatnonzero(tip[5:] < 0.05)
    last = 5 + int(low[0]) if len(low) else len(tip)
    return motion.times_s[first : first + last] - stroke.time_s, tip[:last]


def test_a_tip_is_at_the_pad_when_it_strikes_and_never_below(played: Played) -> None:
    for hand, motion in played.motions.items():
        own = np.array([stroke.time_s for stroke in played.strokes if stroke.hand == hand])
        assert np.interp(own, motion.times_s, motion.tip_cm) == pytest.approx(0, abs=0.01)
        assert motion.tip_cm.min() > -0.01


def test_the_first_maximum_after_a_stroke_is_its_rebound(played: Played) -> None:
    for stroke in played.strokes:
        _, tip = after(played.motions[stroke.hand], stroke)
        turn = int(np.argmax(np.diff(tip) <= 1e-9))
        assert tip[turn] == pytest.approx(stroke.rebound_cm, abs=0.02)


def test_the_last_maximum_before_a_stroke_is_its_preparation(played: Played) -> None:
    for stroke in played.strokes:
        motion = played.motions[stroke.hand]
        end = int(np.searchsorted(motion.times_s, stroke.time_s - 1e-6))
        back = motion.tip_cm[: end + 1][::-1]
        turn = int(np.argmax(np.diff(back) <= 1e-9))
        assert back[turn] == pytest.approx(stroke.preparation_cm, abs=0.02)


def test_the_tip_s_speeds_about_a_stroke_are_those_of_its_truth(played: Played) -> None:
    for stroke in played.strokes:
        motion = played.motions[stroke.hand]
        at = int(np.searchsorted(motion.times_s, stroke.time_s - 1e-6))
        speed = np.gradient(motion.tip_cm[at : at + 5], motion.times_s[at : at + 5])[0]
        before = np.gradient(motion.tip_cm[at - 4 : at + 1], motion.times_s[at - 4 : at + 1])[-1]
        assert -before == pytest.approx(stroke.striking_cm_s, rel=0.02)
        assert speed / -before == pytest.approx(stroke.restitution, rel=0.03)


def test_free_strokes_rise_as_high_as_their_speed_takes_them(played: Played) -> None:
    """v^2 / (2 g h) is 1; the fingers may carry or brake a tenth, and the hand moves."""
    free = [stroke for stroke in played.strokes if stroke.rise == "free"]
    shares = [(s.striking_cm_s * s.restitution) ** 2 / (2 * G_CM_S2 * s.rebound_cm) for s in free]
    assert np.median(shares) == pytest.approx(1, abs=0.1)
    assert 0.8 < min(shares) < max(shares) < 1.25


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
