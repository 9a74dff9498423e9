"""Faults by name."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from evenhand.errors import WrongUse
from evenhand.synthesis.faults import FAULTS, with_faults
from evenhand.synthesis.playing import Player


@pytest.mark.parametrize(
    ("text", "changed"),
    [
        ("weak-hand=L:4", {"level_db": {"R": 0, "L": -4}}),
        ("late-hand=L:9", {"late_ms": {"R": 0, "L": 9}}),
        ("early-hand=R:3.5", {"late_ms": {"R": -3.5, "L": 0}}),
        ("wandering-hand=R:11", {"hand_sd_ms": {"R": 11, "L": 3}}),
        ("weak-second=4", {"second_db": -4}),
        ("crushed-second=12", {"second_late_ms": -12}),
        ("late-second=12", {"second_late_ms": 12}),
        ("rough-level=3", {"level_sd_db": 3}),
        ("flat-accents=2", {"accent_db": 2}),
        ("hurrying=6", {"drift_bpm_per_min": 6, "follow_click": False}),
        ("dragging=6", {"drift_bpm_per_min": -6, "follow_click": False}),
        ("off-tempo=-8", {"tempo_ratio": 0.92}),
        ("tiring", {"fatigue_spread": 2.5, "fatigue_db": 2.5}),
        ("missed=0.03", {"miss_rate": 0.03}),
        ("extra=0.1", {"extra_rate": 0.1}),
        ("flam-gap=50", {"grace_gap_ms": 50}),
        ("stop", {"stops": ((2, 2, 1.5),)}),
        ("stop=3:1:0.5", {"stops": ((3, 1, 0.5),)}),
        ("begins-at=3", {"start_position": 3}),
    ],
)
def test_a_fault_changes_the_player_as_its_name_says(text: str, changed: dict[str, Any]) -> None:
    assert with_faults(Player(), [text]) == replace(Player(), **changed)


def test_faults_add_up() -> None:
    player = with_faults(Player(), ["late-hand=L:9", "weak-hand=L:4", "stop", "stop=4:1:1"])
    assert player.late_ms["L"] == 9
    assert player.level_db["L"] == -4
    assert player.stops == ((2, 2, 1.5), (4, 1, 1.0))


@pytest.mark.parametrize("name", FAULTS)
def test_every_fault_has_a_usual_size_and_refuses_nonsense(name: str) -> None:
    assert with_faults(Player(), [name]) != Player()
    with pytest.raises(WrongUse, match=f"fault {name}: got 'x'; must be .*such as {name}="):
        with_faults(Player(), [f"{name}=x"])


@pytest.mark.parametrize(
    "text", ["weak-second=-4", "missed=1.5", "off-tempo=400", "tiring=0.5", "weak-hand=X:3", "hurrying=inf"]
)
def test_sizes_out_of_range_are_refused(text: str) -> None:
    with pytest.raises(WrongUse, match="must be"):
        with_faults(Player(), [text])


def test_an_unknown_name_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(WrongUse, match="got 'lazy'; must be one of weak-hand, late-hand"):
        with_faults(Player(), ["lazy"])
