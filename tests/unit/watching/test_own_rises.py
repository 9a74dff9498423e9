"""A player's own free and lifted strokes set where the index turns, or are refused where they overlap."""

from __future__ import annotations

import numpy as np

from evenhand.watching.own_rises import NotFitted, fit_lift_scale
from evenhand.watching.peaks import lift_index, rise_kind
from evenhand.watching.values import LiftParts, LiftScale


def strokes(half: float, energy: float, at_30_ms: float, n: int = 20, seed: int = 1) -> list[LiftParts]:
    rng = np.random.default_rng(seed)
    return [
        LiftParts(half + rng.normal(0, 0.02), energy + rng.normal(0, 0.05), at_30_ms + rng.normal(0, 0.04))
        for _ in range(n)
    ]


DAMPED = strokes(0.58, 0.62, 0.72)  # a player whose free strokes look half lifted to the common scale


def test_a_player_whose_free_strokes_look_lifted_is_fitted() -> None:
    lifted = strokes(0.45, 0.15, 0.3, seed=2)
    assert "free" not in {rise_kind(lift_index(each)) for each in DAMPED}
    scale = fit_lift_scale(DAMPED, lifted)
    assert isinstance(scale, LiftScale)
    assert (scale.n_free, scale.n_lifted) == (20, 20)
    assert scale.told_apart is not None
    assert scale.told_apart > 0.97
    own = [rise_kind(lift_index(each, scale)) for each in DAMPED]
    assert own.count("free") >= 16
    assert "lifted" not in own
    assert [rise_kind(lift_index(each, scale)) for each in lifted].count("lifted") >= 16


def test_kinds_that_overlap_are_not_fitted() -> None:
    found = fit_lift_scale(DAMPED, strokes(0.575, 0.6, 0.7, seed=3))
    assert isinstance(found, NotFitted)
    assert found.told_apart is not None
    assert found.told_apart < 0.9


def test_kinds_that_are_the_wrong_way_round_are_not_fitted() -> None:
    assert isinstance(fit_lift_scale(strokes(0.45, 0.15, 0.3), DAMPED), NotFitted)


def test_too_few_strokes_are_not_fitted() -> None:
    found = fit_lift_scale(DAMPED[:11], strokes(0.45, 0.15, 0.3))
    assert found == NotFitted(11, 20, None)
    assert fit_lift_scale([*DAMPED[:11], LiftParts()], []) == NotFitted(11, 0, None)
